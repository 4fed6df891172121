"""A CSV file as rows of cells. What is wrong with the file as a whole is refused before any row is used."""

import csv
import io
import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from api.errors import InputFault, InvalidInputError
from api.tabular import uncell
from fitworth.matching.named_values import list_nearest

DELIMITERS = (",", ";", "\t")
ENDLESS_CELL = (
    "field larger than field limit"  # the reader's words for a cell of more than 131,072 characters
)
DECIMAL_COMMA = re.compile(r"(-?[0-9]+),([0-9]+)")


@dataclass(frozen=True, slots=True)
class SheetLimits:
    """How large a file may be; own choices, so that reading one takes no more than a few hundred megabytes.

    Attributes:
        most_bytes: size of the file [byte].
        most_rows: rows below the header.
        most_columns: columns.
    """

    most_bytes: int = 128 * 1024 * 1024
    most_rows: int = 2_000_000
    most_columns: int = 1_000


LIMITS = SheetLimits()


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One row: its number as the spreadsheet shows it, and its cells that are not empty, by column."""

    number: int
    cells: Mapping[str, str]
    fault: str = ""  # what is wrong with the row as such


@dataclass(frozen=True, slots=True)
class Sheet:
    """A file that can be read to its end: its columns, and how many rows follow the header."""

    content: bytes
    delimiter: str
    header: tuple[str, ...]
    header_row: int
    count: int

    def rows(self) -> Iterator[SheetRow]:
        """Yield the rows below the header that are not empty."""
        for number, cells in enumerate(open_reader(self.content, self.delimiter), start=1):
            if number > self.header_row and any(cell.strip() for cell in cells):
                yield self._row(number, cells)

    def _row(self, number: int, cells: list[str]) -> SheetRow:
        width = len(self.header)
        if len(cells) < width or any(cells[width:]):
            says = (
                f"This row has {len(cells)} cells and the header {width}; is a separator or a quote missing?"
            )
            return SheetRow(number, {}, says)
        found = {name: uncell(text) for name, text in zip(self.header, cells, strict=False) if text}
        return SheetRow(number, found)

    def number_text(self, text: str) -> str:
        """Return a number's text with a decimal point; `;` between cells means that commas are decimal."""
        match = DECIMAL_COMMA.fullmatch(text.strip()) if self.delimiter == ";" else None
        return text if match is None else f"{match[1]}.{match[2]}"


def read_sheet(content: bytes, limits: SheetLimits = LIMITS) -> Sheet:
    """Return a CSV file whose form is sound from its first byte to its last.

    Raises:
        InvalidInputError: it is too large, no CSV in UTF-8, broken in its quotes, or without a header.
    """
    check_bytes(content, limits)
    delimiter = sniff(content)
    header: tuple[str, ...] = ()
    header_row = number = 0
    try:
        for number, cells in enumerate(open_reader(content, delimiter), start=1):
            if not header and any(cell.strip() for cell in cells):
                header, header_row = read_header(cells, limits), number
            if number - header_row > limits.most_rows:
                raise InvalidInputError(
                    f"The file has more than {limits.most_rows} rows; divide it, each piece with the header."
                )
    except csv.Error as error:
        raise InvalidInputError(f"The file cannot be read beyond row {number}. {broken(error)}") from error
    if not header:
        raise InvalidInputError("The file is empty; its first row must name the columns.")
    return Sheet(content, delimiter, header, header_row, number - header_row)


def check_bytes(content: bytes, limits: SheetLimits) -> None:
    """Raise InvalidInputError for what is no text in UTF-8, or too much of it."""
    if len(content) > limits.most_bytes:
        raise InvalidInputError(
            f"The file is larger than {limits.most_bytes // 1_048_576} MiB; "
            "divide it, each piece with the header."
        )
    if content.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise InvalidInputError("This is a spreadsheet or an archive, no CSV; save it as CSV (UTF-8) first.")
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise InvalidInputError("The file is in UTF-16; save it as CSV (UTF-8).")
    if b"\x00" in content:
        line = content.count(b"\n", 0, content.index(b"\x00")) + 1
        raise InvalidInputError(f"Line {line} has a NUL character: this is no CSV, or a damaged one.")
    for number, line_bytes in enumerate(io.BytesIO(content), start=1):
        try:
            line_bytes.decode()
        except UnicodeDecodeError as error:
            raise InvalidInputError(
                f"Line {number} is not in UTF-8; save the file as CSV (UTF-8), in no other encoding."
            ) from error


def open_reader(content: bytes, delimiter: str) -> Iterator[list[str]]:
    """Return the rows of a file, decoded as they are read."""
    text = io.TextIOWrapper(io.BytesIO(content), encoding="utf-8-sig", newline="")
    return csv.reader(text, delimiter=delimiter, strict=True)


def sniff(content: bytes) -> str:
    """Return the separator that divides the first row into the most cells; a comma where none does."""

    def width(delimiter: str) -> int:
        try:
            return len(next((cells for cells in open_reader(content, delimiter) if any(cells)), []))
        except csv.Error:
            return 0

    return max(DELIMITERS, key=width)


def read_header(cells: list[str], limits: SheetLimits) -> tuple[str, ...]:
    """Return the names of the columns; empty ones at the end are left out.

    Raises:
        InvalidInputError: a column without a name, one that stands twice, or too many of them.
    """
    names = [uncell(cell).strip().lower() for cell in cells]
    while not names[-1]:
        names.pop()
    if len(names) > limits.most_columns:
        raise InvalidInputError(
            f"The file has more than {limits.most_columns} columns; keep those with values."
        )
    faults = [
        InputFault(f"Column {place} has no name.", "row", "1")
        for place, name in enumerate(names, start=1)
        if not name
    ]
    faults += [
        InputFault("This column stands twice; keep one of the two.", "row", "1", name)
        for name in dict.fromkeys(names)
        if name and names.count(name) > 1
    ]
    if faults:
        raise InvalidInputError("The header cannot be read.", faults)
    return tuple(names)


def check_columns(sheet: Sheet, known: Collection[str], needed: Mapping[str, Collection[str]]) -> None:
    """Raise InvalidInputError for columns that mean nothing, and for those without which no row can be read.

    Args:
        sheet: the file.
        known: the columns that mean something.
        needed: for each thing that every row needs, the columns of which one must be there.

    Raises:
        InvalidInputError: with every such column, and what may have been meant.
    """
    if not set(sheet.header) & set(known):
        raise InvalidInputError(
            f"The first row names no column that is known here. There are {', '.join(list(known)[:12])} ..."
        )
    faults = [
        InputFault(f"There is no such column.{meant(name, known)}", "row", "1", name)
        for name in sheet.header
        if name not in known
    ]
    faults += [
        InputFault(f"A column for the {what} is missing: {' or '.join(names)}.", "row", "1", what)
        for what, names in needed.items()
        if not set(names) & set(sheet.header)
    ]
    if faults:
        raise InvalidInputError("The columns of the file must be mended first; nothing was read.", faults)


def meant(name: str, known: Collection[str]) -> str:
    """Return the question whether a known name was meant, or nothing."""
    near: list[Any] = list_nearest(name, known)
    return f" Was {' or '.join(near)} meant?" if near else ""


def broken(error: csv.Error) -> str:
    """Return what a fault of the reader means."""
    says = str(error)
    if says.startswith(ENDLESS_CELL) or "unexpected end of data" in says:
        return "A quotation mark is opened there and not closed."
    return "A quotation mark is closed there and text follows it; inside quotes write two of them."
