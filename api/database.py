"""The database as the service and the command line open it: up to date, with its two kinds of sessions."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Engine
from sqlalchemy.orm import Session, sessionmaker

from api.services.call import Call
from api.services.fits import FitService
from api.services.knowledge import Knowledge
from api.settings import Settings
from db.migrate import upgrade
from db.session import make_engine, make_session_factory

ACTOR = "local"  # without keys, everybody on this machine is one


@dataclass(frozen=True, slots=True)
class Database:
    """An open database; `backup` is the copy that was made of an older file before its upgrade."""

    engine: Engine
    readers: sessionmaker[Session]
    writers: sessionmaker[Session]
    backup: Path | None


@contextmanager
def open_database(settings: Settings) -> Iterator[Database]:
    """Yield the database of the settings, made or upgraded where that is needed.

    Raises:
        StoreError: the settings name no database that this program can use.
    """
    engine = make_engine(settings.database_url)
    try:
        backup = upgrade(engine)
        readers, writers = (make_session_factory(engine, writer=writer) for writer in (False, True))
        yield Database(engine, readers, writers, backup)
    finally:
        engine.dispose()


@contextmanager
def open_call(
    sessions: sessionmaker[Session], knowledge: Knowledge, fits: FitService | None = None
) -> Iterator[Call]:
    """Yield a call in a transaction that commits where nothing was raised."""
    with sessions.begin() as session:
        yield Call(session, datetime.now(UTC), ACTOR, knowledge, fits)
