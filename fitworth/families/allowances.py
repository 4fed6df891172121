"""How far a candidate may differ: the allowances a family file can write, and which suit which kind."""

import math
from typing import Any

from fitworth.families.layout import ACCEPTS, AROUND, BOLT_PLAY, PERCENT, Layout
from fitworth.families.model import Accepts, Allowance, Around, BoltPlay, Equal, Interval, Percent
from fitworth.families.reading import Section, describe, open_section
from fitworth.vocabulary import Kind

# A bare "bolt_play" means these two, the names that the carburetor uses.
USUAL_HOLE = "bolt_hole_diameter"
USUAL_STUD = "stud_diameter"

_RULES: dict[Kind, tuple[type[Allowance], ...]] = {
    Kind.LENGTH: (Interval, Percent, Equal, BoltPlay),
    Kind.ANGLE: (Interval, Equal, Around),
    Kind.RESISTANCE: (Interval, Percent, Equal),
    Kind.CAPACITANCE: (Interval, Percent, Equal),
    Kind.COUNT: (Interval, Equal, Around),
    Kind.CHOICE: (Equal, Accepts),
    Kind.FLAG: (Equal,),
    Kind.SET: (Equal,),
    Kind.TEXT: (Equal,),
}
_WRITTEN: dict[type[Allowance], str] = {
    Interval: "[-0.5, 0.5]",
    Percent: "{percent = [-2, 2]}",
    Equal: "“equal”",
    Around: "{around = [-1, 1], cycle = 12}",
    Accepts: '{accepts = {one = ["one", "other"]}}',
    BoltPlay: "“bolt_play”",
}
_TABLES: dict[str, Layout] = {
    "percent": PERCENT,
    "around": AROUND,
    "accepts": ACCEPTS,
    "hole": BOLT_PLAY,
    "stud": BOLT_PLAY,
}


def find_allowance(section: Section, kind: Kind, choices: tuple[str, ...]) -> Allowance | None:
    """Return the allowance of a dimension or of an allowance_when, or None where it is missing or faulty."""
    if "allowance" not in section.table:
        return None
    given = section.table["allowance"]
    found = _read(section, given, choices)
    suitable = _RULES[kind]
    if found is not None and not isinstance(found, suitable):
        ways = " or ".join(_WRITTEN[rule] for rule in suitable)
        section.note("allowance", f"this allowance does not suit the kind {kind.value}; write {ways}.")
        return None
    if isinstance(found, BoltPlay):
        for name in (found.hole, found.stud):
            section.refer("allowance", name, frozenset({Kind.LENGTH}))
    return found


def _read(section: Section, given: Any, choices: tuple[str, ...]) -> Allowance | None:
    match given:
        case "equal":
            return Equal()
        case "bolt_play":
            return BoltPlay(USUAL_HOLE, USUAL_STUD)
        case list():
            return _read_interval(section)
        case dict():
            return _read_table(section, given, choices)
        case _:
            ways = ", ".join(_WRITTEN.values())
            section.note("allowance", f"an allowance is one of {ways}, but this is {describe(given)}.")
            return None


def _read_interval(section: Section) -> Interval | None:
    ends = _find_ends(section, "allowance")
    return Interval(*ends) if ends else None


def _read_table(section: Section, given: dict[str, Any], choices: tuple[str, ...]) -> Allowance | None:
    layout = next((_TABLES[key] for key in given if key in _TABLES), None)
    if layout is None:
        section.note("allowance", f"an allowance in {{ }} says one of {', '.join(_TABLES)}.")
        return None
    inner = open_section(layout, given, (*section.path, "allowance"), section.page)
    if layout is PERCENT:
        ends = _find_ends(inner, "percent")
        return Percent(*ends) if ends else None
    if layout is AROUND:
        return _read_around(inner)
    if layout is ACCEPTS:
        return _read_accepts(inner, choices)
    hole, stud = inner.find_key("hole"), inner.find_key("stud")
    return BoltPlay(hole, stud) if hole and stud else None


def _read_around(inner: Section) -> Around | None:
    ends = _find_ends(inner, "around")
    cycle = inner.find_number("cycle", 1, 360)
    if ends is None or cycle is None:
        return None
    low, high = ends
    if high - low >= cycle:
        inner.note(
            "around", f"from {low:g} to {high:g} is the whole dial of {cycle:g}, so everything would pass."
        )
        return None
    return Around(low, high, cycle)


def _read_accepts(inner: Section, choices: tuple[str, ...]) -> Accepts | None:
    rows = inner.table["accepts"]
    if not isinstance(rows, dict):
        inner.note(
            "accepts", f"“accepts” should be a table with a list for each choice, but is {describe(rows)}."
        )
        return None
    before = len(inner.page.faults)
    table = Section(Layout("an accepts table", choices), rows, (*inner.path, "accepts"), inner.page)
    table.check_keys()
    accepted = {choice: table.list_texts(choice) for choice in choices if choice in rows}
    for choice, others in accepted.items():
        for other in others:
            if other not in choices:
                table.note(
                    choice,
                    f"“{other}” is accepted for “{choice}” but is none of the choices: {', '.join(choices)}.",
                )
        if choice not in others:
            table.note(choice, f"“{choice}” does not accept itself; add it to its list.")
    if len(inner.page.faults) > before:
        return None
    return Accepts({choice: frozenset(others) for choice, others in accepted.items()})


def _find_ends(section: Section, key: str) -> tuple[float, float] | None:
    """Return the ends of a range of differences, which must let an equal part pass and not every part."""
    ends = section.find_pair(key)
    if ends is None:
        return None
    low, high = ends
    if low > 0 or high < 0:
        section.note(
            key, f"from {low:g} to {high:g} leaves out 0, so a part equal to the old one would not fit."
        )
        return None
    if math.isinf(low) and math.isinf(high):
        section.note(
            key, "an allowance without either end lets everything pass; make the role “note” instead."
        )
        return None
    return ends
