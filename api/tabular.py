"""Answers for spreadsheets and scripts: CSV (RFC 4180) and single cells as plain text."""

import csv
import io
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Literal, TextIO

from api.errors import InputFault, InvalidInputError, NotAcceptableError

# Some spreadsheets pass over blanks before the sign, and take its full-width forms. Text that looks guarded
# already is guarded once more, so that guarding can be undone.
FORMULA = re.compile(r"'*(?:[\s\u200b\ufeff]*[=+\-@＝＋－＠]|[\t\r\n])")

POSITION = re.compile(r"0|[1-9][0-9]{0,8}")  # in a list, as JSON pointers write it

FormatName = Literal["json", "csv", "value"]


@dataclass(frozen=True, slots=True)
class Form:
    """The form in which an answer is wanted."""

    name: FormatName = "json"
    field: str | None = None
    decimal_comma: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """One header row and its rows."""

    header: Sequence[str]
    rows: Iterable[Sequence[Any]]


def choose_form(query: Mapping[str, str], accept: str) -> Form:
    """Return the form that a request asks for by `?format=` or else by its Accept header.

    Raises:
        InvalidInputError: an unknown format, a cell without its field, an unknown decimal sign.
        NotAcceptableError: an Accept header that none of the forms meets.
    """
    faults = []
    name = query.get("format")
    if name is None:
        name = form_accepted(accept)
    elif name not in {"json", "csv", "value"}:
        faults.append(InputFault("The formats are json, csv and value.", "parameter", "format"))
    if name == "value" and not query.get("field"):
        faults.append(
            InputFault(
                "A single cell needs its field, such as field=/fits/0/fit_confidence.", "parameter", "field"
            )
        )
    decimal = query.get("decimal", "point")
    if decimal not in {"point", "comma"}:
        faults.append(InputFault("The decimal sign is point or comma.", "parameter", "decimal"))
    if faults:
        raise InvalidInputError("The form of the answer cannot be told.", faults)
    return Form(name, query.get("field"), decimal == "comma")  # type: ignore[arg-type]


def form_accepted(accept: str) -> FormatName:
    """Return the form that an Accept header prefers; JSON where it does not mind."""
    ranges = []
    for part in accept.split(","):
        media, *parameters = (piece.strip().lower() for piece in part.split(";"))
        quality = next((float_or_zero(p[2:]) for p in parameters if p.startswith("q=")), 1.0)
        ranges.append((quality, media))
    for _, media in sorted((entry for entry in ranges if entry[0] > 0), key=lambda entry: -entry[0]):
        if media in {"", "*/*", "application/*", "application/json"}:
            return "json"
        if media in {"text/csv", "text/*"}:
            return "csv"
    raise NotAcceptableError("This is answered as application/json or text/csv.")


def float_or_zero(text: str) -> float:
    """Return a quality value, 0 where it is none."""
    try:
        return float(text)
    except ValueError:
        return 0.0


def cell(value: Any, *, decimal_comma: bool = False) -> str:
    """Return a value as a cell: lists joined by `; `, objects as JSON, text never as a formula."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float | Decimal):
        text = repr(value) if isinstance(value, float) else str(value)
        return text.replace(".", ",") if decimal_comma else text
    if isinstance(value, list | tuple) and all(isinstance(item, str) and can_join(item) for item in value):
        value = "; ".join(value)
    elif isinstance(value, list | tuple | dict):
        value = json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    text = str(value)
    return f"'{text}" if FORMULA.match(text) else text


def can_join(item: str) -> bool:
    """Return whether an item can be told from its neighbours in a list joined by `; `."""
    return ";" not in item and item == item.strip() != "" and not item.startswith("[")


def uncell(text: str) -> str:
    """Return the text that `cell` guarded against being run as a formula."""
    return text[1:] if text.startswith("'") and FORMULA.match(text) else text


def to_csv(table: Table, *, decimal_comma: bool = False) -> str:
    """Return a table as CSV; a decimal comma makes the separator a semicolon."""
    out = io.StringIO()
    write_csv(table, out, decimal_comma=decimal_comma)
    return out.getvalue()


def write_csv(table: Table, out: TextIO, *, decimal_comma: bool = False) -> None:
    """Write a table as CSV, row by row, into a file that leaves line ends as they are."""
    writer = csv.writer(out, delimiter=";" if decimal_comma else ",", lineterminator="\r\n")
    writer.writerow(table.header)
    for row in table.rows:
        writer.writerow([cell(value, decimal_comma=decimal_comma) for value in row])


def to_value(body: Any, field: str, *, decimal_comma: bool = False) -> str:
    """Return the single cell that a JSON pointer names (RFC 6901).

    Raises:
        InvalidInputError: the pointer names nothing, or something that is no single value.
    """
    value = body
    for token in field.removeprefix("/").split("/"):
        name = token.replace("~1", "/").replace("~0", "~")
        if isinstance(value, Mapping) and name in value:
            value = value[name]
        elif isinstance(value, list) and POSITION.fullmatch(name) and int(name) < len(value):
            value = value[int(name)]
        else:
            raise InvalidInputError(
                "There is no such field.",
                [InputFault(f"The answer has nothing at this field{names_in(value)}.", "parameter", "field")],
            )
    if isinstance(value, Mapping | list):
        raise InvalidInputError(
            "That is no single value.",
            [InputFault(f"This is no single value{names_in(value)}.", "parameter", "field")],
        )
    text = cell(value, decimal_comma=decimal_comma)
    return " ".join(uncell(text).split())


def names_in(value: Any) -> str:
    """Return what could follow in a pointer, for a refusal's sentence."""
    if isinstance(value, Mapping):
        return f"; here are {', '.join(list(value)[:12])}"
    if isinstance(value, list):
        return f"; here are entries 0 to {len(value) - 1}" if value else "; this list is empty"
    return ""
