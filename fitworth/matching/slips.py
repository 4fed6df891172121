"""Entries that cannot be what was measured, and the slip that each looks like."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from fitworth.errors import InvalidValueError
from fitworth.families.model import Dimension
from fitworth.vocabulary import Kind


@dataclass(frozen=True, slots=True)
class Slip:
    """One usual slip.

    Attributes:
        factor: what was meant is the entry times this.
        remedy: the sentence that offers it, with a place for the number and, if it likes, `unit`.
        shown: that number is the entry times this.
    """

    factor: float
    remedy: str
    shown: float


_MISSING_POINT = "Is the decimal point missing? Then write {} {unit}."
SLIPS: Mapping[Kind, tuple[Slip, ...]] = MappingProxyType(
    {
        Kind.LENGTH: (
            Slip(25.4, "Is it in inches? Then write {} in.", 1.0),
            Slip(1 / 25.4, "Is it in millimetres, not inches? Then write {} mm.", 1 / 25.4),
            Slip(10.0, "Is it in centimetres? Then write {} cm.", 1.0),
            Slip(0.0254, "Is it in thousandths of an inch? Then write {} thou.", 1.0),
            Slip(0.1, _MISSING_POINT, 0.1),
            Slip(0.01, _MISSING_POINT, 0.01),
        ),
        Kind.RESISTANCE: (
            Slip(1000.0, "Is it in kilohms? Then write {} kohm.", 1.0),
            Slip(0.001, "Is it in ohms, not kilohms? Then write {} ohm.", 0.001),
        ),
        Kind.CAPACITANCE: (
            Slip(0.001, "Is it in nanofarads? Then write {} nF.", 1.0),
            Slip(0.000001, "Is it in picofarads? Then write {} pF.", 1.0),
            Slip(0.1, _MISSING_POINT, 0.1),
        ),
    }
)
"""By kind, likeliest first (own choice)."""

_MOST_REMEDIES = 2


def check_plausible(dimension: Dimension, value: float) -> None:
    """Refuse a value outside what the dimension can be, and name the slip that it looks like.

    Args:
        dimension: its `plausible` interval counts, ends included; without one every value passes.
        value: as read [canonical unit].

    Raises:
        InvalidValueError: the value lies outside.
    """
    if dimension.plausible is None:
        return
    low, high = dimension.plausible
    if low <= value <= high:
        return
    unit = "" if dimension.unit == "1" else f" {dimension.unit}"
    remedies = [
        slip.remedy.format(f"{value * slip.shown:.6g}", unit=dimension.unit)
        for slip in SLIPS.get(dimension.kind, ())
        if low <= value * slip.factor <= high
    ]
    said = f"{value:.6g}{unit} cannot be right for “{dimension.label}”, between {low:g} and {high:g}{unit}."
    advice = remedies[:_MOST_REMEDIES] or ["Check the number, the point and the unit."]
    raise InvalidValueError(" ".join([said, *advice]))
