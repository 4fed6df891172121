"""Engines and sessions: SQLite for one place, PostgreSQL for a service of several machines."""

import json
import sqlite3
from types import ModuleType
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, make_url
from sqlalchemy.engine import URL
from sqlalchemy.exc import ArgumentError
from sqlalchemy.orm import Session, sessionmaker

from db.errors import DatabaseUrlError

BUSY_TIMEOUT_MS = 5000

SQLITE_SETTINGS = (
    "PRAGMA journal_mode = WAL",  # readers go on while somebody writes
    "PRAGMA synchronous = FULL",  # what was acknowledged outlives a power cut
    "PRAGMA foreign_keys = ON",
    f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}",
    "PRAGMA trusted_schema = OFF",
)

WRITER = "writer"  # the execution option that marks a connection's transactions as writing

# Numbers that JSON does not have are refused: PostgreSQL would do so later, SQLite would keep them.
write_json = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode


def find_sqlite_driver() -> ModuleType:
    """Return the SQLite driver: pysqlite3 where its wheel is installed, else the one of this Python.

    The SQLite that stock Pythons link can damage a file in WAL mode when several connections write (mended
    in SQLite 3.51.3); the wheel carries a later one.
    """
    try:
        import pysqlite3.dbapi2  # noqa: PLC0415 - absent on platforms without its wheel
    except ImportError:
        return sqlite3
    driver: ModuleType = pysqlite3.dbapi2
    return driver


def make_engine(url: str | URL) -> Engine:
    """Return an engine for a SQLite file or a PostgreSQL database.

    Raises:
        DatabaseUrlError: the URL cannot be read, names another kind of database, or one in memory only.
    """
    try:
        parsed = make_url(url)
    except ArgumentError as error:
        raise DatabaseUrlError(
            "The database URL cannot be read; write sqlite:////folder/file.sqlite or postgresql://user@host/name."
        ) from error
    backend = parsed.get_backend_name()
    if backend == "sqlite":
        return _make_sqlite_engine(parsed)
    if backend == "postgresql":
        return _make_postgres_engine(parsed)
    raise DatabaseUrlError(f"Records are kept in sqlite or postgresql, not in {backend}.")


def make_session_factory(engine: Engine, *, writer: bool) -> sessionmaker[Session]:
    """Return a factory of sessions that may write, or of sessions that only read one consistent state.

    A writer takes SQLite's write lock as it begins, so that it waits its turn instead of failing half-way.
    A reader sees the same state from its first query to its last, and a write through it fails.
    """
    bound: Engine = engine
    if writer:
        bound = engine.execution_options(**{WRITER: True})
    elif engine.dialect.name == "postgresql":
        bound = engine.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)
    return sessionmaker(bind=bound, expire_on_commit=False)


def _make_sqlite_engine(url: URL) -> Engine:
    """Return an engine whose transactions are begun by us and not guessed by the driver."""
    if not url.database or ":memory:" in url.database or url.query.get("mode") == "memory":
        raise DatabaseUrlError("A database in memory is lost with its connection; name a file.")
    engine = create_engine(url, module=find_sqlite_driver(), json_serializer=write_json)
    event.listen(engine, "connect", _set_up_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _set_up_sqlite(connection: Any, record: Any) -> None:
    """Apply the settings; None as isolation level stops the driver from beginning transactions by itself."""
    del record
    connection.isolation_level = None
    for setting in SQLITE_SETTINGS:
        connection.execute(setting).close()


def _begin_sqlite(connection: Connection) -> None:
    """Begin a transaction: a writer takes the lock now, a reader cannot write at all.

    A deferred transaction that turns to writing later is refused at once, timeout or not, when somebody
    else wrote in the meantime.
    """
    writer = bool(connection.get_execution_options().get(WRITER))
    if connection.info.get(WRITER) is not writer:
        connection.exec_driver_sql(f"PRAGMA query_only = {'OFF' if writer else 'ON'}")
        connection.info[WRITER] = writer
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writer else "BEGIN")


def _make_postgres_engine(url: URL) -> Engine:
    """Return an engine that notices a server's restart."""
    try:
        return create_engine(url, json_serializer=write_json, pool_pre_ping=True)
    except ImportError as error:
        raise DatabaseUrlError(
            "PostgreSQL needs its driver: install the project with the extra named postgres."
        ) from error
