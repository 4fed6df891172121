"""Whether candidates run in place of a removed part, given its design.

Two groups as estimated are one design after all, relatives, or have nothing to do with each other. With the
ratios of `likeness`, each the likelihood of what both list against "nothing to do",

    S = product of same
    R = product of (1 - c) same + c changed,      R_a = product of (1 - c) same + c changed a
    U = 1,                                        U_a = product of a

where c is how often relatives differ in a dimension and a the probability of agreeing in it by the figures,

    P(runs | design) = (o S + r R_a + (1 - r) U_a) / (o S + r R + (1 - r))

with r the prior of being relatives and o the prior odds of being one design. So what nobody measured or
listed is as likely to agree as the kinship of the two makes it, and no more.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln

from fitworth.matching.allowances import Rule
from fitworth.matching.answer import Floats, Ints
from fitworth.matching.groups.centres import LIKELY, Centres
from fitworth.matching.groups.learned import Learned
from fitworth.matching.groups.likeness import Agreement, agreement, design_ratios
from fitworth.matching.parameters import FitModel

STEEPEST = 300.0  # of a logarithm that is raised
COUNTED = 64  # designs whose pairs show how often any two agree
SURE_ODDS = 50.0  # log prior odds of being one design are bounded by it


@dataclass(frozen=True, slots=True)
class Compared:
    """Candidates against hypotheses, dimension by dimension; arrays (n_candidates, n_hypotheses, n_dims).

    Attributes:
        same: ratio for one design.
        changed: ratio for a dimension that was changed.
        agrees: how likely they agree by the figures.
    """

    same: Floats
    changed: Floats
    agrees: Agreement


def compare(
    learned: Learned,
    rules: tuple[Rule, ...],
    candidates: Centres,
    hypotheses: tuple[Centres, Centres],
    usual: Agreement,
    model: FitModel,
    dims: Sequence[int] | None = None,
) -> Compared:
    """Return how candidates compare with hypotheses.

    Args:
        learned: shares and spreads.
        rules: the allowances of the query.
        candidates: (n_candidates, n_dims, 2) designs.
        hypotheses: (n_hypotheses, n_dims, 2) designs, and the removed part under each.
        usual: (n_dims,) how likely any two designs agree.
        model: for lengths that must be equal.
        dims: places of the dimensions to compare, None for all; the others count as unknown.
    """
    designs, removed = (side.lifted(0) for side in hypotheses)
    each = candidates.lifted(1)
    same, changed = design_ratios(learned, each, designs, dims)
    return Compared(same, changed, agreement(learned, rules, each, removed, usual, model, dims))


@dataclass(frozen=True, slots=True)
class Terms:
    """The logarithms of one dimension's factors, or their sums over dimensions; arrays of any one shape.

    Attributes:
        same: of S.
        kin: of R.
        kin_plain: of R_a as it comes.
        kin_all: of R_a with the cures.
        plain: of U_a as it comes.
        all: of U_a with the cures.
    """

    same: Floats
    kin: Floats
    kin_plain: Floats
    kin_all: Floats
    plain: Floats
    all: Floats

    def summed(self) -> "Terms":
        """Return the sums over the last axis."""
        return Terms(*(getattr(self, name).sum(axis=-1) for name in self.__slots__))

    def of(self, places: Ints) -> "Terms":
        """Return the terms of some candidates."""
        return Terms(*(getattr(self, name)[places] for name in self.__slots__))

    def at(self, dims: Ints) -> "Terms":
        """Return the terms of some dimensions, on the last axis."""
        return Terms(*(getattr(self, name)[..., dims] for name in self.__slots__))

    def against(self, place: int) -> "Terms":
        """Return the terms against one hypothesis."""
        return Terms(*(getattr(self, name)[:, place] for name in self.__slots__))

    def plus(self, other: "Terms") -> "Terms":
        """Return the sums with other terms."""
        return Terms(*(getattr(self, name) + getattr(other, name) for name in self.__slots__))


def terms_of(compared: Compared, changes: Floats) -> Terms:
    """Return the logarithms of the factors, dimension by dimension.

    Args:
        compared: the ratios.
        changes: (n_dims,) how often relatives differ in each dimension.
    """
    unchanged, changed = (1.0 - changes) * compared.same, changes * compared.changed
    plain, mended = compared.agrees.as_it_comes, compared.agrees.in_all
    with np.errstate(divide="ignore"):
        return Terms(
            np.log(compared.same),
            np.log(unchanged + changed),
            np.log(unchanged + changed * plain),
            np.log(unchanged + changed * mended),
            np.log(plain),
            np.log(mended),
        )


@dataclass(frozen=True, slots=True)
class Runs:
    """The probabilities that candidates run, given each hypothesis, arrays of one shape.

    Attributes:
        as_it_comes: without any work.
        in_all: as it comes or after the cures.
    """

    as_it_comes: Floats
    in_all: Floats


def runs_of_terms(sums: Terms, one_design: Floats, kin: float) -> Runs:
    """Return the probabilities from the summed terms.

    Args:
        sums: over the dimensions.
        one_design: log prior odds of being one design; minus infinity where that is ruled out.
        kin: prior probability of being relatives.
    """

    def raised(logs: Floats) -> Floats:
        return np.asarray(np.exp(np.minimum(logs, STEEPEST)))

    same = raised(sums.same + one_design)
    whole = same + kin * raised(sums.kin) + (1.0 - kin)
    plain = same + kin * raised(sums.kin_plain) + (1.0 - kin) * raised(sums.plain)
    mended = same + kin * raised(sums.kin_all) + (1.0 - kin) * raised(sums.all)
    return Runs(np.minimum(plain / whole, 1.0), np.minimum(mended / whole, 1.0))


def one_design_odds(sizes: Floats, others: Floats, concentration: float) -> Floats:
    """Return the log prior odds that two groups of these sizes are one (Chinese restaurant process).

    Args:
        sizes: (n, 1) parts of each; a group that has lost all its parts counts as one of one.
        others: (1, m).
        concentration: of the process.
    """
    sizes, others = np.maximum(sizes, 1.0), np.maximum(others, 1.0)
    odds = gammaln(sizes + others) - gammaln(sizes) - gammaln(others) - np.log(concentration)
    return np.asarray(np.minimum(odds, SURE_ODDS))


def runs_when_away(sums: Terms, kin: Floats) -> Runs:
    """Return the probabilities that designs run in place of one that is on no file, (n_candidates,).

    Args:
        sums: of the candidates against the readings alone.
        kin: (n_candidates,) probability that the removed part is a relative of this very design.
    """

    def mixed(as_kin: Floats, else_: Floats) -> Floats:
        return np.asarray(kin * np.exp(np.minimum(as_kin - sums.kin, 0.0)) + (1.0 - kin) * np.exp(else_))

    return Runs(mixed(sums.kin_plain, sums.plain), mixed(sums.kin_all, sums.all))


def usual_agreement(
    learned: Learned, rules: tuple[Rule, ...], centres: Centres, model: FitModel
) -> Agreement:
    """Return how likely any two designs agree in each dimension, (n_dims,) each.

    Counted over designs taken evenly from all, as pairs, and drawn towards the model's first guess.

    Args:
        learned: the scatter.
        rules: the allowances.
        centres: (n_designs, n_dims, 2).
        model: the first guess and how many pairs it weighs.
    """
    count = len(centres.value)
    some = centres.of(np.unique(np.linspace(0, count - 1, min(count, COUNTED)).round().astype(np.int64)))
    n_dims = len(rules)
    blank = Agreement(np.zeros(n_dims), np.zeros(n_dims))
    known = some.share[..., 0] > LIKELY
    sure = Centres(some.value, some.variance, np.stack((known.astype(np.float64), 0.0 * known), axis=-1))
    found = agreement(learned, rules, sure.lifted(1), sure.lifted(0), blank, model)
    pairs = (known[:, None] & known[None]) & ~np.eye(len(known), dtype=np.bool_)[..., None]
    counted = pairs.sum(axis=(0, 1)) + model.agreement_count

    def share(agrees: Floats) -> Floats:
        return np.asarray(
            ((agrees * pairs).sum(axis=(0, 1)) + model.agreement_count * model.unrelated_agrees) / counted
        )

    return Agreement(share(found.as_it_comes), share(found.in_all))
