"""How commands open the database: as the service does, with the same families on hand."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from api.commands.refusals import read_settings
from api.commands.screen import notes
from api.database import Database, open_call, open_database
from api.schemas.context import reading_with
from api.services.call import Call
from api.services.knowledge import Knowledge, load_knowledge
from api.settings import Settings


@dataclass(frozen=True, slots=True)
class Opened:
    """An open database and what is known besides it."""

    database: Database
    knowledge: Knowledge

    @contextmanager
    def reading(self) -> Iterator[Call]:
        """Yield a call that only reads."""
        with open_call(self.database.readers, self.knowledge) as call:
            yield call


@contextmanager
def opened(settings: Settings | None = None) -> Iterator[Opened]:
    """Yield the database of the settings; it is made, or upgraded after a backup, where that is needed."""
    settings = settings or read_settings()
    knowledge = load_knowledge(settings.families_dir)
    with open_database(settings) as database, reading_with(knowledge.families):
        if database.backup is not None:
            notes().print(f"The database was upgraded; as it was before, it lies in {database.backup}.")
        yield Opened(database, knowledge)


@contextmanager
def reading() -> Iterator[Call]:
    """Yield a call that reads from the database of the settings."""
    with opened() as here, here.reading() as call:
        yield call
