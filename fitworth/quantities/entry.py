"""The grammar of one number with its unit, before anything is decided: decimals, fractions, drills."""

import re
from dataclasses import dataclass
from enum import Enum, auto
from fractions import Fraction

from fitworth.errors import InvalidValueError
from fitworth.quantities.drills import get_drill_mm
from fitworth.quantities.units import CANONICAL, INCH, Unit, get_unit
from fitworth.vocabulary import Kind

DENOMINATORS = (2, 4, 8, 16, 32, 64, 128)
"""Workshop fractions; any other denominator is taken for a slip (common practice)."""


class Shape(Enum):
    """How a number was written."""

    WHOLE = auto()
    DECIMAL = auto()
    MIXED = auto()  # 1 9/16
    PROPER = auto()  # 9/16, and 25/16: a fraction alone


@dataclass(frozen=True, slots=True)
class Entry:
    """A number as it stands in a text.

    Attributes:
        amount: the number [its own unit].
        half_step: half of its last place [its own unit].
        shape: how it was written.
        unit: the unit written after it, None for none.
        is_drill: whether it is the nominal size of a drill.
        text: the number without its unit, plain.
    """

    amount: Fraction
    half_step: Fraction
    shape: Shape
    unit: Unit | None = None
    is_drill: bool = False
    text: str = ""


_ENTRY = re.compile(
    r"(?P<sign>[+-]?) ?"
    r"(?P<number>(?:(?P<whole>\d+)(?: |- ?))?(?P<over>\d+)/(?P<under>\d+)"
    r"|(?P<units>\d+)(?:[.,](?P<places>\d+))?|[.,](?P<only_places>\d+))"
    r" ?(?P<unit>[^\d\s.,/+-]\D*)?",
    re.ASCII,
)
_DRILL_BEFORE = re.compile(r"^drill ?", re.IGNORECASE)
_DRILL_AFTER = re.compile(r" ?(?:drill bit|drill shank|drill|bit)$", re.IGNORECASE)
_DRILL_NUMBER = re.compile(r"(?:#|no\.?|nr\.?|number) ?(?P<number>\d{1,3})", re.IGNORECASE | re.ASCII)
_DRILL_LETTER = re.compile(r"(?P<word>letter )?(?P<letter>[a-z])", re.IGNORECASE | re.ASCII)
_PLUS_MINUS = re.compile(r"±|\+ ?/ ?-|\+-")
_RESTATED = re.compile(r"(?P<first>[^()]+)\((?P<second>[^()]+)\)")
_COMMA_OR_THOUSANDS = re.compile(r"[1-9]\d{0,2},\d{3}", re.ASCII)
_PERCENT = re.compile(r"(?P<units>\d+)(?:[.,](?P<places>\d{1,6}))? ?%", re.ASCII)
_DIAMETER_SIGNS = "Øø⌀∅"

_REASONS = (
    (
        re.compile(r"^[+-]?(?:nan|inf|infinity)\b", re.IGNORECASE),
        "This is not a number that can be measured.",
    ),
    (re.compile(r"\d[.,]?e[+-]?\d", re.IGNORECASE), "Write the number in full, without a power of ten."),
    (re.compile(r"\d[,.' ]\d{3}(?!\d)"), "Write the number without separators between thousands."),
    (
        re.compile(r"\d[^\d+]*?(?:-|\bto\b|\.\.|…)\D*\d"),
        "This looks like a range: write its middle and half its width, such as 0.75 mm ± 0.05 mm.",
    ),
)


def split_plus_minus(text: str) -> tuple[str, str]:
    """Return the text before a ± (or +/-, +-) and the text after it, "" where there is none.

    Raises:
        InvalidValueError: nothing stands on one side of it, or there is more than one.
    """
    first, *others = (part.strip() for part in _PLUS_MINUS.split(text))
    if not others:
        return first, ""
    if len(others) > 1 or not first or not others[0]:
        raise InvalidValueError(
            "One ± between the value and its half-width is wanted, as in 24.1 mm ± 0.2 mm."
        )
    return first, others[0]


def split_restated(text: str) -> tuple[str, str]:
    """Return the text before a pair of brackets at the end and the text within, "" where there is none."""
    match = _RESTATED.fullmatch(text)
    return (match["first"].strip(), match["second"].strip()) if match else (text, "")


def find_percent(text: str) -> Fraction | None:
    """Return the share that "5 %" names, or None where the text is no percentage."""
    match = _PERCENT.fullmatch(text)
    return Fraction(f"{match['units']}.{match['places'] or 0}") / 100 if match else None


def parse(text: str, kind: Kind) -> Entry:
    """Return one number with its unit.

    Args:
        text: plain characters, without a ±.
        kind: a numeric kind; drills and diameter signs are read in lengths only.

    Raises:
        InvalidValueError: it is no number, has two readings, or its unit is none of this kind.
    """
    if kind is Kind.LENGTH:
        text = text.lstrip(_DIAMETER_SIGNS).strip()
        core = _DRILL_AFTER.sub("", _DRILL_BEFORE.sub("", text))
        is_drill = core != text
        if drill := _find_named_drill(core, said=is_drill):
            return drill
        if is_drill:
            return _parse_drill(core)
    return _parse_number(text, kind)


def say_both_readings(number: Entry) -> str:
    """Return the sentence that refuses a bare fraction and offers both readings."""
    inches_mm, millimetres_mm = float(number.amount * INCH.factor), float(number.amount)
    return (
        f"“{number.text}” could be inches ({inches_mm:.2f} mm) or millimetres ({millimetres_mm:.2f} mm): "
        f"write {number.text} in or {number.text} mm."
    )


def _find_named_drill(core: str, *, said: bool) -> Entry | None:
    """Return the drill that a number or letter names, or None where the text is something else."""
    if match := _DRILL_NUMBER.fullmatch(core):
        number = str(int(match["number"]))
        if not said:
            raise InvalidValueError(
                f"#{number} could be a drill or a screw: write “#{number} drill”, or the size with its unit."
            )
        size_mm = get_drill_mm(number)
    elif (match := _DRILL_LETTER.fullmatch(core)) and (said or match["word"]):
        size_mm = get_drill_mm(match["letter"].upper())
    else:
        return None
    return Entry(size_mm, Fraction(0), Shape.DECIMAL, CANONICAL[Kind.LENGTH], is_drill=True, text=core)


def _parse_drill(core: str) -> Entry:
    """Return a drill by its size; one without a unit is a fraction of an inch or decimal millimetres."""
    number = _parse_number(core, Kind.LENGTH)
    if number.unit is None and number.shape is Shape.WHOLE:
        raise InvalidValueError(
            f"“{number.text} drill” could be #{number.text} or {number.text} mm: "
            f"write “#{number.text} drill” or “{number.text} mm drill”."
        )
    in_fractions = number.shape in {Shape.MIXED, Shape.PROPER}
    unit = number.unit or (INCH if in_fractions else CANONICAL[Kind.LENGTH])
    return Entry(number.amount, number.half_step, number.shape, unit, is_drill=True, text=number.text)


def _parse_number(text: str, kind: Kind) -> Entry:
    match = _ENTRY.fullmatch(text)
    if match is None:
        raise InvalidValueError(_say_why(text, kind))
    unit = get_unit(match["unit"].strip(), kind) if match["unit"] else None
    sign = -1 if match["sign"] == "-" else 1
    if match["under"]:
        amount, half_step = _read_fraction(match["whole"], int(match["over"]), int(match["under"]))
        shape = Shape.MIXED if match["whole"] else Shape.PROPER
    else:
        units, places = match["units"] or "0", match["places"] or match["only_places"] or ""
        if _COMMA_OR_THOUSANDS.fullmatch(match["number"]):
            raise InvalidValueError(
                f"“{units},{places}” could be {units}.{places} or {units}{places}: write the one you mean."
            )
        amount, half_step = Fraction(f"{units}.{places or 0}"), Fraction(1, 2 * 10 ** len(places))
        shape = Shape.DECIMAL if places else Shape.WHOLE
    return Entry(sign * amount, half_step, shape, unit, text=f"{'-' if sign < 0 else ''}{match['number']}")


def _read_fraction(whole: str | None, over: int, under: int) -> tuple[Fraction, Fraction]:
    if under not in DENOMINATORS:
        raise InvalidValueError(
            "Fractions are halves, quarters, 8ths, 16ths, 32nds, 64ths or 128ths: check the lower number."
        )
    if over == 0 or (whole and over >= under):
        raise InvalidValueError("After a whole number the fraction must lie between 0 and 1, as in 1 9/16.")
    return int(whole or 0) + Fraction(over, under), Fraction(1, 2 * under)


def _say_why(text: str, kind: Kind) -> str:
    for pattern, reason in _REASONS:
        if pattern.search(text):
            return reason
    example = {Kind.LENGTH: "39.7 mm, 1 9/16 in or 30 thou", Kind.COUNT: "2"}.get(
        kind, f"8.6 {CANONICAL[kind].symbol}"
    )
    return f"“{text[:40]}” cannot be read as a number: write it like {example}."
