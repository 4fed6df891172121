"""A family from the bytes of its file, checked as a whole; every fault is told at once, with its line."""

from collections.abc import Sequence

from fitworth.errors import FamilyFileError, Fault
from fitworth.families.dimensions import find_dimension
from fitworth.families.file import open_file
from fitworth.families.layout import CLEARS, DIMENSION, FAMILY, LIFE, RATIO, REPAIR
from fitworth.families.model import Clears, Family, Life, Ratio, Repair
from fitworth.families.reading import LARGEST_NUMBER, Section
from fitworth.families.references import note_wrong_references
from fitworth.vocabulary import NUMERIC_KINDS, Grade, Kind, LifeClock

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
    file = open_file(content, name, FAMILY)
    family = _read_family(file)
    file.page.raise_faults()
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


def _read_family(file: Section) -> Family:
    """Return the family, with blanks where a fault is noted; the page then refuses it."""
    key, label, view = file.find_key("key"), file.find_text("label"), file.find_text("view")
    grades, life, repair = file.list_words("grades", Grade), _read_life(file), _find_repair(file)
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
    return Family(
        key=key or "",
        label=label or "",
        view=view or "",
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


def _read_life(file: Section) -> Life:
    inner = file.find_section("life", LIFE)
    clock = inner and inner.find_word("clock", LifeClock)
    shape = inner and inner.find_number("shape", *SHAPES)
    return Life(clock or LifeClock.CALENDAR, shape or 1.0)


def _find_repair(file: Section) -> Repair | None:
    inner = file.find_section("repair", REPAIR)
    if inner is None:
        return None
    kit_family, cure_table = inner.find_key("kit_family"), inner.find_key("cure_table")
    contains = inner.list_keys("kit_contains")
    return Repair(kit_family, cure_table, tuple(contains)) if kit_family and cure_table else None


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
