"""Entries that cannot be what was measured, and the slip that each looks like."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from fitworth.errors import InvalidValueError
from fitworth.families.model import Dimension
from fitworth.quantities.units import Unit, get_unit
from fitworth.vocabulary import Kind


@dataclass(frozen=True, slots=True)
class Slip:
    """One usual slip.

    Attributes:
        factor: what was meant is the entry times this.
        question: what may have happened.
        meant_in: the unit that was meant, "" for the one that was read.
        read_in: the unit that was read where this slip happens, "" for any.
    """

    factor: float
    question: str
    meant_in: str = ""
    read_in: str = ""


_MISSING_POINT = "Is the decimal point missing?"
SLIPS: Mapping[Kind, tuple[Slip, ...]] = MappingProxyType(
    {
        Kind.LENGTH: (
            Slip(25.4, "Is it in inches?", "in", "mm"),
            Slip(1 / 25.4, "Is it in millimetres, not inches?", "mm", "in"),
            Slip(0.1, _MISSING_POINT),
            Slip(0.01, "Or is it missing two places from the end?"),
            Slip(10.0, "Is it in centimetres?", "cm", "mm"),
            Slip(0.0254, "Is it in thousandths of an inch?", "thou", "mm"),
        ),
        Kind.RESISTANCE: (
            Slip(1000.0, "Is it in kilohms?", "kohm", "ohm"),
            Slip(0.001, "Is it in ohms, not kilohms?", "ohm", "kohm"),
            Slip(0.1, _MISSING_POINT),
        ),
        Kind.CAPACITANCE: (
            Slip(0.001, "Is it in nanofarads?", "nF", "uF"),
            Slip(0.000001, "Is it in picofarads?", "pF", "uF"),
            Slip(0.1, _MISSING_POINT),
        ),
    }
)
"""By kind, likeliest first (own choice)."""

_MOST_REMEDIES = 2


def check_plausible(dimension: Dimension, value: float, unit: Unit) -> None:
    """Refuse a value outside what the dimension can be, and name the slip that it looks like.

    Args:
        dimension: its `plausible` interval counts, ends included; without one every value passes.
        value: as read [canonical unit].
        unit: the unit that it was read in.

    Raises:
        InvalidValueError: the value lies outside.
    """
    if dimension.plausible is None:
        return
    low, high = dimension.plausible
    if low <= value <= high:
        return
    remedies = [
        _say_remedy(slip, value * slip.factor, dimension.kind, unit)
        for slip in SLIPS.get(dimension.kind, ())
        if slip.read_in in {"", unit.symbol} and low <= value * slip.factor <= high
    ]
    symbol = "" if dimension.kind is Kind.COUNT else f" {dimension.unit}"
    said = (
        f"{value:.6g}{symbol} cannot be right for “{dimension.label}”, between {low:g} and {high:g}{symbol}."
    )
    advice = remedies[:_MOST_REMEDIES] or ["Check the number, the point and the unit."]
    raise InvalidValueError(" ".join([said, *advice]))


def _say_remedy(slip: Slip, meant: float, kind: Kind, read: Unit) -> str:
    unit = get_unit(slip.meant_in, kind) if slip.meant_in else read
    return f"{slip.question} Then write {meant / float(unit.factor):.5g} {unit.symbol}."
