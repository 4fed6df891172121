"""Dimensions that speak against a statement: what two sheets list cannot be right if the statement is."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from fitworth.families.model import Family
from fitworth.matching.allowances import Rule, accepts, allowed_range, difference, rules_of, scatter_u
from fitworth.matching.interchange_faults import VERBS
from fitworth.matching.parameters import FitModel
from fitworth.quantities.quantity import Quantity, Value
from fitworth.vocabulary import Kind, Relation

BEYOND = 3.0  # combined standard uncertainties beyond the allowance; own choice: coverage of 99.7 %, because
# dozens of dimensions are compared at once
DIGITS = 6  # of a difference; they hide what binary floats add
DEFAULT_MODEL = FitModel()


@dataclass(frozen=True, slots=True)
class Listing:
    """What the sheet of one part says.

    Attributes:
        part_id: the caller's number for it.
        name: what it is called in a sentence.
        maker: some scales are comparable within one maker only.
        values: the listed dimensions by key, numbers in the family's units.
    """

    part_id: int
    name: str
    maker: str
    values: Mapping[str, Value]


@dataclass(frozen=True, slots=True)
class Irreconcilable:
    """A dimension in which one part cannot stand in for another.

    Attributes:
        key: of the dimension.
        stand_in_id: the part that would stand in.
        replaced_id: the part that it would stand in for.
        difference: stand-in minus replaced [unit of the dimension], where both are numbers.
        allowance: the range of differences that does no harm [unit], where it is one; ends may be infinite.
        says: a sentence.
    """

    key: str
    stand_in_id: int
    replaced_id: int
    difference: float | None
    allowance: tuple[float, float] | None
    says: str


def list_irreconcilable(
    family: Family,
    relation: Relation,
    stand_in: Listing,
    replaced: Listing,
    model: FitModel = DEFAULT_MODEL,
) -> tuple[Irreconcilable, ...]:
    """Return the dimensions in which two sheets cannot be reconciled with a statement about them.

    A difference counts where it lies beyond the allowance by more than three combined standard uncertainties
    of both listings and the makers' scatter. Parts that are the same must do for each other both ways. Where
    one replaces the other with changes, what the cure of a dimension bridges is to be expected and is none.

    Args:
        family: of both parts.
        relation: what the statement says.
        stand_in: the part that may stand in.
        replaced: the part that it may stand in for.
        model: scatter, the width of "equal", and the play where no hole is listed.
    """
    found = {one.key: one for one in _one_way(family, relation, stand_in, replaced, model)}
    if relation is Relation.SAME_AS:
        for one in _one_way(family, relation, replaced, stand_in, model):
            found.setdefault(one.key, one)
    return tuple(found[key] for key in family.by_key if key in found)


def _one_way(
    family: Family, relation: Relation, stand_in: Listing, replaced: Listing, model: FitModel
) -> Iterator[Irreconcilable]:
    rules, _ = rules_of(family, replaced.values, model)
    for rule in rules:
        dimension = rule.dimension
        new, old = stand_in.values.get(dimension.key), rule.measured
        if new is None or old is None or not dimension.counts_for_fit:
            continue
        if dimension.scale_of and stand_in.maker != replaced.maker:
            continue
        bridged = relation is Relation.REPLACES_WITH_CHANGES and dimension.cure is not None
        differs, allowance, why = None, None, None
        if isinstance(new, Quantity) and isinstance(old, Quantity):
            differs, allowance, why = _numbers(rule, new, old, model, bridged=bridged)
        elif not bridged and not _words_agree(rule, new, old):
            why = f"{_shown(new)} against {_shown(old)} does not do the same job"
        if why:
            after = " with changes" if relation is Relation.REPLACES_WITH_CHANGES else ""
            says = (
                f"{stand_in.name} {VERBS[relation]} {replaced.name}{after}, "
                f"but {_within_sentence(dimension.label)} {why}."
            )
            yield Irreconcilable(dimension.key, stand_in.part_id, replaced.part_id, differs, allowance, says)


def _numbers(
    rule: Rule, new: Quantity, old: Quantity, model: FitModel, *, bridged: bool
) -> tuple[float, tuple[float, float], str | None]:
    """Return the difference, the allowance, and why the two cannot be reconciled, or None."""
    reference = np.array([old.value])
    low, high = (float(end[0]) for end in allowed_range(rule, reference, model))
    differs = round(float(difference(rule, np.array([new.value]), reference)[0]), DIGITS)
    u = math.hypot(
        new.standard_uncertainty, old.standard_uncertainty, float(scatter_u(rule, reference, model)[0])
    )
    cure = rule.dimension.cure
    widest = (min(low, cure.low), max(high, cure.high)) if bridged and cure else (low, high)
    if widest[0] - BEYOND * u <= differs <= widest[1] + BEYOND * u:
        return differs, (low, high), None
    unit = "" if old.unit == "1" else f" {old.unit}"
    why = f"{new.value:g}{unit} against {old.value:g}{unit} {_outside(*widest, unit)}"
    return differs, (low, high), why


def _outside(low: float, high: float, unit: str) -> str:
    """Return how a difference lies outside a range, of which one end at least is finite."""
    if math.isinf(low):
        return f"is larger by more than {high:g}{unit}"
    if math.isinf(high):
        return f"is smaller by more than {-low:g}{unit}"
    return f"is outside {low:+g} to {high:+g}{unit}"


def _words_agree(rule: Rule, new: Value, old: Value) -> bool:
    if rule.dimension.kind is Kind.CHOICE:
        return accepts(rule, str(old), str(new))
    return new == old


def _shown(value: Value) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, frozenset):
        return ", ".join(sorted(value)) or "none"
    return str(value).replace("_", " ")


def _within_sentence(label: str) -> str:
    """Return a label as it stands within a sentence, abbreviations left as they are."""
    return label if label[1:2].isupper() else label[:1].lower() + label[1:]
