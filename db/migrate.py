"""Bringing a database to the schema of this program, and telling whether it is there and sound."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from alembic.util import CommandError
from sqlalchemy import Connection, Engine, inspect, text

from db.backup import copy_sqlite, sqlite_file
from db.base import Base
from db.errors import ForeignDatabaseError, NewerDatabaseError
from db.models import CatalogueRevision
from db.session import WRITER

PROJECT_FILE = Path(__file__).resolve().parent.parent / "pyproject.toml"
AUDIT_GUARDS = {
    "sqlite": "SELECT count(*) = 2 FROM sqlite_schema WHERE type = 'trigger' AND tbl_name = 'change'",
    "postgresql": "SELECT count(*) = 1 FROM pg_trigger WHERE tgname = 'change_is_append_only'",
}
UPGRADE_LOCK = 6_170_823  # own choice: the number under which upgrades on PostgreSQL wait for each other


def head() -> str:
    """Return the revision of the schema that this program works with."""
    newest = _scripts().get_current_head()
    if newest is None:
        raise LookupError("There are no migrations.")
    return newest


def current(engine: Engine) -> str | None:
    """Return the revision of a database's schema; None where nothing was made yet."""
    file = sqlite_file(engine)
    if file is not None and not file.exists():
        return None  # asking must not make an empty file
    with engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision()


def upgrade(engine: Engine) -> Path | None:
    """Bring a database to `head()`; return the backup that was made of an older SQLite file.

    The upgrade is one transaction: it happens whole or not at all.

    Raises:
        NewerDatabaseError: a newer program made the schema.
        ForeignDatabaseError: there are tables, and not ours.
    """
    file = sqlite_file(engine)
    if file is not None:
        file.parent.mkdir(parents=True, exist_ok=True)
    before = current(engine)
    refuse_unknown(engine, before)
    if before == head():
        return None
    backup = None
    if file is not None and before is not None:
        backup = free_name(file.with_name(f"{file.stem}.before-upgrade-from-{before}{file.suffix}"))
        copy_sqlite(file, backup)
    move(engine, "head")
    return backup


def move(engine: Engine, revision: str) -> None:
    """Take a database to a revision, up or down; "base" is before the first, where no row is left."""
    with schema_connection(engine) as connection:
        config = _config(connection)
        if revision == "base" or _is_below(
            revision, MigrationContext.configure(connection).get_current_revision()
        ):
            command.downgrade(config, revision)
        else:
            command.upgrade(config, revision)


def check(engine: Engine) -> tuple[str, ...]:
    """Return what is wrong with a database, a sentence each; empty where it is sound and up to date."""
    before = current(engine)
    refuse_unknown(engine, before)
    if before != head():
        return (
            f"The schema is at {before or 'nothing'}, the program works with {head()}: upgrade the database.",
        )
    found: list[str] = []
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        found += [
            f"The schema differs from the program's: {line}"
            for line in compare_metadata(context, Base.metadata)
        ]
        if connection.scalar(text("SELECT count(*) FROM catalogue_revision")) != 1:
            found.append(f"{CatalogueRevision.__tablename__} must have one row.")
        if not connection.scalar(text(AUDIT_GUARDS[engine.dialect.name])):
            found.append("The guard of the audit trail is missing: its lines could be altered.")
        if engine.dialect.name == "sqlite":
            found += _damage(connection)
    return tuple(found)


def refuse_unknown(engine: Engine, revision: str | None) -> None:
    """Raise where a database's schema is not one that this program knows the way from."""
    file = sqlite_file(engine)
    if file is not None and not file.exists():
        return
    if revision is None:
        tables = inspect(engine).get_table_names()
        if tables:
            raise ForeignDatabaseError(
                f"The database holds tables of something else, {min(tables)} for one; name another database."
            )
        return
    try:
        _scripts().get_revision(revision)
    except CommandError as error:
        raise NewerDatabaseError(
            f"A newer version of the program has upgraded this database (to {revision}); "
            "use that version, or restore the backup made before the upgrade."
        ) from error


@contextmanager
def schema_connection(engine: Engine) -> Iterator[Connection]:
    """Yield a connection in one transaction that may change the schema, and that others wait for."""
    with engine.execution_options(**{WRITER: True}).connect() as connection:
        sqlite = engine.dialect.name == "sqlite"
        if sqlite:
            # Changing a table on SQLite means to copy and drop it, which must not touch rows that refer to
            # it. The setting has no effect inside a transaction, so it goes to the driver before ours begins.
            connection.connection.cursor().execute("PRAGMA foreign_keys = OFF")
        try:
            with connection.begin():
                if engine.dialect.name == "postgresql":
                    connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": UPGRADE_LOCK})
                yield connection
        finally:
            if sqlite:
                connection.connection.cursor().execute("PRAGMA foreign_keys = ON")


def free_name(wanted: Path) -> Path:
    """Return a path where there is no file yet: the wanted one, or with -2, -3, ... after its stem."""
    path, count = wanted, 1
    while path.exists():
        count += 1
        path = wanted.with_name(f"{wanted.stem}-{count}{wanted.suffix}")
    return path


def _damage(connection: Connection) -> list[str]:
    """List what SQLite finds wrong with its own file."""
    found = [
        f"The file is damaged: {row[0]}"
        for row in connection.execute(text("PRAGMA quick_check"))
        if row[0] != "ok"
    ]
    found += [
        f"Row {row[1]} of {row[0]} refers to a row of {row[2]} that is not there."
        for row in connection.execute(text("PRAGMA foreign_key_check"))
    ]
    return found


def _is_below(revision: str, present: str | None) -> bool:
    """Return whether a revision lies on the way down from the present one."""
    if present is None or revision == "head":
        return False
    return revision != present and any(
        step.revision == revision for step in _scripts().iterate_revisions(present, "base")
    )


def _scripts() -> ScriptDirectory:
    """Return the migrations of this checkout."""
    return ScriptDirectory.from_config(_config(None))


def _config(connection: Connection | None) -> Config:
    """Return Alembic's settings; the connection travels in the attributes, where no URL has to be escaped."""
    config = Config(toml_file=PROJECT_FILE)
    if connection is not None:
        config.attributes["connection"] = connection
    return config
