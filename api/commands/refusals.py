"""Refusals as sentences on stderr: whatever a user can bring about ends in one, never in a traceback."""

from collections.abc import Iterable
from typing import Any

import typer
from pydantic import ValidationError
from sqlalchemy.exc import DBAPIError
from typer.core import TyperGroup

from api.commands.screen import notes, plain
from api.errors import InputFault, InvalidInputError, ServiceError
from api.faults import validation_faults
from api.settings import Settings
from db.errors import StoreError
from fitworth.errors import CoreError

REFUSED = (ServiceError, CoreError, StoreError, DBAPIError, OSError)


class Sentences(TyperGroup):
    """A group of commands whose refusals are printed as sentences; the exit code is then 1."""

    def invoke(self, ctx: Any) -> Any:
        """Run the command."""
        try:
            return super().invoke(ctx)
        except BrokenPipeError:
            raise  # whoever read our output has read enough
        except REFUSED as error:
            complain(sentences(error))
            raise typer.Exit(1) from error


def complain(lines: Iterable[str]) -> None:
    """Print a refusal."""
    console = notes()
    for line in lines:
        console.print(plain(line))


def sentences(error: Exception) -> list[str]:
    """Return what an error tells the user: what is wrong, where, what would be right."""
    if isinstance(error, ServiceError):
        return [error.detail, *(f"  {place_of(fault)}{fault.detail}" for fault in error.faults)]
    if isinstance(error, CoreError):
        return [f"{fault.where.lstrip('/')}: {fault.says}".removeprefix(": ") for fault in error.faults]
    if isinstance(error, DBAPIError):
        return [f"The database cannot be used: {error.orig}.", "`fitworth doctor` says which one it is."]
    if isinstance(error, OSError) and error.filename is not None:
        return [f"{error.filename}: {error.strerror}."]
    return [str(error)]


def place_of(fault: InputFault) -> str:
    """Return where a fault is, with a colon, or nothing."""
    place = f"row {fault.at}" if fault.place == "row" else fault.at.lstrip("/")
    where = ", ".join(piece for piece in (place, fault.column) if piece)
    return f"{where}: " if where else ""


def read_settings(**given: Any) -> Settings:
    """Return the settings: what is given, else the environment, else the defaults.

    Raises:
        InvalidInputError: with each variable that is set wrongly.
    """
    try:
        return Settings(**{name: value for name, value in given.items() if value is not None})
    except ValidationError as error:
        found = validation_faults(error.errors(), prefixed=False)
        raise InvalidInputError(
            "A setting is wrong.",
            [InputFault(one.detail, "parameter", f"FITWORTH_{one.at.lstrip('/').upper()}") for one in found],
        ) from error
