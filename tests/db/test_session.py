"""Engines and sessions: what is refused, what is set, who waits for whom."""

import sqlite3
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from typing import Any

import pytest
from sqlalchemy import Engine, func, select, text
from sqlalchemy.exc import DBAPIError, StatementError
from sqlalchemy.orm import Session
from sqlalchemy.orm.exc import StaleDataError

from db import records
from db.errors import DatabaseUrlError
from db.models import Machine, Supplier
from db.session import find_sqlite_driver, make_engine, make_session_factory, write_json


@pytest.mark.parametrize(
    "url",
    [
        "sqlite://",
        "sqlite:///:memory:",
        "sqlite:///file:x?mode=memory&uri=true",
        "sqlite:///file::memory:?uri=true",
    ],
)
def test_a_database_in_memory_is_refused(url: str) -> None:
    with pytest.raises(DatabaseUrlError, match="name a file"):
        make_engine(url)


@pytest.mark.parametrize("url", ["nonsense", "mysql://host/name", ""])
def test_a_url_of_no_usable_database_is_refused(url: str) -> None:
    with pytest.raises(DatabaseUrlError, match="sqlite"):
        make_engine(url)


def test_a_missing_postgresql_driver_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "psycopg", None)
    with pytest.raises(DatabaseUrlError, match="extra named postgres"):
        make_engine("postgresql://somebody@localhost/somewhere")


def test_a_number_that_json_does_not_have_is_refused(session: Session, now: datetime) -> None:
    supplier = Supplier(name="Vennor", country="US", currency="USD", returns={"days": float("nan")})
    with pytest.raises((StatementError, ValueError), match="JSON compliant"):
        records.add_record(session, supplier, now=now, revision=1)


def test_a_reader_cannot_write(own_engine: Engine, now: datetime) -> None:
    with (
        make_session_factory(own_engine, writer=False)() as reader,
        pytest.raises(DBAPIError, match=r"(?i)read-?only"),
    ):
        records.next_revision(reader)
    with make_session_factory(own_engine, writer=True).begin() as writer:
        assert records.next_revision(writer) == 1, "the same connection writes again once a writer has it"


def test_a_reader_sees_one_state_from_its_first_query_on(own_engine: Engine) -> None:
    with make_session_factory(own_engine, writer=False)() as reader:
        assert records.get_revision(reader) == 0
        with make_session_factory(own_engine, writer=True).begin() as writer:
            records.next_revision(writer)
        assert records.get_revision(reader) == 0
    with make_session_factory(own_engine, writer=False)() as later:
        assert records.get_revision(later) == 1


def test_rows_of_a_rolled_back_transaction_are_gone(own_engine: Engine, now: datetime) -> None:
    factory = make_session_factory(own_engine, writer=True)
    with factory() as session:
        records.add_record(session, machine("GN-03"), now=now, revision=records.next_revision(session))
        session.rollback()
    with factory() as session:
        assert session.scalar(select(func.count()).select_from(Machine)) == 0
        assert records.get_revision(session) == 0


def test_rows_of_a_test_do_not_leak_into_the_next(session: Session, shelf: Any, engine: Engine) -> None:
    shelf.part("BK-208")
    session.commit()
    with engine.connect() as other:
        assert other.scalar(text("SELECT count(*) FROM part")) == 0


def test_sqlite_runs_with_the_settings_that_keep_acknowledged_writes(sqlite_engine: Engine) -> None:
    wanted = {
        "journal_mode": "wal",
        "synchronous": 2,
        "foreign_keys": 1,
        "busy_timeout": 5000,
        "trusted_schema": 0,
    }
    with sqlite_engine.connect() as connection:
        found = {name: connection.scalar(text(f"PRAGMA {name}")) for name in wanted}
    assert found == wanted


def test_the_standard_driver_serves_where_the_other_is_absent(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pysqlite3", None)
    assert find_sqlite_driver() is sqlite3


def test_json_keeps_large_numbers_letters_and_the_order_of_keys() -> None:
    assert write_json({"b": 2**80, "a": "Schlüssel ⅝ in"}) == f'{{"b":{2**80},"a":"Schlüssel ⅝ in"}}'


def test_eight_writers_at_once_lose_no_update_and_are_never_locked_out(
    own_engine: Engine, now: datetime
) -> None:
    factory = make_session_factory(own_engine, writer=True)
    with factory.begin() as session:
        record = records.add_record(session, machine("0"), now=now, revision=records.next_revision(session))
    edits = 25

    def edit_many(_: int) -> None:
        for _ in range(edits):
            with factory.begin() as session:
                revision = records.next_revision(session)
                found = records.find_record(session, Machine, record.id)
                assert found is not None
                found.name = str(int(found.name) + 1)
                records.touch(session, found, now=now, revision=revision)

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(edit_many, range(8)))
    with factory() as session:
        stored = session.get_one(Machine, record.id)
        assert (stored.name, stored.version, stored.revision) == ("200", 201, 201)


def test_an_edit_of_a_stale_copy_fails(own_engine: Engine, now: datetime) -> None:
    factory = make_session_factory(own_engine, writer=True)
    with factory.begin() as session:
        stale = records.add_record(
            session, machine("PU-11"), now=now, revision=records.next_revision(session)
        )
    with factory.begin() as session:
        fresh = session.get_one(Machine, stale.id)
        records.touch(session, fresh, now=now, revision=records.next_revision(session))
    with factory() as session:
        session.add(stale)
        stale.name = "an edit made too late"
        with pytest.raises(StaleDataError):
            records.touch(session, stale, now=now, revision=3)


def test_reading_goes_on_while_somebody_writes(
    own_engine: Engine, open_engine: Callable[[str], Engine]
) -> None:
    with make_session_factory(own_engine, writer=True).begin() as writer:
        records.next_revision(writer)
        with make_session_factory(own_engine, writer=False)() as reader:
            assert records.get_revision(reader) == 0


def machine(name: str) -> Machine:
    return Machine(name=name, currency="USD")
