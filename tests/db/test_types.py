"""What goes into a column comes out of it, on both databases."""

from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import select, text
from sqlalchemy.dialects import sqlite
from sqlalchemy.exc import IntegrityError, StatementError
from sqlalchemy.orm import Session

from db.models import Change, Destination, Machine, Part, Quote, StoredAnswer
from db.types import ExactDecimal, UtcDateTime
from fitworth.vocabulary import Action


def test_a_moment_without_a_zone_is_refused(shelf: Any) -> None:
    with pytest.raises(StatementError, match="time zone"):
        shelf.session.execute(select(Part).where(Part.created_at == datetime(2026, 11, 25)))  # noqa: DTZ001


def test_a_decimal_that_is_no_number_is_refused(shelf: Any) -> None:
    with pytest.raises(StatementError, match="finite"):
        shelf.session.execute(select(Destination).where(Destination.sales_tax == Decimal("NaN")))


@pytest.mark.parametrize("value", [None])
def test_nothing_stays_nothing(value: None) -> None:
    dialect = sqlite.dialect()
    for kind in (UtcDateTime(), ExactDecimal()):
        assert kind.process_bind_param(value, dialect) is None
        assert kind.process_result_value(value, dialect) is None


def test_a_moment_of_any_zone_comes_out_in_utc(shelf: Any, now: datetime) -> None:
    east = now.astimezone(timezone(timedelta(hours=5, minutes=30)))
    change = Change(
        at=east, actor="Ostler", resource="parts", resource_id=1, version=1, action=Action.CREATE, revision=1
    )
    found = stored_again(shelf.session, change)
    assert found.at == now
    assert found.at.tzinfo is UTC


@pytest.mark.parametrize(
    "digits", ["1.0842", "0.10", "1E-7", "123456789012345678901234567890.123456789", "-0.5", "1E+3"]
)
def test_a_decimal_keeps_every_digit(shelf: Any, digits: str) -> None:
    place = Destination(name="the library", country="US", currency="USD", sales_tax=Decimal(digits))
    found = stored_again(shelf.session, shelf.add(place))
    assert found.sales_tax == Decimal(digits)
    assert format(found.sales_tax, "f") == format(Decimal(digits), "f")


def test_large_amounts_letters_and_absent_values_come_out_as_they_went_in(shelf: Any) -> None:
    name = "Rasenmäher „TL-07“ 芝刈り機 🔧 \u0301 ' \" \\ %"
    machine = stored_again(
        shelf.session,
        shelf.add(Machine(name=name, currency="JPY", worth_running_minor=2**63 - 1, seasons=0.1)),
    )
    assert (machine.name, machine.worth_running_minor, machine.seasons) == (name, 2**63 - 1, 0.1)
    assert (machine.worth_as_is_minor, machine.engine, machine.history_known) == (None, None, None)


def test_dimensions_come_out_in_the_order_in_which_they_went_in(shelf: Any) -> None:
    dimensions = {
        "venturi_diameter": {"value": 15.4, "unit": "mm", "plus_minus": 0.05, "as_entered": "15,4 mm ⅝"},
        "primer": "none",
        "gasket_set": ["mounting_gasket"],
        "body_length": {"value": 0.1 + 0.2, "unit": "mm", "plus_minus": None, "as_entered": ""},
        "stop_diode": True,
    }
    part = stored_again(shelf.session, shelf.part(dimensions=dimensions, packed=b"\x00\xff" * 40))
    assert list(part.dimensions.items()) == list(dimensions.items())
    assert part.packed == b"\x00\xff" * 40


def test_an_empty_box_is_not_the_same_as_an_inherited_one(shelf: Any) -> None:
    part, supplier = shelf.part(), shelf.supplier()
    empty = stored_again(shelf.session, shelf.quote(part, supplier, includes=[]))
    inherited = stored_again(shelf.session, shelf.quote(part, supplier, includes=None))
    assert (empty.includes, inherited.includes) == ([], None)
    absent = select(Quote.id).where(Quote.includes.is_(None))
    assert shelf.session.scalars(absent).all() == [inherited.id]


def test_a_row_that_refers_to_nothing_is_refused(shelf: Any) -> None:
    part = shelf.part()
    with pytest.raises(IntegrityError):
        shelf.add(Quote(part_id=part.id, supplier_id=part.id + 1000, price_minor=1, currency="USD"))


@pytest.mark.parametrize(
    ("table", "change"),
    [
        ("machine", "hours_per_season = -1"),
        ("machine", "currency = 'US'"),
        ("machine", "version = 0"),
        ("quote", "price_minor = -1"),
        ("quote", "condition = 'shiny'"),
        ("part", "grade = 'OEM'"),
        ("exchange_rate", "quote = base"),
        ("catalogue_revision", "id = 2"),
    ],
)
def test_a_value_out_of_range_is_refused_by_the_database_itself(shelf: Any, table: str, change: str) -> None:
    shelf.quote(shelf.part(), shelf.supplier())
    shelf.job()
    shelf.rate(Decimal("1.08"), datetime(2026, 11, 1, tzinfo=UTC).date())
    with pytest.raises(IntegrityError):
        shelf.session.execute(text(f"UPDATE {table} SET {change}"))


def test_an_answer_keeps_its_bytes(shelf: Any, now: datetime) -> None:
    answer = StoredAnswer(
        key="k",
        target="POST /v1/parts",
        body_sha256="0" * 64,
        status=201,
        headers={"etag": '"1"'},
        body=b"\x00",
        at=now,
    )
    found = stored_again(shelf.session, answer)
    assert (found.body, found.headers) == (b"\x00", {"etag": '"1"'})


def stored_again(session: Session, record: Any) -> Any:
    """Return a row as the database gives it back."""
    session.add(record)
    session.flush()
    session.expire(record)
    session.refresh(record)
    return record
