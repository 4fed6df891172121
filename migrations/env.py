"""Runs the migrations on the connection, engine or URL that stands in the configuration's attributes.

From the command line: alembic -x url=sqlite:////folder/file.sqlite revision --autogenerate -m "what changes"
"""

from typing import Any, Literal

from alembic import context
from alembic.autogenerate.api import AutogenContext
from sqlalchemy import Connection, Engine
from sqlalchemy.types import TypeDecorator

from db import models
from db.base import Base
from db.migrate import schema_connection
from db.session import make_engine

assert models.__all__, "importing the models registers their tables"  # noqa: S101


def render_item(kind: str, item: Any, autogen_context: AutogenContext) -> str | Literal[False]:
    """Write our own column types as what the database has: a migration outlives the program's types."""
    del autogen_context
    if kind == "type" and isinstance(item, TypeDecorator):
        return f"sa.{item.impl!r}"
    return False


def run(connection: Connection) -> None:
    """Run the migrations in the connection's transaction."""
    context.configure(
        connection=connection,
        target_metadata=Base.metadata,
        compare_type=True,
        render_item=render_item,
        render_as_batch=True,
    )
    with context.begin_transaction():
        context.run_migrations()


def find_engine() -> Engine:
    """Return the engine to migrate, from the attributes or from -x url=..."""
    attributes = context.config.attributes
    if "engine" in attributes:
        engine: Engine = attributes["engine"]
        return engine
    url = attributes.get("url") or context.get_x_argument(as_dictionary=True).get("url")
    if not url:
        raise SystemExit("Name a database: alembic -x url=sqlite:////folder/file.sqlite ...")
    return make_engine(str(url))


if context.is_offline_mode():
    raise SystemExit("Migrations look at the database as they run; there is no SQL to print beforehand.")
if "connection" in context.config.attributes:
    run(context.config.attributes["connection"])
else:
    with schema_connection(find_engine()) as own_connection:
        run(own_connection)
