"""Units as people write them, by the kind of dimension, with exact factors to the canonical unit."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

from fitworth.errors import InvalidValueError
from fitworth.vocabulary import NUMERIC_KINDS, Kind


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit of a kind.

    Attributes:
        symbol: how this program writes it.
        kind: what it measures.
        factor: canonical units in one of it, exact.
        aliases: other ways to write it, read without regard to case.
        exact_aliases: other ways that mean it only in exactly this case (a capital M is mega).
    """

    symbol: str
    kind: Kind
    factor: Fraction
    aliases: tuple[str, ...] = ()
    exact_aliases: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Span:
    """What a kind's numbers can be at all; own choice, wide: a family's `plausible` is the narrow check.

    Attributes:
        called: the kind with its article, for sentences.
        smallest: the smallest size that is read [canonical unit].
        largest: the largest magnitude that is read [canonical unit].
        signed: whether zero and negative numbers mean something.
    """

    called: str
    smallest: Fraction
    largest: Fraction
    signed: bool = False


SPANS: Mapping[Kind, Span] = MappingProxyType(
    {
        Kind.LENGTH: Span("a length", Fraction(1, 10_000), Fraction(100_000)),  # 0.1 micrometre to 100 m
        Kind.ANGLE: Span("an angle", Fraction(0), Fraction(360), signed=True),
        Kind.RESISTANCE: Span("a resistance", Fraction(1, 1000), Fraction(10**9)),
        Kind.CAPACITANCE: Span("a capacitance", Fraction(1, 10**6), Fraction(10**6)),  # 1 pF to 1 F
        Kind.COUNT: Span(
            "a count", Fraction(0), Fraction(10**6), signed=True
        ),  # its own rule refuses negative counts
    }
)

INCH = Unit(
    "in",
    Kind.LENGTH,
    Fraction(254, 10),  # exactly, NIST SP 811 (attribution from memory)
    ("inch", "inches", "ins", '"', "″", "”", "“", "ʺ", "''", "’’", "′′"),
)

UNITS: tuple[Unit, ...] = (
    Unit("mm", Kind.LENGTH, Fraction(1), ("millimetre", "millimetres", "millimeter", "millimeters")),
    Unit("cm", Kind.LENGTH, Fraction(10), ("centimetre", "centimetres", "centimeter", "centimeters")),
    Unit("m", Kind.LENGTH, Fraction(1000), ("metre", "metres", "meter", "meters")),
    Unit(
        "µm",
        Kind.LENGTH,
        Fraction(1, 1000),
        ("um", "micron", "microns", "micrometre", "micrometres", "micrometer", "micrometers"),
    ),
    INCH,
    Unit("thou", Kind.LENGTH, INCH.factor / 1000, ("thous", "mil", "mils", "thousandth", "thousandths")),
    Unit("deg", Kind.ANGLE, Fraction(1), ("°", "º", "degree", "degrees", "degs")),
    Unit("ohm", Kind.RESISTANCE, Fraction(1), ("ohms", "Ω")),
    Unit(
        "kohm",
        Kind.RESISTANCE,
        Fraction(1000),
        ("kohms", "kΩ", "k", "kilohm", "kilohms", "kiloohm", "kiloohms"),
    ),
    # Never without regard to case: a small m would be a thousandth.
    Unit(
        "Mohm",
        Kind.RESISTANCE,
        Fraction(10**6),
        ("megohm", "megohms", "megaohm", "megaohms"),
        ("Mohm", "Mohms", "MOHM", "MOHMS", "MΩ"),
    ),
    # "mfd" is what old condensers have stamped on them for the microfarad.
    Unit("uF", Kind.CAPACITANCE, Fraction(1), ("µF", "mfd", "microfarad", "microfarads")),
    Unit("nF", Kind.CAPACITANCE, Fraction(1, 1000), ("nanofarad", "nanofarads")),
    Unit("pF", Kind.CAPACITANCE, Fraction(1, 10**6), ("picofarad", "picofarads", "mmfd")),
    Unit("1", Kind.COUNT, Fraction(1)),
)

CANONICAL: Mapping[Kind, Unit] = MappingProxyType(
    {
        kind: next(unit for unit in UNITS if unit.kind is kind and unit.factor == 1)
        for kind in Kind
        if kind in NUMERIC_KINDS
    }
)

_EXACT: Mapping[str, Unit] = MappingProxyType(
    {alias.replace("\u2126", "Ω"): unit for unit in UNITS for alias in unit.exact_aliases}
)
_FOLDED: Mapping[str, Unit] = MappingProxyType(
    {
        alias.casefold(): unit
        for unit in UNITS
        for alias in (*unit.aliases, *(() if unit.exact_aliases else (unit.symbol,)))
    }
)


def find_unit(text: str) -> Unit | None:
    """Return the unit that a text names, of whatever kind, or None.

    Args:
        text: a unit as people write it, white space stripped: "in", "Inches", "kΩ", "mm.".

    Examples:
        >>> find_unit("Inches").symbol
        'in'
        >>> find_unit("furlong") is None
        True
    """
    text = text.replace("\u2126", "Ω")  # the ohm sign and the Greek capital look alike
    bare = text.removesuffix(".")
    for spelling in (text, bare):
        unit = _EXACT.get(spelling) or _FOLDED.get(spelling.casefold())
        if unit is not None:
            return unit
    return None


def get_unit(text: str, kind: Kind) -> Unit:
    """Return the unit that a text names for a kind of number.

    Args:
        text: a unit as people write it.
        kind: a numeric kind.

    Raises:
        InvalidValueError: no such unit, or one that measures something else; it says which would be right.
    """
    unit = find_unit(text)
    right = _list_in_words(unit.symbol for unit in UNITS if unit.kind is kind)
    if unit is None:
        raise InvalidValueError(
            f"The unit “{text[:20]}” is not known; {SPANS[kind].called} is written in {right}."
        )
    if unit.kind is not kind:
        raise InvalidValueError(
            f"{unit.symbol} is a unit of {unit.kind}, but this is {SPANS[kind].called}, written in {right}."
        )
    return unit


def _list_in_words(words: Iterable[str]) -> str:
    *most, last = words
    return f"{', '.join(most)} or {last}" if most else f"“{last}” or without a unit"
