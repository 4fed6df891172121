"""Quotes: which can be taken on a day, and which cover a need."""

from datetime import date, datetime
from typing import Any

import pytest
from sqlalchemy.exc import InvalidRequestError

from db import quotes, records

TODAY = date(2026, 11, 25)


@pytest.mark.parametrize(
    "terms",
    [{"valid_until": date(2026, 11, 24)}, {"seen_on": date(2026, 11, 26)}],
    ids=["expired", "not yet seen"],
)
def test_a_quote_that_cannot_be_taken_on_the_day_is_no_offer(shelf: Any, terms: dict[str, date]) -> None:
    part = shelf.part(includes=["mounting_gasket"])
    shelf.quote(part, shelf.supplier(), **terms)
    assert quotes.list_offers_for_needs(shelf.session, ["mounting_gasket"], on=TODAY) == []


@pytest.mark.parametrize("which", ["quote", "supplier", "part"])
def test_nothing_deleted_is_offered(shelf: Any, which: str, now: datetime) -> None:
    session, part, supplier = shelf.session, shelf.part(includes=["fuel_hose"]), shelf.supplier()
    quote = shelf.quote(part, supplier)
    gone = {"quote": quote, "supplier": supplier, "part": part}[which]
    records.soft_delete(session, gone, now=now, revision=records.next_revision(session))
    assert quotes.list_offers_for_needs(session, ["fuel_hose"], on=TODAY) == []
    assert quotes.list_quotes_for_parts(session, [part.id]) == []


def test_what_was_not_loaded_is_not_fetched_behind_the_scenes(shelf: Any) -> None:
    quote = shelf.quote(shelf.part(), shelf.supplier())
    with pytest.raises(InvalidRequestError, match="raise"):
        _ = quote.supplier


def test_quotes_of_parts_come_with_their_supplier_and_part(shelf: Any) -> None:
    part, other, supplier = shelf.part("1-1"), shelf.part("1-2"), shelf.supplier()
    wanted = [
        shelf.quote(part, supplier, valid_until=TODAY, seen_on=TODAY),
        shelf.quote(part, shelf.supplier("Brackwell Post"), seen_on=None),
    ]
    shelf.quote(other, supplier)
    shelf.session.expire_all()
    found = quotes.list_quotes_for_parts(shelf.session, [part.id, part.id])
    assert found == wanted
    assert [(quote.supplier.name, quote.part.number) for quote in found] == [
        ("Vennor Direct", "1-1"),
        ("Brackwell Post", "1-1"),
    ]


def test_a_need_is_covered_by_the_quote_s_box_and_else_by_the_part_s(shelf: Any) -> None:
    kit, bare, supplier = (
        shelf.part("1-1", includes=["mounting_gasket", "fuel_hose"]),
        shelf.part("1-2"),
        shelf.supplier(),
    )
    inherits = shelf.quote(kit, supplier)
    shelf.quote(kit, supplier, includes=[])
    shelf.quote(bare, supplier)
    own = shelf.quote(bare, supplier, includes=["fuel_hose", "fuel_hose"])
    session = shelf.session
    assert quotes.list_offers_for_needs(session, ["fuel_hose"], on=TODAY) == [inherits, own]
    assert quotes.list_offers_for_needs(session, ["mounting_gasket"], on=TODAY) == [inherits]
    assert quotes.list_offers_for_needs(session, ["mounting_gasket", "fuel_hose"], on=TODAY) == [
        inherits,
        own,
    ]
    assert quotes.list_offers_for_needs(session, ["bowl_gasket"], on=TODAY) == []
    assert quotes.list_offers_for_needs(session, [], on=TODAY) == []


def test_a_quote_s_box_can_be_changed(shelf: Any, now: datetime) -> None:
    session = shelf.session
    quote = shelf.quote(shelf.part(), shelf.supplier(), includes=["fuel_hose"])
    quote.includes = ["bowl_gasket"]
    records.touch(session, quote, now=now, revision=records.next_revision(session))
    quotes.set_quote_details(session, quote)
    assert quotes.list_offers_for_needs(session, ["fuel_hose"], on=TODAY) == []
    assert quotes.list_offers_for_needs(session, ["bowl_gasket"], on=TODAY) == [quote]


def test_quotes_of_parts_and_of_a_family_come_with_expired_ones_and_without_deleted_ones(
    shelf: Any, now: datetime
) -> None:
    session, part, kit, supplier = (
        shelf.session,
        shelf.part(),
        shelf.part("K-19", family="rebuild_kit"),
        shelf.supplier(),
    )
    wanted = [shelf.quote(part, supplier), shelf.quote(part, supplier, valid_until=date(2025, 1, 1))]
    gone, of_kit = shelf.quote(part, supplier), shelf.quote(kit, supplier)
    records.soft_delete(session, gone, now=now, revision=records.next_revision(session))
    session.expire_all()
    assert quotes.list_quotes_for_parts(session, [part.id]) == wanted
    assert quotes.list_quotes_for_family(session, "carburetor") == wanted
    assert [quote.part.number for quote in quotes.list_quotes_for_family(session, "rebuild_kit")] == ["K-19"]
    assert quotes.list_quotes_for_parts(session, [kit.id]) == [of_kit]
    assert quotes.list_quotes_for_parts(session, []) == []
