"""The allowances of one query: which rule holds for each dimension, given what was measured."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fitworth.errors import InvalidValueError
from fitworth.families.model import Accepts, Allowance, Around, BoltPlay, Dimension, Family, Interval, Percent
from fitworth.matching.answer import Floats
from fitworth.matching.parameters import FitModel
from fitworth.quantities.fasteners import largest_standard_stud_mm
from fitworth.quantities.quantity import Quantity, Value
from fitworth.vocabulary import Kind

HALF_A_COUNT = 0.5  # counts that must be equal differ by less than this


@dataclass(frozen=True, slots=True)
class Rule:
    """A dimension with the allowance that holds in this query and the removed part's value.

    Attributes:
        dimension: of the family.
        allowance: never a BoltPlay, which became an interval; None for notes.
        measured: the removed part's value, or None.
    """

    dimension: Dimension
    allowance: Allowance | None
    measured: Value | None

    @property
    def number(self) -> Quantity | None:
        """The removed part's value where it is a number."""
        return self.measured if isinstance(self.measured, Quantity) else None


def rules_of(
    family: Family, measured: Mapping[str, Value], model: FitModel
) -> tuple[tuple[Rule, ...], tuple[str, ...]]:
    """Return the rule of each dimension, in the family's order, and sentences on what was assumed.

    Args:
        family: the family.
        measured: the removed part's dimensions by key.
        model: for the bolt play where no hole was measured.
    """
    rules, said = [], []
    for dimension in family.dimensions:
        allowance = dimension.allowance
        for exception in dimension.allowance_when:
            if measured.get(exception.dimension) == exception.value:
                allowance = exception.allowance
        if isinstance(allowance, BoltPlay):
            play_mm, assumed = bolt_play_mm(allowance, measured, model)
            allowance = Interval(-play_mm, play_mm)
            if assumed and dimension.key in measured:
                said.append(f"{dimension.label}: {assumed}")
        rules.append(Rule(dimension, allowance, measured.get(dimension.key)))
    return tuple(rules), tuple(said)


def bolt_play_mm(
    allowance: BoltPlay, measured: Mapping[str, Value], model: FitModel
) -> tuple[float, str | None]:
    """Return how far a two-hole spacing may differ either way [mm], and what had to be assumed for it.

    Hole minus stud: two studs fixed in the engine pass two clearance holes while the centre distances differ
    by at most that (floating fastener, ASME Y14.5). The largest standard stud that the hole clears is the
    cautious guess.
    """
    hole, stud = measured.get(allowance.hole), measured.get(allowance.stud)
    usual = f"a play of {model.usual_bolt_play_mm:g} mm is assumed"
    if not isinstance(hole, Quantity):
        return model.usual_bolt_play_mm, f"the bolt hole was not measured, so {usual}."
    if isinstance(stud, Quantity):
        if stud.value < hole.value:
            return hole.value - stud.value, None
        return (
            model.usual_bolt_play_mm,
            f"the stud is no thinner than its hole, so one is misread and {usual}.",
        )
    try:
        likely = largest_standard_stud_mm(hole.value)
    except InvalidValueError:
        return (
            model.usual_bolt_play_mm,
            f"no standard stud belongs to a hole of {hole.value:g} mm, so {usual}.",
        )
    play_mm = hole.value - likely.diameter_mm
    return (
        play_mm,
        f"the stud was not measured; {likely.name} is assumed, which leaves a play of {play_mm:.2f} mm.",
    )


def allowed_range(rule: Rule, reference: Floats, model: FitModel) -> tuple[Floats, Floats]:
    """Return the range of allowed differences for removed parts of these sizes, low and high (n,) [unit].

    Args:
        rule: of a numeric dimension that counts for fit.
        reference: (n,) values of the removed part [unit].
        model: for lengths that must be equal.
    """
    match rule.allowance:
        case Percent(low, high):
            size = np.abs(reference) / 100.0
            return low * size, high * size
        case Interval(low, high) | Around(low, high):
            return np.full(reference.shape, low), np.full(reference.shape, high)
        case _:
            half = (
                np.full(reference.shape, HALF_A_COUNT)
                if rule.dimension.kind is Kind.COUNT
                else model.equal_within * np.abs(reference)
            )
            return -half, half


def forgive(ends: tuple[Floats, Floats], u: Floats) -> tuple[Floats, Floats]:
    """Return a range of allowed differences, its ends moved out where they lie within the uncertainty of 0.

    Where a part may be shorter but not longer, one end is 0, and of equal parts every other one would read
    as too long. An end nearer to 0 than one standard uncertainty moves as far beyond it as it falls short:
    0 becomes two standard uncertainties. Own choice, because two figures that agree are no mismatch.

    Args:
        ends: low, at most 0, and high, at least 0 [unit].
        u: combined standard uncertainty of the difference [unit].
    """
    low, high = ends
    return np.minimum(low, -2.0 * u - low), np.maximum(high, 2.0 * u - high)


def difference(
    rule: Rule, candidate: npt.NDArray[np.floating], reference: npt.NDArray[np.floating]
) -> Floats:
    """Return candidate minus removed [unit]; on a dial the shorter way round."""
    differs = np.asarray(candidate - reference)
    if isinstance(rule.allowance, Around):
        cycle = rule.allowance.cycle
        differs = (differs + cycle / 2.0) % cycle - cycle / 2.0
    return differs


def accepts(rule: Rule, removed: str, candidate: str) -> bool:
    """Return whether a choice does the job of the removed part's."""
    if isinstance(rule.allowance, Accepts):
        return candidate in rule.allowance.table.get(removed, frozenset((removed,)))
    return candidate == removed


def mendable_range(rule: Rule) -> tuple[float, float]:
    """Return the range of differences that the cure bridges [unit]; empty (inf, -inf) without one."""
    cure = rule.dimension.cure
    return (cure.low, cure.high) if cure else (math.inf, -math.inf)


def scatter_u(rule: Rule, value: Floats, model: FitModel) -> Floats:
    """Return the makers' scatter of parts of these sizes, one standard deviation [unit].

    Where an allowance is narrow, makers hold the size more narrowly than usual: a key's width to hundredths.
    """
    scatter = model.makers_scatter[rule.dimension.kind]
    usual = np.hypot(scatter.absolute, scatter.relative * value)
    if rule.allowance is None:
        return usual
    low, high = allowed_range(rule, value, model)
    return np.minimum(usual, model.scatter_of_allowance * (high - low))
