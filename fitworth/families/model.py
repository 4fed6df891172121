"""Families of parts as values: a list of dimensions, each with its role and allowance.

Families are data. This module says what a family is once its file has been read and checked (`parse.py`);
nothing in the program knows a family's dimensions but from here.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from fitworth.vocabulary import Grade, Instrument, Kind, LifeClock, Role


@dataclass(frozen=True, slots=True)
class Interval:
    """Candidate minus removed must lie in [low, high], in the dimension's unit; an end may be infinite."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Percent:
    """Candidate minus removed must lie between these percentages of the removed part's value."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Equal:
    """The candidate's value must be the removed part's."""


@dataclass(frozen=True, slots=True)
class Around:
    """Candidate minus removed must lie in [low, high] on a dial of `cycle` steps: a clock has 12."""

    low: float
    high: float
    cycle: float


@dataclass(frozen=True, slots=True)
class Accepts:
    """For each value of the removed part, the candidate's values that do its job."""

    table: Mapping[str, frozenset[str]]


@dataclass(frozen=True, slots=True)
class BoltPlay:
    """A two-hole spacing may differ by hole minus stud either way (floating fastener, ASME Y14.5).

    `hole` names the dimension with the hole's diameter, `stud` the one with the stud's; where no stud was
    measured, the largest standard stud that the hole clears is assumed.
    """

    hole: str
    stud: str


Allowance = Interval | Percent | Equal | Around | Accepts | BoltPlay


@dataclass(frozen=True, slots=True)
class AllowanceWhen:
    """Another allowance where a choice was measured so: a rubber elbow forgives more than a rigid base."""

    dimension: str
    value: str
    allowance: Allowance


@dataclass(frozen=True, slots=True)
class Cure:
    """The work and goods that let a part go on in spite of a `connect` mismatch.

    `low` and `high` bound the difference (candidate minus removed, in the unit) that the work can bridge.
    """

    needs: tuple[str, ...]
    minutes: float
    cost: float  # goods of the cure where no quote covers them, in the currency of the assumptions
    low: float = -math.inf
    high: float = math.inf


@dataclass(frozen=True, slots=True)
class Dimension:
    """One measurable or nameable property of a family."""

    key: str
    label: str
    kind: Kind
    unit: str  # canonical: "mm", "deg", "ohm", "uF", "1"; "" where the kind has no number
    role: Role
    how: str
    allowance: Allowance | None  # None only for notes
    instrument: Instrument
    plausible: tuple[float, float] | None = None  # outside it, an entry is refused as a slip of unit or digit
    choices: tuple[str, ...] = ()
    allowance_when: tuple[AllowanceWhen, ...] = ()
    consequence: str = ""
    workshop_note: str = ""
    cure: Cure | None = None
    scale_of: str = ""  # "maker": values are comparable within one maker's scale only

    @property
    def counts_for_fit(self) -> bool:
        """Whether a mismatch here means anything for the fit."""
        return self.role is not Role.NOTE


@dataclass(frozen=True, slots=True)
class Life:
    """How a family's parts wear out: the clock that counts, and the Weibull shape of their life."""

    clock: LifeClock
    shape: float


@dataclass(frozen=True, slots=True)
class Repair:
    """What can be tried with the removed part itself, and which family's kits serve it."""

    kit_family: str
    cure_table: str  # the group of cure-chance assumptions that reads the condition
    kit_contains: tuple[str, ...] = ()  # a kit rebuilds if its box has any of these; empty: any kit


@dataclass(frozen=True, slots=True)
class Clears:
    """A check whose result says that the part is good and the fault lies elsewhere."""

    check: str
    result: str
    says: str


@dataclass(frozen=True, slots=True)
class Ratio:
    """A proportion between two dimensions outside which an entry is likely a slip."""

    numerator: str
    denominator: str
    low: float
    high: float


@dataclass(frozen=True)
class Family:
    """A kind of part with its own list of dimensions."""

    key: str
    label: str
    view: str
    grades: tuple[Grade, ...]
    life: Life
    dimensions: tuple[Dimension, ...]
    needs: tuple[str, ...] = ()  # what fitting one usually requires besides the part
    needs_from: str = ""  # a set dimension that replaces `needs` where it was measured
    repair: Repair | None = None
    clears: tuple[Clears, ...] = ()
    ratios: tuple[Ratio, ...] = ()
    cautions: tuple[str, ...] = ()  # keys of the cautions shown with this family

    @cached_property
    def by_key(self) -> Mapping[str, Dimension]:
        """The dimensions by their key."""
        return {dimension.key: dimension for dimension in self.dimensions}

    @cached_property
    def fit_dimensions(self) -> tuple[Dimension, ...]:
        """The dimensions that count for fit, in the family's order."""
        return tuple(dimension for dimension in self.dimensions if dimension.counts_for_fit)
