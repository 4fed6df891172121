"""One dimension of a family file: its kind and unit, its allowance, what a mismatch does and its cure."""

import math

from fitworth.families.allowances import find_allowance
from fitworth.families.layout import ALLOWANCE_WHEN, CURE
from fitworth.families.model import AllowanceWhen, BoltPlay, Cure, Dimension
from fitworth.families.reading import CHOICE_GRAMMAR, LARGEST_NUMBER, Section
from fitworth.vocabulary import Instrument, Kind, Role

# A query by GET passes dimensions beside these names of its own.
RESERVED_NAMES = frozenset(
    {
        *("family", "instrument", "marking", "known_number", "engine", "limit"),
        *("cursor", "format", "field", "on_error", "decimal"),
    }
)
UNITS: dict[Kind, str] = {
    Kind.LENGTH: "mm",
    Kind.ANGLE: "deg",
    Kind.RESISTANCE: "ohm",
    Kind.CAPACITANCE: "uF",
    Kind.COUNT: "1",
}
MINUTES_IN_A_DAY = 1440.0


def find_dimension(section: Section) -> Dimension | None:
    """Return the dimension of one [[dimension]] table, or None where it cannot be read as one."""
    key, label, how = section.find_key("key"), section.find_text("label"), section.find_text("how")
    if key in RESERVED_NAMES:
        section.note(
            "key", f"“{key}” is a name that queries use themselves; call the dimension something else."
        )
    kind, role = section.find_word("kind", Kind), section.find_word("role", Role)
    unit, instrument = section.find_text("unit"), section.find_word("instrument", Instrument)
    choices = section.list_keys("choices", CHOICE_GRAMMAR)
    plausible, cure = _find_plausible(section), _find_cure(section)
    texts = {name: section.find_text(name) or "" for name in ("consequence", "workshop_note", "scale_of")}
    if texts["scale_of"] not in {"", "maker"}:
        section.note("scale_of", "“scale_of” can only be “maker”: values compare within one maker's scale.")
    whens = section.list_sections("allowance_when", ALLOWANCE_WHEN)
    if kind is None:
        return None
    _note_what_suits_no(section, kind)
    allowance = find_allowance(section, kind, choices)
    if isinstance(allowance, BoltPlay) and key in {allowance.hole, allowance.stud}:
        section.note(
            "allowance", f"bolt_play takes “{key}” from the dimension itself; name a hole and a stud."
        )
    exceptions = tuple(_find_when(when, kind, choices) for when in whens)
    _note_what_suits_no_role(section, role)
    if not key or role is None or (allowance is None and role is not Role.NOTE):
        return None
    return Dimension(
        key=key,
        label=label or "",
        kind=kind,
        unit=unit or UNITS.get(kind, ""),
        role=role,
        how=how or "",
        allowance=allowance,
        instrument=instrument or Instrument.LOOK,
        plausible=plausible,
        choices=choices,
        allowance_when=tuple(exception for exception in exceptions if exception is not None),
        cure=cure,
        **texts,
    )


def _note_what_suits_no(section: Section, kind: Kind) -> None:
    """Note what a dimension of this kind cannot have, and what it must."""
    table = section.table
    unit = UNITS.get(kind, "")
    if "unit" in table and table["unit"] != unit:
        right = f"its unit is “{unit}”" if unit else "it has no unit; leave the line out"
        section.note("unit", f"a {kind.value} is not written in “{table['unit']}”: {right}.")
    if kind is Kind.CHOICE and not table.get("choices"):
        section.note("choices", 'a choice must list its choices, like choices = ["left", "right"].')
    if "choices" in table and kind not in {Kind.CHOICE, Kind.SET}:
        section.note("choices", f"a {kind.value} has no choices; leave them out or make the kind “choice”.")
    if kind.is_numeric:
        if "instrument" not in table:
            section.note("instrument", f"a {kind.value} is measured; say with which instrument.")
        return
    for key in ("plausible", "scale_of"):
        if key in table:
            section.note(key, f"a {kind.value} has no number, so “{key}” means nothing; leave it out.")
    cure = table.get("cure")
    if isinstance(cure, dict) and "within" in cure:
        section.note("cure", f"a {kind.value} has no number, so the cure cannot say “within”; leave it out.")


def _note_what_suits_no_role(section: Section, role: Role | None) -> None:
    if role not in {None, Role.NOTE} and "allowance" not in section.table:
        section.page.note(
            section.path,
            "“allowance” is missing; only a note does without, all else says how far a part may differ.",
        )
    if role not in {None, Role.CONNECT} and "cure" in section.table:
        section.note(
            "cure",
            f"only a “connect” mismatch is curable, not a “{role}” one; tell the work in workshop_note.",
        )


def _find_plausible(section: Section) -> tuple[float, float] | None:
    pair = section.find_pair("plausible")
    if pair and pair[0] == pair[1]:
        section.note("plausible", "“plausible” leaves room for a single value; write a range.")
    return pair


def _find_cure(section: Section) -> Cure | None:
    inner = section.find_section("cure", CURE)
    if inner is None:
        return None
    within = inner.find_pair("within") or (-math.inf, math.inf)
    return Cure(
        needs=inner.list_keys("needs"),
        minutes=inner.find_number("minutes", 0, MINUTES_IN_A_DAY) or 0.0,
        cost=inner.find_number("cost", 0, LARGEST_NUMBER) or 0.0,
        low=within[0],
        high=within[1],
    )


def _find_when(when: Section, kind: Kind, choices: tuple[str, ...]) -> AllowanceWhen | None:
    dimension, value = when.find_key("dimension"), when.find_text("value")
    allowance = find_allowance(when, kind, choices)
    if dimension and value:
        when.refer("dimension", dimension, frozenset({Kind.CHOICE}), value)
    if not dimension or not value or allowance is None:
        return None
    return AllowanceWhen(dimension, value, allowance)
