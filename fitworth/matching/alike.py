"""Parts on file that agree in everything that both list: pairs that may be one design under two numbers.

Comparing every part with every other grows with the square of the catalogue. Instead the parts are sorted by
the dimension that most of them list, then by the next ones, and each is compared with its neighbours in that
order (the sorted neighbourhood of M. Hernandez and S. Stolfo, 1995; attribution from memory). A pair that
lies further apart, or that lacks the first dimension, is not found: proposals need not be complete.

How probable it is that a pair is one design follows by Bayes' rule from how often parts that lie far apart
agree in each dimension (Fellegi and Sunter's weights, linkage of records):

    odds = mates / (parts - 1 - mates) * product over what both list of P(agrees | one design) / P(agrees)
    probability = (1 - changed) * odds / (1 + odds)

with `changed` the share of pairs that agree in all that is listed and are one design changed elsewhere.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fitworth.matching.allowances import (
    Rule,
    accepts,
    allowed_range,
    difference,
    forgive,
    rules_of,
    scatter_u,
)
from fitworth.matching.answer import Floats, Ints
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.parameters import FitModel
from fitworth.matching.proposals import Proposal
from fitworth.matching.sides import Mask, Side, listed_side
from fitworth.vocabulary import Kind


@dataclass(frozen=True, slots=True)
class AlikeModel:
    """The parameters of the search. All are own choices.

    Attributes:
        least_dimensions: [dimensions] that count and that both must list, all agreeing.
        neighbours: [parts] with how many of those that follow it in the order each part is compared.
        far_apart: [share of the parts] how far apart the pairs lie that show how often any two parts agree.
        mates: [parts] how many others of its design a part has on file, before anything is compared.
        agrees: [probability] that two parts of one design agree in a dimension.
        changed: [probability] that a pair that agrees in all that both list differs where a sheet is silent:
            one design was changed in a dimension or two and sold as another.
        most_found: [pairs] how many are kept, the most probable.
    """

    least_dimensions: int = 4
    neighbours: int = 40
    far_apart: tuple[float, ...] = (0.29, 0.41, 0.5)
    mates: float = 1.0
    agrees: float = 0.999
    changed: float = 0.1
    most_found: int = 2_000


@dataclass(frozen=True, slots=True)
class _Pairs:
    """How pairs compare, (n_dims, n_pairs): both list the dimension; each does for the other there."""

    known: Mask
    agrees: Mask


DEFAULT_MODEL = AlikeModel()


def find_alike(
    catalogue: Catalogue, model: AlikeModel = DEFAULT_MODEL, fit_model: FitModel | None = None
) -> tuple[Proposal, ...]:
    """Return pairs of parts that agree in every dimension that both list, the most probable first.

    They agree where each would do in place of the other: within the allowance, both ways.

    Args:
        catalogue: the parts of one family.
        model: how many dimensions and neighbours.
        fit_model: scatter and the width of "equal".
    """
    used = fit_model or FitModel()
    rules, _ = rules_of(catalogue.family, {}, used)
    keys = catalogue.listed_keys()
    counting = [rule for rule in rules if rule.dimension.counts_for_fit and rule.dimension.key in keys]
    every = np.arange(len(catalogue), dtype=np.int64)
    sides = {rule.dimension.key: listed_side(catalogue, rule, every) for rule in counting}
    order = _order(counting, sides)
    if len(order) < 2 or not counting:  # noqa: PLR2004 - a pair
        return ()
    weights = np.log(model.agrees / _usual_agreement(counting, sides, order, model, used))
    prior = np.log(model.mates / max(1.0, len(catalogue) - 1.0 - model.mates))
    found: dict[tuple[int, int], Proposal] = {}
    keep = [rule.dimension.key for rule in counting]
    for step in range(1, min(model.neighbours, len(order) - 1) + 1):
        one, other = order[:-step], order[step:]
        pairs = _compare(counting, sides, one, other, used)
        alike = (pairs.known.sum(axis=0) >= model.least_dimensions) & (pairs.agrees == pairs.known).all(
            axis=0
        )
        places = np.flatnonzero(alike)
        odds = np.exp(np.minimum(prior + weights @ pairs.known[:, places], 50.0))
        chances = (1.0 - model.changed) * odds / (1.0 + odds)
        for place, chance in zip(places.tolist(), chances.tolist(), strict=True):
            ids = sorted(catalogue.ids[[one[place], other[place]]].tolist())
            agreeing = tuple(
                key for key, is_known in zip(keep, pairs.known[:, place], strict=True) if is_known
            )
            found[ids[0], ids[1]] = Proposal((ids[0], ids[1]), chance, agreeing)
    ranked = sorted(found.values(), key=lambda pair: (-pair.probability, pair.part_ids))
    return tuple(ranked[: model.most_found])


def _order(rules: Sequence[Rule], sides: Mapping[str, Side]) -> Ints:
    """Return the parts that list the most listed number, sorted by it, then by the next numbers."""
    numeric = [sides[rule.dimension.key] for rule in rules if rule.dimension.kind.is_numeric]
    if not numeric:
        return np.empty(0, np.int64)
    numeric.sort(key=lambda side: -int(side.known.sum()))
    listed = np.flatnonzero(numeric[0].known)
    columns = [np.where(side.known, side.value, -np.inf)[listed] for side in reversed(numeric)]
    return np.asarray(listed[np.lexsort(columns)], np.int64)


def _usual_agreement(
    rules: Sequence[Rule], sides: Mapping[str, Side], order: Ints, model: AlikeModel, used: FitModel
) -> Floats:
    """Return how often parts that lie far apart agree in each dimension, (n_dims,); never quite 0 or 1."""
    agreeing, compared = np.ones(len(rules)), np.full(len(rules), 2.0)  # one of two pairs, before any is seen
    for share in model.far_apart:
        step = max(1, round(share * len(order)))
        pairs = _compare(rules, sides, order, np.roll(order, step), used)
        agreeing += pairs.agrees.sum(axis=1)
        compared += pairs.known.sum(axis=1)
    return np.asarray(agreeing / compared)


def _compare(
    rules: Sequence[Rule], sides: Mapping[str, Side], one: Ints, other: Ints, model: FitModel
) -> _Pairs:
    known = np.zeros((len(rules), len(one)), np.bool_)
    agrees = np.zeros_like(known)
    for place, rule in enumerate(rules):
        side = sides[rule.dimension.key]
        both = side.known[one] & side.known[other]
        if rule.dimension.scale_of:
            both &= side.makers[one] == side.makers[other]
        known[place] = both
        agrees[place] = both & _does(rule, side, one, other, model) & _does(rule, side, other, one, model)
    return _Pairs(known, agrees)


def _does(rule: Rule, side: Side, candidates: Ints, removed: Ints, model: FitModel) -> Mask:
    """Return where the one part would do in place of the other; meaningless where either is not known."""
    new, old = side.value[candidates], side.value[removed]
    if rule.dimension.kind.is_numeric:
        u = np.hypot(np.hypot(side.u[candidates], side.u[removed]), scatter_u(rule, old, model))
        low, high = forgive(allowed_range(rule, old, model), u)
        differs = difference(rule, new, old)
        return np.asarray((low <= differs) & (differs <= high))
    if rule.dimension.kind is not Kind.CHOICE:
        return np.asarray(new == old)
    choices = rule.dimension.choices
    table = np.array([[accepts(rule, removed_one, one) for removed_one in choices] for one in choices])
    # A value that is not listed is -1 and reads the last row; the mask of what is known takes it out again.
    return np.asarray(table[new.astype(np.int64), old.astype(np.int64)])
