"""`fitworth database`, `doctor` and `show-settings`: is everything there, and is it sound?"""

import os
import platform
import sys
from collections.abc import Mapping
from importlib.util import find_spec
from typing import Any

import typer
from sqlalchemy import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError

from api.commands.refusals import Sentences, complain, read_settings, sentences
from api.commands.screen import Format, FormatOption, bullets, grid, headline, say, show
from api.database import open_call, open_database
from api.services.exports import RESOURCES
from api.services.knowledge import Knowledge, load_knowledge
from api.settings import Settings
from api.tabular import Table
from db import migrate, records
from db.errors import StoreError
from db.session import find_sqlite_driver, make_engine, make_session_factory
from fitworth.errors import FamilyFileError

Body = Mapping[str, Any]

SOUND_SQLITE = (3, 51, 3)  # earlier ones can damage a file in WAL mode when several connections write

database = typer.Typer(
    cls=Sentences, no_args_is_help=True, help="Bring the database up to date, or check it."
)


@database.command()
def upgrade() -> None:
    """Make the database, or bring it to this program's schema; an older SQLite file is copied first."""
    with open_database(read_settings()) as here:
        if here.backup is not None:
            say(f"As it was before, the database lies in {here.backup}.")
        say(f"The database is at {migrate.current(here.engine)}, as this program wants it.")


@database.command()
def check() -> None:
    """Tell whether the database is sound and up to date; the exit code is 1 where it is not."""
    engine = make_engine(read_settings().database_url)
    try:
        found = migrate.check(engine)
    finally:
        engine.dispose()
    if found:
        complain(found)
        raise typer.Exit(1)
    say("The database is sound and up to date.")


def doctor(form: FormatOption = Format.TABLE) -> None:
    """Tell what is installed, which database is used, whether it is sound, and what is missing."""
    settings = read_settings()
    body: dict[str, Any] = {
        "python": platform.python_version(),
        "sqlite_driver": find_sqlite_driver().__name__.partition(".")[0],
        "sqlite": str(find_sqlite_driver().sqlite_version),
        "postgres_driver": find_spec("psycopg") is not None,
        "database": shown_url(settings.database_url),
        "families": {},
        "records": {},
    }
    wrong: list[str] = []
    missing: list[str] = []
    knowledge = look_at_families(settings, body, wrong)
    look_at_database(settings, knowledge, body, wrong, missing)
    look_at_surroundings(missing)
    show(form, {**body, "wrong": wrong, "missing": missing}, doctor_table, print_doctor)
    if wrong:
        raise typer.Exit(1)


def look_at_families(settings: Settings, body: dict[str, Any], wrong: list[str]) -> Knowledge | None:
    """Load the families; note what is wrong with their files."""
    try:
        knowledge = load_knowledge(settings.families_dir)
    except FamilyFileError as error:
        wrong += sentences(error)
        return None
    body["families"] = {key: len(family.dimensions) for key, family in knowledge.families.items()}
    return knowledge


def look_at_database(
    settings: Settings,
    knowledge: Knowledge | None,
    body: dict[str, Any],
    wrong: list[str],
    missing: list[str],
) -> None:
    """Check the database without changing or making it; count what is in it."""
    try:
        engine = make_engine(settings.database_url)
    except StoreError as error:
        wrong += sentences(error)
        return
    try:
        if migrate.current(engine) is None:
            missing.append("There is no database yet; every command that needs one makes it.")
            migrate.refuse_unknown(engine, None)
            return
        found = migrate.check(engine)
        wrong += found
        if not found and knowledge is not None:
            with open_call(make_session_factory(engine, writer=False), knowledge) as call:
                body["records"] = {
                    name: records.count_records(call.session, spec.model) for name, spec in RESOURCES.items()
                }
            missing += what_is_missing(body["records"])
    except (StoreError, DBAPIError) as error:
        wrong += sentences(error)
    finally:
        engine.dispose()


def what_is_missing(counts: Mapping[str, int]) -> list[str]:
    """List what keeps questions from being answered."""
    wanted = {
        "parts": "No parts are on file: nothing can be matched.",
        "quotes": "No quotes are on file: only cleaning and leaving can be compared.",
        "destinations": "No destination is on file: no landed cost can be told.",
    }
    return [says for name, says in wanted.items() if not counts[name]]


def look_at_surroundings(missing: list[str]) -> None:
    """Note an old SQLite, and variables that look like settings and are none."""
    version = tuple(int(piece) for piece in find_sqlite_driver().sqlite_version.split("."))
    if version < SOUND_SQLITE:
        missing.append("This SQLite is old: serve with one worker only, or install pysqlite3.")
    missing += [
        f"{name} is set and is no setting; `fitworth show-settings` lists them."
        for name in sorted(os.environ)
        if name.startswith("FITWORTH_")
        and name.removeprefix("FITWORTH_").lower() not in Settings.model_fields
    ]


def doctor_table(body: Body) -> Table:
    """Return the findings as a table."""
    rows: list[list[Any]] = [[name, value] for name, value in body.items() if isinstance(value, str | bool)]
    rows += [[f"dimensions of {key}", count] for key, count in body["families"].items()]
    rows += [[name, count] for name, count in body["records"].items()]
    rows += [[name, line] for name in ("wrong", "missing") for line in body[name]]
    return Table(("what", "finding"), rows)


def print_doctor(body: Body) -> None:
    """Print the findings."""
    driver = "is installed" if body["postgres_driver"] else "is not installed (extra postgres)"
    grid(
        ("What", "Finding"),
        [
            ("Python", f"{body['python']}, {sys.executable}"),
            ("SQLite", f"{body['sqlite']}, driver {body['sqlite_driver']}"),
            ("PostgreSQL", f"its driver {driver}"),
            ("Database", body["database"]),
            ("Families", ", ".join(body["families"])),
            *((name.capitalize(), count) for name, count in body["records"].items()),
        ],
    )
    for name, says in (("wrong", "Wrong"), ("missing", "To know")):
        if body[name]:
            headline(says)
            bullets(body[name])
    if not body["wrong"]:
        say("All is sound.")


def shown_url(url: str) -> str:
    """Return a database's URL without its password."""
    try:
        return make_url(url).render_as_string(hide_password=True)
    except ArgumentError:
        return "a URL that cannot be read"


def show_settings(form: FormatOption = Format.TABLE) -> None:
    """List the settings: environment variables, their values, what they mean."""
    settings = read_settings()
    items = [
        {
            "name": f"FITWORTH_{name.upper()}",
            "value": shown_url(value) if name == "database_url" else None if value is None else str(value),
            "meaning": field.description,
        }
        for name, field in type(settings).model_fields.items()
        for value in [getattr(settings, name)]
    ]
    body = {"items": items}
    show(form, body, settings_table, lambda _: print_settings(items))


def settings_table(body: Body) -> Table:
    """Return the settings as a table."""
    names = ("name", "value", "meaning")
    return Table(names, ([item[name] for name in names] for item in body["items"]))


def print_settings(items: list[dict[str, Any]]) -> None:
    """Print the settings."""
    grid(
        ("Variable", "Value", "Meaning"),
        [(item["name"], item["value"] or "not set", item["meaning"]) for item in items],
        whole=("Variable",),
    )
