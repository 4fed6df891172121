"""What each instrument leaves open, as one table."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from fitworth.quantities.uncertainty import Component, rectangular
from fitworth.vocabulary import Instrument, Kind


@dataclass(frozen=True, slots=True)
class Limit:
    """The half-width within which an instrument reads true, in ordinary hands.

    Attributes:
        absolute: the same at every size [canonical unit].
        relative: share of the reading [1].
        source: where the figure comes from.
    """

    absolute: float
    relative: float
    source: str


@dataclass(frozen=True, slots=True)
class JawFlats:
    """The flats of a caliper's inside jaws, which span a chord of a hole instead of its diameter.

    Attributes:
        width_mm: width of the chord that both flats span, w. Own choice: workshop calipers lie around it.
        width_half_mm: half-width of that assumption. Own choice.
        small_hole_mm: holes up to this are corrected. Own choice: above it the correction, w^2 / (2 D),
            is a quarter of the caliper's own limit, and what was typed is better shown as typed.
    """

    width_mm: float = 0.5
    width_half_mm: float = 0.25
    small_hole_mm: float = 12.0


JAWS = JawFlats()

_DIN_862 = "DIN 862, digital caliper, 10 to 50 mm"
_NAMED = "own choice: nothing is read off a scale"
_LENGTH_LIMITS: Mapping[Instrument, Limit] = MappingProxyType(
    {
        Instrument.CALIPER_OUTSIDE: Limit(0.02, 0.0, _DIN_862 + ", outside jaws"),
        Instrument.CALIPER_INSIDE: Limit(0.04, 0.0, _DIN_862 + ", inside jaws and depth"),
        Instrument.MICROMETER: Limit(
            0.01, 0.0, "own choice: DIN 863 allows 0.004 (from memory); the rest is feel"
        ),
        Instrument.DRILL_SHANK: Limit(0.1, 0.0, "common practice, no source: sets go up in tenths"),
        Instrument.TAPER_GAUGE: Limit(0.1, 0.0, "common practice, no source: divided in tenths"),
        Instrument.RULE: Limit(0.5, 0.0, "common practice, no source: half a division each way"),
        Instrument.TAPE: Limit(1.0, 0.0, "common practice, no source: a division, the hook's play included"),
    }
)
_MULTIMETER = "common practice, no source: a hand-held meter's"
LIMITS: Mapping[tuple[Instrument, Kind], Limit] = MappingProxyType(
    {(instrument, Kind.LENGTH): limit for instrument, limit in _LENGTH_LIMITS.items()}
    | {
        (Instrument.RULE, Kind.ANGLE): Limit(1.0, 0.0, "own choice: a protractor, to one division"),
        (Instrument.MULTIMETER, Kind.RESISTANCE): Limit(0.0, 0.01, f"{_MULTIMETER} resistance ranges"),
        (Instrument.MULTIMETER, Kind.CAPACITANCE): Limit(0.0, 0.04, f"{_MULTIMETER} capacitance ranges"),
    }
    | {
        (instrument, kind): Limit(0.0, 0.0, _NAMED)
        for instrument in (Instrument.LOOK, Instrument.LISTING)
        for kind in Kind
    }
)
"""By instrument and kind; a pair that is missing is no way to measure that kind."""


def can_measure(instrument: Instrument, kind: Kind) -> bool:
    """Return whether an instrument is a way to measure this kind; what is named can be found with any."""
    return (instrument, kind) in LIMITS or not kind.is_numeric


def limit_component(instrument: Instrument, kind: Kind, value: float) -> Component:
    """Return what an instrument leaves open at a value.

    Args:
        instrument: what was used; one that does not measure this kind adds nothing.
        kind: a numeric kind.
        value: the reading [canonical unit].

    Returns:
        A rectangular component [canonical unit].
    """
    limit = LIMITS.get((instrument, kind))
    return rectangular(limit.absolute + limit.relative * abs(value) if limit else 0.0)


def correct_inside_reading(reading_mm: float) -> tuple[float, Component]:
    """Return a hole's diameter from what inside jaws read in it, and what the assumed jaws leave open.

    Jaws with flats of width w touch the hole with the flats' edges and read sqrt(D^2 - w^2), low by
    D - sqrt(D^2 - w^2). Geometry; holes above `JawFlats.small_hole_mm` are left as read.

    Args:
        reading_mm: the reading [mm].

    Returns:
        The diameter D [mm] and the component of the correction [mm].

    Examples:
        >>> round(correct_inside_reading(6.5)[0], 3)
        6.519
    """
    if not 0.0 < reading_mm <= JAWS.small_hole_mm:
        return reading_mm, Component(0.0)
    diameter_mm = math.hypot(reading_mm, JAWS.width_mm)
    # dD/dw = w / D, GUM 5.1.3.
    return diameter_mm, rectangular(JAWS.width_mm / diameter_mm * JAWS.width_half_mm)
