"""A number with its unit and its uncertainty, and how it was written."""

import math
from dataclasses import dataclass

SQRT3 = math.sqrt(3.0)


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value in a family's canonical unit with its standard uncertainty.

    Attributes:
        value: the best estimate [unit].
        unit: canonical unit: "mm", "deg", "ohm", "uF" or "1".
        standard_uncertainty: one standard deviation [unit] (JCGM 100:2008).
        as_entered: the text that it was read from.
        readings: how many repeated readings it stands for.
    """

    value: float
    unit: str
    standard_uncertainty: float
    as_entered: str
    readings: int = 1

    @property
    def plus_minus(self) -> float:
        """The half-width of the rectangular distribution with the same standard uncertainty [unit]."""
        return self.standard_uncertainty * SQRT3


Value = Quantity | str | bool | frozenset[str]
"""A dimension's value: a quantity, a choice or text, a flag, or a set."""
