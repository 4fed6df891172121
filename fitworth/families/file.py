"""A data file of tables from its bytes: its text, its tables, and the page on which its faults are noted."""

import re
import tomllib
from typing import Any

from fitworth.errors import FamilyFileError, Fault
from fitworth.families.layout import Layout
from fitworth.families.lines import locate
from fitworth.families.reading import Page, Section, open_section

LARGEST_FILE_BYTES = 256 * 1024


def open_file(content: bytes, name: str, layout: Layout) -> Section:
    """Return the outermost table of a TOML file, its keys checked.

    Args:
        content: the file's bytes, UTF-8, with or without a byte order mark.
        name: the file's name, told with each fault.
        layout: what the outermost table may say.

    Raises:
        FamilyFileError: the file is too large, no UTF-8 or no TOML. Other faults are noted on the page.
    """
    text = _decode(content, name)
    tables = _parse_toml(text, name)
    return open_section(layout, tables, (), Page(name, locate(text)))


def _decode(content: bytes, name: str) -> str:
    if len(content) > LARGEST_FILE_BYTES:
        size_kb = len(content) // 1024
        raise FamilyFileError(
            Fault("line 1", f"{name}: the file has {size_kb} kB; a family file has 256 kB at most.")
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        says = f"{name}: this line is not UTF-8 text; save the file as UTF-8."
        raise FamilyFileError(Fault(f"line {line}", says)) from error


def _parse_toml(text: str, name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except RecursionError as error:
        raise FamilyFileError(
            Fault("line 1", f"{name}: brackets are nested too deep for a family file.")
        ) from error
    except ValueError as error:  # syntax, and whole numbers of thousands of digits
        place = re.search(r" \(at (?:line (\d+), column \d+|end of document)\)$", str(error))
        line = (place and place[1]) or (text.count("\n") + 1 if place else 1)
        reason = str(error)[: place.start()] if place else "a number has too many digits"
        raise FamilyFileError(Fault(f"line {line}", f"{name}: this is not TOML: {reason}.")) from error
