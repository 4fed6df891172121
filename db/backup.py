"""A copy of a SQLite database in use, whole and of one moment."""

import os
from contextlib import closing
from pathlib import Path

from sqlalchemy import Engine

from db.session import find_sqlite_driver


def sqlite_file(engine: Engine) -> Path | None:
    """Return the file of a SQLite engine, or None for another database."""
    if engine.dialect.name != "sqlite":
        return None
    return Path(str(engine.url.database))


def copy_sqlite(source: Path, target: Path) -> None:
    """Write a copy of a SQLite file, also while others write to it; it appears only when complete.

    Raises:
        FileExistsError: there is a file at the target already.
    """
    if target.exists():
        raise FileExistsError(f"{target} is there already; a backup is never overwritten.")
    unfinished = target.with_name(target.name + ".unfinished")
    unfinished.unlink(missing_ok=True)
    with closing(find_sqlite_driver().connect(source, isolation_level=None)) as connection:
        connection.execute("VACUUM INTO ?", (str(unfinished),))
    with unfinished.open("rb+") as written:
        os.fsync(written.fileno())  # VACUUM INTO leaves that to its caller
    unfinished.replace(target)
