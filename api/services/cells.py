"""Cells of a sheet as the raw values that the models read; the inverse of how an export writes them."""

import json
import re
from collections.abc import Mapping
from typing import Any

from api.errors import InputFault
from api.services.sheet import SheetRow
from fitworth.families.model import Dimension
from fitworth.vocabulary import Kind

DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
LONGEST_JSON = (
    20_000  # characters of a cell that is read as JSON; own choice, above the longest that is exported
)


class CellError(ValueError):
    """A cell is not written as it should be; the text says how it should."""


def read_list(text: str) -> list[Any]:
    """Return a list: its items with semicolons between, or as JSON."""
    if text.lstrip().startswith("["):
        found = read_json(text)
        if isinstance(found, list):
            return found
    return [item.strip() for item in text.split(";") if item.strip()]


def read_json(text: str) -> Any:
    """Return a cell's JSON.

    Raises:
        CellError: it is none, or too much of it.
    """
    try:
        if len(text) > LONGEST_JSON:
            raise CellError(f"This is too long: at most {LONGEST_JSON} characters.")
        return json.loads(text, parse_constant=_refuse)
    except RecursionError as error:
        raise CellError("This is nested too deeply.") from error
    except json.JSONDecodeError as error:
        raise CellError("This begins like JSON and is none; is a bracket or a quote missing?") from error


def read_date(text: str) -> str:
    """Return a date's text.

    Raises:
        CellError: it is written in another way, which would be a guess to read.
    """
    if DATE.fullmatch(text.strip()) is None:
        raise CellError("This must be a date such as 2026-11-25.")
    return text.strip()


def read_dimension(dimension: Dimension | None, text: str) -> Any:
    """Return a dimension's raw value: sets as lists, what was written whole as an object, else the text."""
    if dimension is None:
        return text
    if dimension.kind is Kind.SET and (";" in text or text.lstrip().startswith("[")):
        return read_list(text)
    if dimension.kind.is_numeric and text.lstrip().startswith("{"):
        return read_json(text)
    return text


def fault(row: SheetRow, column: str, detail: str) -> InputFault:
    """Return a fault of one cell, or of the whole row where `column` is empty."""
    return InputFault(detail, "row", str(row.number), column)


def column_of(pointer: str, columns: Mapping[str, str]) -> str:
    """Return the column that a fault in a body came from; `columns` holds those named otherwise."""
    tokens = pointer.removeprefix("/").removeprefix("dimensions/").split("/")
    name = tokens[0].replace("~1", "/").replace("~0", "~")
    return columns.get(name, name)


def _refuse(_: str) -> Any:
    raise CellError("NaN and infinity are no numbers here.")
