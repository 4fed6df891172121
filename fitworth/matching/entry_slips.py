"""How an entry comes about that is wrong: in the wrong unit, with its point misplaced, mistyped; or anyhow.

If a figure was meant and the entry is wrong, its density is a mixture: with some share each the figure in
another unit, with its decimal point elsewhere, with one digit changed or two neighbouring ones exchanged, and
else anything. So an entry that is exactly such a slip of what is expected is likelier wrong than another one
as far off, and the slip can be named.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType

from fitworth.vocabulary import EntrySlip, Kind

INCH_MM = 25.4
MOST_DECIMALS = 2  # nobody types more; longer ones come from fractions of an inch. Own choice
SQRT_2PI = math.sqrt(2.0 * math.pi)


@dataclass(frozen=True, slots=True)
class DoubtModel:
    """The figures by which entries and readings are doubted; all are own choices.

    Attributes:
        unit_share: [share] of wrong numbers that are right in another unit of their kind.
        point_share: [share] of wrong numbers that have their decimal point one or two places off.
        digit_share: [share] of wrong numbers that have one digit wrong.
        swap_share: [share] of wrong numbers that have two neighbouring digits exchanged.
        least_probability: [probability] that an entry is wrong, from which it is listed.
        least_witnesses: [parts] how many others must agree on a dimension before an entry can stand against
            them; of two sheets that differ, either may be wrong.
        reading_probability: [probability] that a measurement is wrong, from which it is warned of.
        ratio_error: [1] scale of the natural logarithm of a proportion with a wrong entry: a factor of ten.
        ratio_weight: [parts] how many parts on file a family's usual range of a proportion weighs.
        ratio_spare: [parts] how many others may have an odd proportion by the same slip.
    """

    unit_share: float = 0.25
    point_share: float = 0.10
    digit_share: float = 0.15
    swap_share: float = 0.10
    least_probability: float = 0.90
    least_witnesses: int = 2
    reading_probability: float = 0.50
    ratio_error: float = 2.3
    ratio_weight: float = 10.0
    ratio_spare: int = 2


DEFAULT_DOUBTS = DoubtModel()

POINTS = (10.0, 0.1, 100.0, 0.01)
UNITS: Mapping[Kind, Mapping[float, EntrySlip]] = MappingProxyType(
    {
        Kind.LENGTH: {INCH_MM: EntrySlip.INCHES, 1.0 / INCH_MM: EntrySlip.MILLIMETRES},
        Kind.RESISTANCE: {1e3: EntrySlip.UNIT, 1e-3: EntrySlip.UNIT},
        Kind.CAPACITANCE: {1e-3: EntrySlip.UNIT, 1e-6: EntrySlip.UNIT},
    }
)
"""By kind: what was meant is the entry times the factor."""


@dataclass(frozen=True, slots=True)
class Expected:
    """What a number is expected to be.

    Attributes:
        value: [unit of the dimension].
        variance: of it, with the makers' scatter [unit squared].
    """

    value: float
    variance: float


def slip_densities(
    kind: Kind, entered: float, u: float, expected: Expected, doubts: DoubtModel = DEFAULT_DOUBTS
) -> dict[EntrySlip, float]:
    """Return the density of an entry as each kind of slip of what is expected [1/unit].

    Each is multiplied by its share of wrong numbers; a slip that cannot lead to the entry is left out.

    Args:
        kind: of the dimension.
        entered: the number on file or read [unit].
        u: its standard uncertainty [unit].
        expected: what it should be.
        doubts: the shares.
    """
    found: dict[EntrySlip, float] = {}
    units = UNITS.get(kind, {})
    for factor, slip in units.items():
        density = _scaled(entered, u, factor, expected)
        found[slip] = found.get(slip, 0.0) + doubts.unit_share / len(units) * density
    for factor in POINTS:
        density = _scaled(entered, u, factor, expected)
        found[EntrySlip.POINT] = found.get(EntrySlip.POINT, 0.0) + doubts.point_share / len(POINTS) * density
    variance = expected.variance + u * u
    for share, meant in (
        (doubts.digit_share, list(one_digit_off(entered))),
        (doubts.swap_share, list(neighbours_swapped(entered))),
    ):
        density = sum(_normal(one - expected.value, variance) for one in meant) / max(len(meant), 1)
        found[EntrySlip.DIGITS] = found.get(EntrySlip.DIGITS, 0.0) + share * density
    return {slip: density for slip, density in found.items() if density > 0.0}


def most_slips(kind: Kind, scatter: float, doubts: DoubtModel = DEFAULT_DOUBTS) -> float:
    """Return a bound on the density of any entry as all slips together [1/unit].

    Args:
        kind: of the dimension.
        scatter: the least standard deviation of what is expected [unit].
        doubts: the shares.
    """
    units = UNITS.get(kind, {})
    steepest = sum(units) * doubts.unit_share / max(len(units), 1) + sum(POINTS) * doubts.point_share / len(
        POINTS
    )
    return (steepest + doubts.digit_share + doubts.swap_share) / (SQRT_2PI * scatter)


def share_of_others(kind: Kind, doubts: DoubtModel = DEFAULT_DOUBTS) -> float:
    """Return the share of wrong numbers that are no nameable slip, 0..1."""
    units = doubts.unit_share if kind in UNITS else 0.0
    return 1.0 - units - doubts.point_share - doubts.digit_share - doubts.swap_share


def _scaled(entered: float, u: float, factor: float, expected: Expected) -> float:
    variance = expected.variance + (factor * u) ** 2
    return factor * _normal(factor * entered - expected.value, variance)


def _normal(off: float, variance: float) -> float:
    return math.exp(-0.5 * off * off / variance) / (SQRT_2PI * math.sqrt(variance))


def typed(number: float) -> str:
    """Return a number as somebody typed it, or nothing where nobody would have.

    >>> typed(24.1), typed(-0.75), typed(42.06875)
    ('24.1', '0.75', '')
    """
    text = f"{abs(number):.7g}"
    decimals = len(text.partition(".")[2])
    return "" if "e" in text or decimals > MOST_DECIMALS else text


def one_digit_off(number: float) -> Iterator[float]:
    """Yield the numbers that differ from one in a single digit; the first digit before others is never 0.

    >>> list(one_digit_off(3.0))[:4]
    [0.0, 1.0, 2.0, 4.0]
    """
    text = typed(number)
    for place, digit in enumerate(text):
        if digit == ".":
            continue
        leads = place == 0 and text[1:2].isdigit()
        for other in "0123456789"[leads:]:
            if other != digit:
                yield math.copysign(float(text[:place] + other + text[place + 1 :]), number)


def neighbours_swapped(number: float) -> Iterator[float]:
    """Yield the numbers that differ from one by two neighbouring digits exchanged, the point left in place.

    >>> list(neighbours_swapped(14.2))
    [41.2, 12.4]
    """
    text = typed(number)
    places = [place for place, digit in enumerate(text) if digit != "."]
    for left, right in pairwise(places):
        swapped = list(text)
        swapped[left], swapped[right] = text[right], text[left]
        if swapped != list(text):
            yield math.copysign(float("".join(swapped)), number)


def likeliest_slip(densities: Mapping[EntrySlip, float], anyhow: float) -> EntrySlip | None:
    """Return the slip that explains an entry best, or None where it is as likely none of them.

    Args:
        densities: of the slips [1/unit].
        anyhow: the density of wrong entries that are no nameable slip [1/unit].
    """
    best = max(densities, key=lambda slip: densities[slip], default=None)
    return best if best is not None and densities[best] > anyhow else None
