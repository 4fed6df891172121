"""How much likelier figures are if two designs are one, or one with a dimension changed, than if two.

All are likelihood ratios against "two designs that have nothing to do with each other", for one dimension;
where one side knows nothing they are 1. Products over dimensions are Bayes factors.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import ndtr

from fitworth.matching.allowances import Rule, accepts, allowed_range, difference, forgive, mendable_range
from fitworth.matching.answer import Floats
from fitworth.matching.groups.centres import KEPT, Centres
from fitworth.matching.groups.learned import Learned
from fitworth.matching.groups.sizes import Words, student_density
from fitworth.matching.parameters import FitModel
from fitworth.vocabulary import Kind

FAINT = 1e-3  # a figure less likely than this is not compared; its share counts as unknown
LEAST = 1e-16  # no ratio falls below it: what a double can tell from 1
LEAST_VARIANCE = 1e-12  # keeps two exact figures from dividing by nothing
SQRT_2PI = float(np.sqrt(2.0 * np.pi))


def normal_density(off: Floats, variance: Floats) -> Floats:
    """Return the density of a normal distribution, `off` from its centre [1/unit]."""
    return np.asarray(np.exp(-0.5 * off * off / variance) / (SQRT_2PI * np.sqrt(variance)))


def reading_ratios(
    learned: Learned, dim: int, value: Floats, u: Floats, centres: Centres, error: float
) -> tuple[Floats, Floats]:
    """Return how much likelier readings are of designs, and of their relatives changed here, than of any.

    Args:
        learned: shares and spreads.
        dim: the dimension's place.
        value: (...) readings [unit] or codes.
        u: (...) their standard uncertainties [unit].
        centres: (..., 2) of this dimension.
        error: share of such readings that are wrong.

    Returns:
        Two arrays (...): for the same design, and for one changed in this dimension.
    """
    spread = learned.spreads[dim]
    shape = np.broadcast_shapes(value.shape, centres.share.shape[:-1])
    exact = np.result_type(value, centres.share)
    same, near = np.zeros(shape, exact), np.zeros(shape, exact)
    unknown = np.ones(centres.share.shape[:-1], exact)
    for figure in range(KEPT):
        share = centres.share[..., figure]
        some = np.flatnonzero((share > FAINT).reshape(-1, share.shape[-1]).any(axis=0))
        if not len(some):
            continue
        share, centre, variance = (
            part[..., figure][..., some] for part in (centres.share, centres.value, centres.variance)
        )
        x, x_u = (part if part.shape[-1] == 1 else part[..., some] for part in (value, u))
        unknown[..., some] -= share
        if isinstance(spread, Words):
            same[..., some] += share * (x == centre)
            continue
        off = difference(learned.rules[dim], centre, x).astype(exact, copy=False)
        same[..., some] += share * normal_density(off, variance + learned.scatter[dim] ** 2 + x_u**2)
        near[..., some] += share * student_density(off, learned.reach[dim])
    if isinstance(spread, Words):
        usual = spread.density(value, 0.0).astype(exact)
        return ((1.0 - error) * (same + unknown * usual) + error * usual) / usual, np.ones(shape, exact)
    total_u = np.hypot(u, learned.scatter[dim])
    usual = spread.density(value, total_u).astype(exact)
    astray = (error * spread.gross(value, total_u)).astype(exact)
    sound = (1.0 - error) * usual + astray
    changed = (1.0 - learned.near) * usual + learned.near * (near + unknown * usual)
    return (
        ((1.0 - error) * (same + unknown * usual) + astray) / sound,
        ((1.0 - error) * changed + astray) / sound,
    )


@dataclass(frozen=True, slots=True)
class Figures:
    """One figure of each side in one dimension, where both are likely enough to be compared.

    Attributes:
        where: index of the places in the whole array.
        weight: probability that both are right there.
        a: first sides' sizes [unit] or codes.
        a_variance: and their variances.
        b: second sides' sizes.
        b_variance: and their variances.
    """

    where: Any
    weight: Floats
    a: Floats
    a_variance: Floats
    b: Floats
    b_variance: Floats


def figures_of(a: Centres, b: Centres, dim: int) -> Iterator[Figures]:
    """Yield the figures of two sets of designs against each other; second figures are rarely worth a look.

    Args:
        a: (..., n_dims, 2).
        b: the same, or broadcast against it.
        dim: the dimension's place.
    """
    shape = np.broadcast_shapes(a.share.shape[:-2], b.share.shape[:-2])
    for i in range(KEPT):
        for j in range(KEPT):
            weight = np.broadcast_to(a.share[..., dim, i] * b.share[..., dim, j], shape)
            some = weight > FAINT
            if not some.any():
                continue
            where = ... if some.all() else np.nonzero(some)
            sides = (
                np.broadcast_to(figure, shape)[where]
                for figure in (
                    a.value[..., dim, i],
                    a.variance[..., dim, i],
                    b.value[..., dim, j],
                    b.variance[..., dim, j],
                )
            )
            yield Figures(where, weight[where], *sides)


def design_ratios(
    learned: Learned, a: Centres, b: Centres, dims: Sequence[int] | None = None
) -> tuple[Floats, Floats]:
    """Return how much likelier two designs' figures are if they are one, and if one is the other changed.

    Args:
        learned: shares and spreads.
        a: (..., n_dims, 2).
        b: the same, or broadcast against it.
        dims: places of the dimensions to compare, None for all.

    Returns:
        Two arrays (..., n_dims): for one design, and for a dimension that was changed; 1 where not compared.
    """
    shape = np.broadcast_shapes(a.share.shape[:-2], b.share.shape[:-2])
    same, changed = np.ones((*shape, len(learned.rules))), np.ones((*shape, len(learned.rules)))
    for dim in range(len(learned.rules)) if dims is None else dims:
        rule, spread = learned.rules[dim], learned.spreads[dim]
        for two in figures_of(a, b, dim):
            if isinstance(spread, Words):
                same[..., dim][two.where] += two.weight * (
                    (two.a == two.b) / spread.density(two.a, 0.0) - 1.0
                )
                continue
            off = difference(rule, two.a, two.b)
            variance = two.a_variance + two.b_variance + LEAST_VARIANCE
            both_u = np.sqrt(two.a_variance * two.b_variance / variance + learned.scatter[dim] ** 2)
            usual = spread.density(two.b + off * two.b_variance / variance, both_u)
            same[..., dim][two.where] += two.weight * (normal_density(off, variance) / usual - 1.0)
            a_u = np.sqrt(two.a_variance + learned.scatter[dim] ** 2)
            near = student_density(off, learned.reach[dim]) / spread.density(two.a, a_u)
            changed[..., dim][two.where] += learned.near * two.weight * (near - 1.0)
    return np.maximum(same, LEAST), changed


@dataclass(frozen=True, slots=True)
class Agreement:
    """The probability that candidates agree with removed parts, (..., n_dims) each.

    Attributes:
        as_it_comes: within the allowance.
        in_all: within it, or within what the cure bridges.
    """

    as_it_comes: Floats
    in_all: Floats


def agreement(
    learned: Learned,
    rules: tuple[Rule, ...],
    candidates: Centres,
    removed: Centres,
    usual: Agreement,
    model: FitModel,
    dims: Sequence[int] | None = None,
) -> Agreement:
    """Return how likely candidates of some designs agree with removed parts, by their figures.

    Args:
        learned: the scatter.
        rules: the allowances of this query.
        candidates: (..., n_dims, 2) designs.
        removed: (..., n_dims, 2) the removed part under each hypothesis; its scatter is in the variance.
        usual: (n_dims,) how likely two designs agree of which nothing is known.
        model: for lengths that must be equal.
        dims: places of the dimensions to compare, None for all.
    """
    shape = np.broadcast_shapes(candidates.share.shape[:-2], removed.share.shape[:-2])
    plain = np.broadcast_to(usual.as_it_comes, (*shape, len(rules))).copy()
    mended = np.broadcast_to(usual.in_all, plain.shape).copy()
    for dim in range(len(rules)) if dims is None else dims:
        rule = rules[dim]
        for two in figures_of(candidates, removed, dim):
            if learned.numeric[dim]:
                u = np.sqrt(two.a_variance + two.b_variance + learned.scatter[dim] ** 2)
                off = difference(rule, two.a, two.b)
                within, bridged = numbers_agree(rule, off, two.b, u, model)
            else:
                within = _words_agree(rule, two)
                bridged = np.ones_like(within) if rule.dimension.cure else within
            plain[..., dim][two.where] += two.weight * (within - usual.as_it_comes[dim])
            mended[..., dim][two.where] += two.weight * (bridged - usual.in_all[dim])
    return Agreement(np.clip(plain, 0.0, 1.0), np.clip(mended, 0.0, 1.0))


def numbers_agree(
    rule: Rule, off: Floats, reference: Floats, u: Floats, model: FitModel
) -> tuple[Floats, Floats]:
    """Return the probabilities of lying within the allowance, and within it or what the cure bridges.

    Args:
        rule: of the dimension.
        off: candidate minus removed [unit].
        reference: size of the removed part [unit].
        u: standard uncertainty of the difference [unit].
        model: for lengths that must be equal.
    """
    low, high = forgive(allowed_range(rule, reference, model), u)
    within = probability_within(low, high, off, u)
    if rule.dimension.cure is None:
        return within, within
    bridge_low, bridge_high = mendable_range(rule)
    return within, probability_within(np.minimum(low, bridge_low), np.maximum(high, bridge_high), off, u)


def probability_within(low: Floats, high: Floats, off: Floats, u: Floats) -> Floats:
    """Return the probability that a difference known as `off` +- `u` lies in [low, high].

    Normal, all arrays of one shape or broadcast [unit]; within one standard uncertainty either way it is
    0.6827.
    """
    return np.asarray(ndtr((high - off) / u) - ndtr((low - off) / u))


def _words_agree(rule: Rule, two: Figures) -> Floats:
    if rule.dimension.kind is not Kind.CHOICE:
        return np.asarray(two.a == two.b, np.float64)
    choices = rule.dimension.choices
    table = np.array([[accepts(rule, old, new) for old in choices] for new in choices], np.float64)
    return np.asarray(table[two.a.astype(np.int64), two.b.astype(np.int64)])
