"""The candidates of one query, with the probability that each runs under each hypothesis."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fitworth.matching.allowances import Rule, difference
from fitworth.matching.answer import Floats, Ints
from fitworth.matching.groups.centres import LIKELY, Centres
from fitworth.matching.groups.likeness import Agreement, numbers_agree
from fitworth.matching.groups.membership import Groups
from fitworth.matching.groups.query import (
    Reading,
    Told,
    Weights,
    lone_centres,
    removed_alone,
    removed_under,
)
from fitworth.matching.groups.running import (
    Runs,
    Terms,
    compare,
    one_design_odds,
    runs_of_terms,
    runs_when_away,
    terms_of,
)
from fitworth.matching.parameters import FitModel
from fitworth.matching.sides import LEAST_U, Mask

LEAST = 1e-300  # keeps a share of nothing finite
SOUND = 4.0  # standard uncertainties within which a member's listing is taken for sound
FAINT = 0.03  # a part that is as little likely to be of no group is not compared by itself


@dataclass(frozen=True, slots=True)
class Hypotheses:
    """The likely designs, heaviest first.

    Attributes:
        groups: (n_h,) places of the groups.
        weights: (n_h,) probabilities; those of sampled groups carry the ones that they stand for.
        away: probability that the design is on no file; with `weights` it adds up to 1.
    """

    groups: Ints
    weights: Floats
    away: float


def shorten(weights: Weights, model: FitModel) -> Hypotheses:
    """Return the heaviest groups one by one, and an even sample by weight of the others for the rest.

    Args:
        weights: of all hypotheses.
        model: how many are kept, and how much weight may go unheeded.
    """
    own = weights.group
    order = np.argsort(-own, kind="stable")
    reached = np.cumsum(own[order])
    telling = int(np.searchsorted(reached, reached[-1] - model.least_weight)) + 1
    likely = order[: min(telling, model.likely_hypotheses)]
    rest = order[len(likely) :]
    left = float(own[rest].sum())
    if left <= model.least_weight or not len(rest):
        kept = own[likely] * (1.0 + left / max(float(own[likely].sum()), LEAST))
        return Hypotheses(likely, kept, weights.away)
    points = (np.arange(model.sampled_hypotheses) + 0.5) / model.sampled_hypotheses * left
    sampled, times = np.unique(np.searchsorted(np.cumsum(own[rest]), points), return_counts=True)
    groups = np.concatenate((likely, rest[sampled]))
    kept = np.concatenate((own[likely], times * left / model.sampled_hypotheses))
    heaviest = np.lexsort((groups, -kept))
    return Hypotheses(groups[heaviest], kept[heaviest], weights.away)


@dataclass(frozen=True, slots=True)
class Standings:
    """How designs stand against the hypotheses.

    Attributes:
        terms: (n_designs, n_h, n_dims) logarithms of the factors.
        odds: (n_designs, n_h) log prior odds of being one design.
        certain: (n_designs, n_h) whether the design is the hypothesis's own.
        away_terms: (n_designs, n_dims) the factors against the readings alone.
        away_kin: (n_designs,) probability, if on no file, of being this design's relative.
        agrees: (n_designs, n_h, n_dims) how likely they agree by the figures.
        agrees_away: (n_designs, 1, n_dims) the same against the readings alone.
        under: the designs of the hypotheses, and the removed part under each.
    """

    terms: Terms
    odds: Floats
    certain: Mask
    away_terms: Terms
    away_kin: Floats
    agrees: Agreement
    agrees_away: Agreement
    under: tuple[Centres, Centres]


@dataclass(frozen=True, slots=True)
class Question:
    """A query on groups, with its hypotheses.

    Attributes:
        groups: of the catalogue.
        rules: of the grouping dimensions, with the allowances of this query.
        readings: of the removed part.
        told: what they say of every group.
        weights: of all hypotheses.
        hypotheses: the likely ones.
        model: the parameters.
    """

    groups: Groups
    rules: tuple[Rule, ...]
    readings: tuple[Reading, ...]
    told: Told
    weights: Weights
    hypotheses: Hypotheses
    model: FitModel

    @property
    def kin(self) -> float:
        """The prior probability that two designs are relatives."""
        n_groups = len(self.weights.group)
        return min(0.5, 2.0 * self.groups.partition.learned.related / max(n_groups, 2))

    def under(self, readings: Sequence[Reading]) -> tuple[Centres, Centres]:
        """Return the designs of the hypotheses, and the removed part under each, by some readings."""
        partition = self.groups.partition
        return removed_under(
            partition.gathered.centres.of(self.hypotheses.groups), readings, partition.learned
        )


def stand(
    question: Question,
    designs: Centres,
    sizes: Floats,
    own: Ints,
    readings: Sequence[Reading],
    dims: Sequence[int] | None = None,
) -> Standings:
    """Return how some designs stand against the hypotheses of a question.

    Args:
        question: the query.
        designs: (n_designs, n_dims, 2).
        sizes: (n_designs,) parts of each.
        own: (n_designs,) group whose relative the removed part may be instead; the design's own one.
        readings: those to count.
        dims: places of the dimensions to compare, None for all.
    """
    partition, model = question.groups.partition, question.model
    learned, usual = partition.learned, question.groups.usual
    under = question.under(readings)
    compared = compare(learned, question.rules, designs, under, usual, model, dims)
    alone = removed_alone(readings, learned)
    away = compare(learned, question.rules, designs, (alone, alone), usual, model, dims)
    their_sizes = partition.size[question.hypotheses.groups].astype(np.float64)[None]
    odds = one_design_odds(sizes[:, None], their_sizes, learned.concentration)
    shares = question.weights.relative[own] / max(question.weights.away, LEAST)
    return Standings(
        terms=terms_of(compared, learned.rates),
        odds=odds,
        certain=np.zeros(odds.shape, np.bool_),
        away_terms=terms_of(away, learned.rates).against(0),
        away_kin=shares,
        agrees=compared.agrees,
        agrees_away=away.agrees,
        under=under,
    )


def runs_of(standings: Standings, kin: float) -> tuple[Runs, Runs]:
    """Return the probabilities that designs run: under each hypothesis, and under "on no file"."""
    runs = runs_of_terms(standings.terms.summed(), standings.odds, kin)
    for table in (runs.as_it_comes, runs.in_all):
        table[standings.certain] = 1.0
    return runs, runs_when_away(standings.away_terms.summed(), standings.away_kin)


@dataclass(frozen=True, slots=True)
class Lineup:
    """The candidates with what they may be.

    Attributes:
        rows: (n_candidates,) rows of the catalogue.
        designs: (n_candidates, n_designs) probability that a candidate is of each design that is compared:
            those of groups first, then those of parts by themselves.
        centres: (n_designs, n_dims, 2) the designs.
        sizes: (n_designs,) parts of each.
        own: (n_designs,) group of each, or of the part that is by itself.
        standings: of the designs.
        scattered: (n_candidates, n_h) what the makers' scatter takes from a candidate's chance of running in
            place of its own design, as it comes and in all.
    """

    rows: Ints
    designs: Floats
    centres: Centres
    sizes: Floats
    own: Ints
    standings: Standings
    scattered: Runs


def line_up(question: Question, wanted: Ints) -> Lineup:
    """Return the candidates: members of likely groups and of their likely relatives, and those asked for.

    Args:
        question: the query.
        wanted: rows that are to be among them.
    """
    groups, model = question.groups, question.model
    partition = groups.partition
    labels, learned = partition.labels, partition.learned
    hypotheses = question.hypotheses.groups
    relatives = np.argsort(-question.weights.relative, kind="stable")[: model.likely_relatives]
    likely = np.unique(np.concatenate((hypotheses, relatives, labels[wanted])))
    belongs = np.isin(groups.member, likely) & (groups.member_share > model.least_membership)
    rows = np.flatnonzero(belongs.any(axis=1) | np.isin(labels, likely))
    rows = _heaviest(question, rows, wanted)
    lone = np.flatnonzero(groups.alone[rows] > FAINT)
    designs = np.zeros((len(rows), len(likely) + len(lone)))
    for place in range(groups.member.shape[1]):
        at = np.searchsorted(likely, groups.member[rows, place])
        at[at == len(likely)] = 0
        found = likely[at] == groups.member[rows, place]
        designs[np.flatnonzero(found), at[found]] += groups.member_share[rows, place][found]
    designs[lone, len(likely) + np.arange(len(lone))] = groups.alone[rows[lone]]
    _lend_faint(question, rows, likely, designs)
    own = labels[rows[lone]]
    centres = partition.gathered.centres.of(likely)
    alone = lone_centres(groups.cells.of(rows[lone]), learned)
    both = Centres(
        *(np.concatenate((getattr(centres, name), getattr(alone, name))) for name in Centres.__slots__)
    )
    sizes = np.concatenate((partition.size[likely].astype(np.float64), np.ones(len(lone))))
    of_group = np.concatenate((likely, own))
    standings = stand(question, both, sizes, of_group, question.readings)
    # That a part by itself is of a group after all has been counted by its memberships.
    standings.odds[len(likely) :] = -np.inf
    standings.certain[: len(likely)] = likely[:, None] == hypotheses
    standings.certain[len(likely) :] = (own[:, None] == hypotheses) & (partition.size[own] == 1)[:, None]
    certain = designs @ standings.certain
    return Lineup(
        rows, designs, both, sizes, of_group, standings, scatter_off(question, rows, certain, standings.under)
    )


def _lend_faint(question: Question, rows: Ints, likely: Ints, designs: Floats) -> None:
    """Count the faint chance that a part is of no group for its group, as far as such a stray would run.

    It agrees in what it lists; elsewhere it was changed as often as relatives are, and then agrees as any two
    designs do.
    """
    groups = question.groups
    labels = groups.partition.labels[rows]
    at = np.minimum(np.searchsorted(likely, labels), len(likely) - 1)
    faint = np.flatnonzero((groups.alone[rows] <= FAINT) & (likely[at] == labels))
    changed = groups.partition.learned.rates * (1.0 - groups.usual.in_all)
    runs = np.where(groups.cells.of(rows[faint]).listed, 1.0, 1.0 - changed).prod(axis=1)
    designs[faint, at[faint]] += groups.alone[rows[faint]] * runs


def _heaviest(question: Question, rows: Ints, wanted: Ints) -> Ints:
    """Return the candidates worth comparing: of the likeliest designs, and those asked for."""
    model, groups = question.model, question.groups
    if len(rows) > model.most_candidates:
        heavy = question.weights.group + question.weights.relative
        standing = (heavy[groups.member[rows]] * groups.member_share[rows]).sum(axis=1)
        standing += heavy[groups.partition.labels[rows]] * groups.alone[rows]
        rows = rows[np.argpartition(-standing, model.most_candidates - 1)[: model.most_candidates]]
    return np.unique(np.concatenate((rows, wanted)))


def scatter_off(question: Question, rows: Ints, certain: Floats, under: tuple[Centres, Centres]) -> Runs:
    """Return what the makers' scatter takes from chances of running in place of one's own design.

    Parts of one design differ by the makers' scatter, and where an allowance is narrow that is not nothing. A
    member's own listing draws its size from the design's towards itself by their variances.

    Args:
        question: the query.
        rows: (n_candidates,) of the catalogue.
        certain: (n_candidates, n_h) chance of running because the design is the hypothesis's own.
        under: the designs of the hypotheses, and the removed part under each.
    """
    groups, model = question.groups, question.model
    learned = groups.partition.learned
    at = np.full(len(groups.partition.kin.parent), -1, np.int64)
    at[question.hypotheses.groups] = np.arange(len(question.hypotheses.groups))
    hypothesis = at[groups.partition.labels[rows]]
    some = np.flatnonzero(hypothesis >= 0)
    plain, mended = np.ones(len(some)), np.ones(len(some))
    designs, removed = (side.of(hypothesis[some]) for side in under)
    cells = groups.cells.of(rows[some])
    best = designs.share.argmax(axis=-1)[..., None]
    centre, old, old_variance = (
        np.take_along_axis(part, best, axis=-1)[..., 0]
        for part in (designs.value, removed.value, removed.variance)
    )
    known = designs.share.sum(axis=-1) > LIKELY
    for dim, rule in enumerate(question.rules):
        if not learned.numeric[dim]:
            continue
        here = np.flatnonzero(known[:, dim])
        own, u2 = cells.value[here, dim], cells.u[here, dim] ** 2 + LEAST_U**2
        scatter2 = learned.scatter[dim] ** 2
        off = difference(rule, own, centre[here, dim])
        sound = np.abs(off) < SOUND * np.sqrt(u2 + scatter2)  # not-a-number is not
        pull = np.where(sound, scatter2 / (scatter2 + u2), 0.0)
        new = centre[here, dim] + np.where(sound, pull * np.nan_to_num(off), 0.0)
        u = np.sqrt(scatter2 * (1.0 - pull) + old_variance[here, dim] + LEAST_U**2)
        agrees = numbers_agree(rule, difference(rule, new, old[here, dim]), old[here, dim], u, model)
        plain[here] *= agrees[0]
        mended[here] *= agrees[1]
    lost = Runs(np.zeros(certain.shape), np.zeros(certain.shape))
    place = some, hypothesis[some]
    lost.as_it_comes[place] = certain[place] * (1.0 - plain)
    lost.in_all[place] = certain[place] * (1.0 - mended)
    return lost
