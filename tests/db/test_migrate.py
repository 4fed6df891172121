"""Upgrades: what is refused, what is copied first, down and up again, models and migrations agreeing."""

import shutil
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from alembic import command
from alembic.config import Config
from sqlalchemy import Engine, inspect, text
from sqlalchemy.exc import DBAPIError

from db import backup, migrate, records
from db.base import Base
from db.errors import ForeignDatabaseError, NewerDatabaseError
from db.models import Part
from db.session import find_sqlite_driver, make_session_factory
from fitworth.vocabulary import Grade


def write(engine: Engine, statement: str) -> None:
    with migrate.schema_connection(engine) as connection:
        connection.execute(text(statement))


@pytest.mark.parametrize("doing", [migrate.upgrade, migrate.check])
def test_a_database_of_a_newer_program_is_refused_and_left_alone(
    own_engine: Engine, doing: Callable[[Engine], Any]
) -> None:
    write(own_engine, "UPDATE alembic_version SET version_num = 'ffffffffffff'")
    with pytest.raises(NewerDatabaseError, match="newer version of the program"):
        doing(own_engine)
    assert migrate.current(own_engine) == "ffffffffffff"


def test_a_database_of_something_else_is_refused_and_left_alone(empty_engine: Engine) -> None:
    write(empty_engine, "CREATE TABLE recipes (id INTEGER)")
    with pytest.raises(ForeignDatabaseError, match="recipes"):
        migrate.upgrade(empty_engine)
    assert inspect(empty_engine).get_table_names() == ["recipes"]


def test_an_upgrade_that_fails_half_way_changes_nothing(
    empty_engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    upgrade = command.upgrade

    def upgrade_then_fail(config: Config, revision: str) -> None:
        upgrade(config, revision)
        raise InterruptedError

    monkeypatch.setattr(command, "upgrade", upgrade_then_fail)
    with pytest.raises(InterruptedError):
        migrate.upgrade(empty_engine)
    assert inspect(empty_engine).get_table_names() == []


def test_a_project_without_migrations_is_an_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    project = tmp_path / "pyproject.toml"
    project.write_text('[tool.alembic]\nscript_location = "%(here)s"\n')
    monkeypatch.setattr(migrate, "PROJECT_FILE", project)
    with pytest.raises(LookupError):
        migrate.head()


def test_an_empty_database_is_brought_to_the_program_s_schema(empty_engine: Engine) -> None:
    assert migrate.current(empty_engine) is None
    assert migrate.upgrade(empty_engine) is None
    assert migrate.current(empty_engine) == migrate.head()
    assert set(inspect(empty_engine).get_table_names()) == {*Base.metadata.tables, "alembic_version"}
    assert migrate.check(empty_engine) == ()


def test_an_upgrade_of_an_up_to_date_database_does_nothing(own_engine: Engine) -> None:
    assert migrate.upgrade(own_engine) is None


def test_asking_about_a_file_that_is_not_there_does_not_make_it(
    open_engine: Callable[[str], Engine], tmp_path: Path
) -> None:
    file = tmp_path / "new" / "folder" / "fitworth.sqlite"
    engine = open_engine(f"sqlite:///{file}")
    assert migrate.current(engine) is None
    assert "upgrade the database" in migrate.check(engine)[0]
    assert not file.exists()
    migrate.upgrade(engine)
    assert file.exists()


def test_down_to_nothing_and_up_again_ends_where_it_began(own_engine: Engine) -> None:
    migrate.move(own_engine, "base")
    assert inspect(own_engine).get_table_names() == ["alembic_version"]
    migrate.move(own_engine, "head")
    assert migrate.check(own_engine) == ()
    with make_session_factory(own_engine, writer=True)() as session:
        assert records.next_revision(session) == 1


def test_a_move_to_where_the_database_is_keeps_its_rows(
    own_engine: Engine, shelf_of: Callable[..., Any]
) -> None:
    with make_session_factory(own_engine, writer=True).begin() as session:
        shelf_of(session).part()
    migrate.move(own_engine, migrate.head())
    with make_session_factory(own_engine, writer=False)() as session:
        assert session.query(Part).count() == 1


def test_an_older_file_is_copied_before_its_upgrade(
    sqlite_url: str,
    open_engine: Callable[[str], Engine],
    shelf_of: Callable[..., Any],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    engine = open_engine(sqlite_url)
    with make_session_factory(engine, writer=True).begin() as session:
        shelf_of(session).part("708-21B")
    present = migrate.head()
    monkeypatch.setattr(migrate, "head", lambda: "a later one")
    copies = [migrate.upgrade(engine), migrate.upgrade(engine)]
    assert [copy and copy.name for copy in copies] == [
        f"own.before-upgrade-from-{present}.sqlite",
        f"own.before-upgrade-from-{present}-2.sqlite",
    ]
    for copy in copies:
        with make_session_factory(open_engine(f"sqlite:///{copy}"), writer=False)() as session:
            assert [part.number for part in session.query(Part)] == ["708-21B"]


def test_check_names_what_differs_from_the_program_s_schema(own_engine: Engine) -> None:
    write(own_engine, "ALTER TABLE machine ADD COLUMN colour VARCHAR(20)")
    write(own_engine, "DELETE FROM catalogue_revision")
    found = migrate.check(own_engine)
    assert len(found) == 2
    assert "colour" in found[0]
    assert "catalogue_revision" in found[1]


def test_check_misses_the_guard_of_the_audit_trail(own_engine: Engine) -> None:
    postgres = own_engine.dialect.name == "postgresql"
    write(own_engine, f"DROP TRIGGER change_is_append_only{' ON change' if postgres else '_delete'}")
    assert migrate.check(own_engine) == (
        "The guard of the audit trail is missing: its lines could be altered.",
    )


def test_check_names_rows_that_refer_to_nothing(
    sqlite_url: str, open_engine: Callable[[str], Engine]
) -> None:
    engine = open_engine(sqlite_url)
    write(engine, "INSERT INTO part_include (need, part_id) VALUES ('fuel_hose', 99)")
    assert migrate.check(engine) == ("Row 1 of part_include refers to a row of part that is not there.",)


def test_check_finds_a_damaged_file(sqlite_url: str, open_engine: Callable[[str], Engine]) -> None:
    file = Path(sqlite_url.removeprefix("sqlite:///"))
    with closing(find_sqlite_driver().connect(file)) as connection:
        page, size = connection.execute(
            "SELECT rootpage, page_size FROM sqlite_schema, pragma_page_size WHERE name = 'ix_part_maker'"
        ).fetchone()
    content = bytearray(file.read_bytes())
    content[(page - 1) * size : page * size] = b"\x5a" * size
    file.write_bytes(content)
    assert "damaged" in migrate.check(open_engine(sqlite_url))[0]


def test_foreign_keys_hold_again_after_a_change_of_the_schema(
    sqlite_url: str, open_engine: Callable[[str], Engine]
) -> None:
    engine = open_engine(sqlite_url)
    write(engine, "UPDATE catalogue_revision SET revision = 1")
    with pytest.raises(DBAPIError), make_session_factory(engine, writer=True)() as session:
        session.execute(text("INSERT INTO part_include (need, part_id) VALUES ('fuel_hose', 99)"))


def test_migrations_run_from_the_command_line_too(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'cli.sqlite'}"
    root = migrate.PROJECT_FILE.parent
    for arguments in (["upgrade", "head"], ["check"], ["downgrade", "base"]):
        done = subprocess.run(
            [sys.executable, "-m", "alembic", "-x", f"url={url}", *arguments],
            cwd=root,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("arguments", [["current"], ["upgrade", "head", "--sql"]])
def test_the_command_line_says_what_it_needs(arguments: list[str]) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "alembic", *arguments],
        cwd=migrate.PROJECT_FILE.parent,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert "database" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_backup_is_never_overwritten(sqlite_template: Path, tmp_path: Path) -> None:
    target = tmp_path / "copy.sqlite"
    target.write_text("what somebody kept here")
    with pytest.raises(FileExistsError):
        backup.copy_sqlite(sqlite_template, target)
    assert target.read_text() == "what somebody kept here"


def test_a_backup_taken_while_somebody_writes_is_whole(
    sqlite_url: str, open_engine: Callable[[str], Engine], shelf_of: Callable[..., Any], tmp_path: Path
) -> None:
    engine = open_engine(sqlite_url)
    factory = make_session_factory(engine, writer=True)
    with factory.begin() as session:
        shelf_of(session).part("708-21B", grade=Grade.USED)
    with factory() as session:
        shelf_of(session).part("Q19-42")
        file = backup.sqlite_file(engine)
        assert file is not None
        backup.copy_sqlite(file, tmp_path / "copy.sqlite")
        session.rollback()
    copy = open_engine(f"sqlite:///{tmp_path / 'copy.sqlite'}")
    assert migrate.check(copy) == ()
    with make_session_factory(copy, writer=False)() as session:
        assert [part.number for part in session.query(Part)] == ["708-21B"]
    assert sorted(path.name for path in tmp_path.glob("copy*unfinished*")) == []


def test_a_copy_that_broke_off_does_not_stand_in_the_way(sqlite_template: Path, tmp_path: Path) -> None:
    shutil.copy(sqlite_template, tmp_path / "copy.sqlite.unfinished")
    backup.copy_sqlite(sqlite_template, tmp_path / "copy.sqlite")
    assert (tmp_path / "copy.sqlite").stat().st_size > 0


def test_postgresql_has_no_file_to_copy(postgres_engine: Engine) -> None:
    assert backup.sqlite_file(postgres_engine) is None
