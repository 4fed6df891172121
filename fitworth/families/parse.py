"""A family from the bytes of its file, checked as a whole; every fault is told at once, with its line."""

import re
import tomllib
from collections.abc import Sequence
from typing import Any

from fitworth.errors import FamilyFileError, Fault
from fitworth.families.dimensions import find_dimension
from fitworth.families.layout import CLEARS, DIMENSION, FAMILY, LIFE, RATIO, REPAIR
from fitworth.families.lines import locate
from fitworth.families.model import Clears, Family, Life, Ratio, Repair
from fitworth.families.reading import LARGEST_NUMBER, Page, Section, open_section
from fitworth.families.references import note_wrong_references
from fitworth.vocabulary import NUMERIC_KINDS, Grade, Kind, LifeClock

LARGEST_FILE_BYTES = 256 * 1024
# Weibull shapes seen in practice; below it everything dies at once, above it all on one day. Own choice.
SHAPES = (0.3, 10.0)


def parse_family(content: bytes, name: str) -> Family:
    """Return the family that a TOML file declares.

    Args:
        content: the file's bytes, UTF-8, with or without a byte order mark.
        name: the file's name, told with each fault.

    Raises:
        FamilyFileError: with every fault of the file, in the order of its lines.
    """
    text = _decode(content, name)
    tables = _parse_toml(text, name)
    page = Page(name, locate(text))
    family = _read_family(open_section(FAMILY, tables, (), page))
    if page.faults or family is None:
        raise FamilyFileError(sorted(page.faults, key=_line_of))
    return family


def check_families(families: Sequence[Family]) -> None:
    """Check a list of families against each other: one key each, and every kit family on file.

    Raises:
        FamilyFileError: with every fault; `where` names the family.
    """
    keys = [family.key for family in families]
    faults = [
        Fault(
            f"family {key}",
            f"{keys.count(key)} files have the key “{key}”; a family has one file, rename the others.",
        )
        for key in sorted({key for key in keys if keys.count(key) > 1})
    ]
    faults += [
        Fault(
            f"family {family.key}",
            f"its repair names the kit family “{family.repair.kit_family}”, which no file has.",
        )
        for family in families
        if family.repair and family.repair.kit_family not in keys
    ]
    if faults:
        raise FamilyFileError(faults)


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


def _read_family(file: Section) -> Family | None:
    """Return the family, or None where it lacks what it cannot be without; all faults are noted."""
    key, label, view = file.find_key("key"), file.find_text("label"), file.find_text("view")
    grades, life, repair = file.list_words("grades", Grade), _find_life(file), _find_repair(file)
    needs, cautions, needs_from = (
        file.list_keys("needs"),
        file.list_keys("cautions"),
        file.find_key("needs_from"),
    )
    if file.table.get("grades") == []:
        file.note("grades", "“grades” is empty; list at least one grade that this part is sold in.")
    if file.table.get("dimension") == []:
        file.note(
            "dimension", "a family without dimensions matches nothing; write at least one [[dimension]]."
        )
    if needs_from:
        file.refer("needs_from", needs_from, frozenset({Kind.SET}))
    clears = [_find_clears(section) for section in file.list_sections("clears", CLEARS)]
    ratios = [_find_ratio(section) for section in file.list_sections("ratio", RATIO)]
    sections = file.list_sections("dimension", DIMENSION)
    dimensions = [find_dimension(section) for section in sections]
    note_wrong_references(file, sections, dimensions)
    if key is None or label is None or view is None or life is None:
        return None
    return Family(
        key=key,
        label=label,
        view=view,
        grades=grades,
        life=life,
        dimensions=tuple(dimension for dimension in dimensions if dimension is not None),
        needs=needs,
        needs_from=needs_from or "",
        repair=repair,
        clears=tuple(one for one in clears if one is not None),
        ratios=tuple(one for one in ratios if one is not None),
        cautions=cautions,
    )


def _find_life(file: Section) -> Life | None:
    inner = file.find_section("life", LIFE)
    if inner is None:
        return None
    clock, shape = inner.find_word("clock", LifeClock), inner.find_number("shape", *SHAPES)
    return Life(clock, shape) if clock and shape else None


def _find_repair(file: Section) -> Repair | None:
    inner = file.find_section("repair", REPAIR)
    if inner is None:
        return None
    kit_family, cure_table = inner.find_key("kit_family"), inner.find_key("cure_table")
    return Repair(kit_family, cure_table) if kit_family and cure_table else None


def _find_clears(section: Section) -> Clears | None:
    check, result, says = section.find_key("check"), section.find_key("result"), section.find_text("says")
    return Clears(check, result, says) if check and result and says else None


def _find_ratio(section: Section) -> Ratio | None:
    numerator, denominator = section.find_key("numerator"), section.find_key("denominator")
    for key, name in (("numerator", numerator), ("denominator", denominator)):
        if name:
            section.refer(key, name, NUMERIC_KINDS)
    low, high = section.find_number("low", 0, LARGEST_NUMBER), section.find_number("high", 0, LARGEST_NUMBER)
    if low is None or high is None or not numerator or not denominator:
        return None
    if low >= high:
        section.note("low", f"the ratio goes from {low:g} to {high:g}; “low” must be below “high”.")
    return Ratio(numerator, denominator, low, high)


def _line_of(fault: Fault) -> int:
    return int(fault.where.removeprefix("line "))
