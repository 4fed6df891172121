"""Which parts form a group: sampling sweeps over the parts, splitting and merging of groups.

Parts fall into groups as customers at tables (the Chinese restaurant process; after D. J. Aldous 1985, from
memory): a part joins a group of n with weight n, a new one with the concentration. A design on file may be a
relative of another: the same but for a few dimensions. So a group's silent dimensions are those of its
relative, and a lone part that differs once is either a new relative or a slip. Sweeps draw each part's group
given all others (Gibbs sampling), first at full temperature, then cooler, at last taking the likeliest; in
between, groups split along a dimension whose cells form two runs, and merge where one design explains both.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import gammaln

from fitworth.matching.answer import Floats, Ints
from fitworth.matching.groups.cells import Cells
from fitworth.matching.groups.centres import KEPT, Centres, Gathered, gather, left_out
from fitworth.matching.groups.learned import Learned, spreads_of
from fitworth.matching.groups.likeness import design_ratios, reading_ratios
from fitworth.matching.groups.sizes import student_density
from fitworth.matching.groups.ties import add_tied_partners, merge_odds, weigh_ties
from fitworth.matching.parameters import FitModel

PARTNERS = 8  # groups that each group is compared with in full
BLOCK = 4_000_000  # numbers in one table of scores
CONFLICT = 0.1  # a dimension with a smaller ratio tells two groups apart
STEEPEST = 50.0  # log odds beyond which a probability is 0 or 1
FINENESS = 3.0  # steps of a table of readings in one standard uncertainty
WINDOW = 6.0  # standard uncertainties within which cells show the scatter
NEARBY = 0.8  # of the reach of relatives, the same
STEADIEST = 0.75  # share of the groups that the scatter is learned from
MOST_CHANGES = 2.0  # times the first guess; beyond it, relatives would be no nearer than any two designs


@dataclass(frozen=True, slots=True)
class Kin:
    """Each group's nearest larger relative.

    Attributes:
        parent: (n_groups,) its place, or -1.
        share: (n_groups,) probability that the group is that one changed.
    """

    parent: Ints
    share: Floats


@dataclass(frozen=True, slots=True)
class Partition:
    """A division of the parts into groups.

    Attributes:
        labels: (n_parts,) group of each part.
        learned: shares and spreads.
        gathered: what the members say.
        kin: the groups' relatives.
        filled: the centres with the silent dimensions of relatives.
    """

    labels: Ints
    learned: Learned
    gathered: Gathered
    kin: Kin
    filled: Centres

    @property
    def size(self) -> Ints:
        """How many parts each group has, (n_groups,)."""
        return np.bincount(self.labels[self.labels >= 0], minlength=len(self.kin.parent))


@dataclass(frozen=True, slots=True)
class Scores:
    """Log Bayes factors of parts against designs, (n_rows, n_groups) each.

    Attributes:
        same: of being that design.
        related: of being that design changed in a few dimensions.
    """

    same: Floats
    related: Floats


def score_rows(cells: Cells, learned: Learned, centres: Centres) -> Scores:
    """Return how well some parts go with each of some designs.

    Equal entries are looked at once, to a third of their standard uncertainty.

    Args:
        cells: (n_rows, n_dims) of the parts.
        learned: shares and spreads.
        centres: (n_groups, n_dims, 2) of the designs.
    """
    n_rows, n_groups = len(cells), len(centres.value)
    same, related = np.zeros((n_rows, n_groups)), np.zeros((n_rows, n_groups))
    for dim in range(len(learned.rules)):
        rows = np.flatnonzero(~np.isnan(cells.value[:, dim]))
        if not len(rows):
            continue
        entries, place = _distinct(cells, rows, learned, dim)
        ratios = reading_ratios(
            learned,
            dim,
            entries[:, :1],
            entries[:, 1:],
            Centres(*(part[None, :, dim] for part in (centres.value, centres.variance, centres.share))),
            learned.error(dim),
        )
        same[rows] += np.log(ratios[0])[place]
        changes = learned.changes
        related[rows] += np.log((1.0 - changes) * ratios[0] + changes * ratios[1])[place]
    return Scores(same, related)


def _distinct(cells: Cells, rows: Ints, learned: Learned, dim: int) -> tuple[Floats, Ints]:
    """Return the distinct entries of one dimension, (n, 2) value and uncertainty, and each row's."""
    value, u = cells.value[rows, dim], cells.u[rows, dim]
    if learned.numeric[dim]:
        step = learned.reading_u(dim) / FINENESS
        value, u = np.round(value / step) * step, np.round(u / step) * step
    found, place = np.unique(np.stack((value, u), axis=1), axis=0, return_inverse=True)
    return found, place.ravel()


def find_kin(centres: Centres, size: Ints, partners: Ints, learned: Learned) -> Kin:
    """Return each group's nearest relative among its partners that are larger, or as large and earlier.

    Args:
        centres: (n_groups, n_dims, 2).
        size: (n_groups,) parts of each.
        partners: (n_groups, n_partners) places of groups like each; -1 for none.
        learned: the shares.
    """
    own = np.arange(len(size))
    if not partners.shape[1]:
        return Kin(np.full(len(size), -1), np.zeros(len(size)))
    larger = (partners >= 0) & (partners != own[:, None])
    larger &= (size[partners] > size[:, None]) | ((size[partners] == size[:, None]) & (partners < own[:, None]))
    logs = _related_logs(centres.lifted(1), centres.of(partners), learned)
    logs = np.where(larger, logs, -np.inf)
    best = logs.argmax(axis=1)
    found = logs[own, best] + np.log(learned.related / len(size))
    odds = np.exp(np.clip(found, -STEEPEST, STEEPEST)) / (1.0 - learned.related)
    known = larger.any(axis=1)
    return Kin(np.where(known, partners[own, best], -1), np.where(known, odds / (1.0 + odds), 0.0))


def _related_logs(a: Centres, b: Centres, learned: Learned) -> Floats:
    same, changed = design_ratios(learned, a, b)
    return np.asarray(np.log((1.0 - learned.changes) * same + learned.changes * changed).sum(axis=-1))


def fill_in(own: Centres, parents: Centres, share: Floats, learned: Learned) -> Centres:
    """Return designs with what their relatives say where they themselves are silent or unsure.

    Args:
        own: (n, n_dims, 2).
        parents: (n, n_dims, 2) their relatives.
        share: (n,) probability that they are relatives; 0 where there is none.
        learned: how often a dimension was changed.
    """
    filled = Centres(own.value.copy(), own.variance.copy(), own.share.copy())
    best = parents.share.argmax(axis=-1)[..., None]
    told, told_variance, told_share = (
        np.take_along_axis(part, best, axis=-1)[..., 0]
        for part in (parents.value, parents.variance, parents.share)
    )
    gain = own.unknown * (share * (1.0 - learned.changes))[:, None] * told_share
    slot = filled.share.argmin(axis=-1)
    weakest = np.take_along_axis(filled.share, slot[..., None], axis=-1)[..., 0]
    put = np.nonzero(gain > np.maximum(weakest, 1e-3))
    for part, new in ((filled.value, told), (filled.variance, told_variance), (filled.share, gain)):
        part[(*put, slot[put])] = new[put]
    return filled


def likely_partners(centres: Centres, learned: Learned) -> Ints:
    """Return for each group the places of the groups most like it, (n_groups, up to PARTNERS)."""
    count = len(centres.value)
    wanted = min(PARTNERS, count - 1)
    found = np.empty((count, wanted), np.int64)
    if not wanted:
        return found
    known = centres.share[..., 0] > 0.5  # noqa: PLR2004  # rather than not
    heads = Cells(np.where(known, centres.value[..., 0], np.nan), np.sqrt(centres.variance[..., 0]))
    step = max(1, BLOCK // count)
    for start in range(0, count, step):
        rows = np.arange(start, min(start + step, count))
        related = score_rows(heads.of(rows), learned, centres).related
        related[np.arange(len(rows)), rows] = -np.inf
        found[rows] = np.argpartition(-related, wanted - 1, axis=1)[:, :wanted]
    return found


def settle(cells: Cells, labels: Ints, learned: Learned, partners: Ints | None = None) -> Partition:
    """Return a division with its centres, relatives and filled dimensions.

    Args:
        cells: of all parts.
        labels: (n_parts,) group of each, without gaps; -1 for parts not yet in any.
        learned: shares and spreads.
        partners: of each group, where they are known already.
    """
    n_groups = int(labels.max(initial=-1)) + 1
    gathered = gather(cells, labels, n_groups, learned)
    size = np.bincount(labels[labels >= 0], minlength=n_groups)
    if partners is None:
        partners = likely_partners(gathered.centres, learned)
    kin = find_kin(gathered.centres, size, partners, learned)
    parents = gathered.centres.of(np.maximum(kin.parent, 0))
    return Partition(labels, learned, gathered, kin, fill_in(gathered.centres, parents, kin.share, learned))


@dataclass(frozen=True, slots=True)
class Choices:
    """Where some parts belong, in log weights up to a constant for each.

    Attributes:
        groups: (n_rows, n_groups) each group without the part itself; minus infinity where nobody is left.
        new: (n_rows,) a group of its own.
    """

    groups: Floats
    new: Floats


def weigh_choices(cells: Cells, rows: Ints, partition: Partition) -> Choices:
    """Return where some parts belong, given where all others are.

    Args:
        cells: of all parts.
        rows: the parts.
        partition: the division; parts in no group yet have no own one to be left out of.
    """
    learned, labels = partition.learned, partition.labels
    scores = score_rows(cells.of(rows), learned, partition.filled)
    size = np.broadcast_to(partition.size.astype(np.float64), scores.same.shape).copy()
    inside = np.flatnonzero(labels[rows] >= 0)
    if len(inside):
        some = rows[inside]
        own = labels[some]
        size[inside, own] -= 1.0
        alone = left_out(partition.gathered, cells, some, labels, learned)
        parents = partition.gathered.centres.of(np.maximum(partition.kin.parent[own], 0))
        share = _kin_shares(alone, parents, partition, own)
        without = _score_each(cells.of(some), learned, fill_in(alone, parents, share, learned))
        scores.same[inside, own], scores.related[inside, own] = without
    with np.errstate(divide="ignore"):
        prior = np.log(size)
    weigh_ties(prior, cells.ties, rows, labels, learned.concentration)
    groups = scores.same + prior
    occupied = size > 0
    most = scores.related.max(axis=1, keepdims=True)
    kin = np.where(occupied, np.exp(scores.related - most), 0.0).sum(axis=1) / np.maximum(occupied.sum(axis=1), 1)
    with np.errstate(divide="ignore"):
        related = np.log(learned.related * kin) + most[:, 0]
    new = np.log(learned.concentration) + np.logaddexp(np.log(1.0 - learned.related), related)
    return Choices(groups, new)


def _kin_shares(alone: Centres, parents: Centres, partition: Partition, own: Ints) -> Floats:
    """Return how likely a group is its parent's relative once a member is left out of it."""
    learned = partition.learned
    logs = _related_logs(alone, parents, learned) + np.log(learned.related / len(partition.kin.parent))
    odds = np.exp(np.clip(logs, -STEEPEST, STEEPEST)) / (1.0 - learned.related)
    return np.where(partition.kin.parent[own] >= 0, odds / (1.0 + odds), 0.0)


def _score_each(cells: Cells, learned: Learned, centres: Centres) -> tuple[Floats, Floats]:
    """Return the scores of each part against a design of its own, (n_rows,) each."""
    same, related = np.zeros(len(cells)), np.zeros(len(cells))
    for dim in range(len(learned.rules)):
        rows = np.flatnonzero(~np.isnan(cells.value[:, dim]))
        if not len(rows):
            continue
        ratios = reading_ratios(
            learned,
            dim,
            cells.value[rows, dim],
            cells.u[rows, dim],
            Centres(*(part[rows, dim] for part in (centres.value, centres.variance, centres.share))),
            learned.error(dim),
        )
        same[rows] += np.log(ratios[0])
        related[rows] += np.log((1.0 - learned.changes) * ratios[0] + learned.changes * ratios[1])
    return same, related


def reassign(
    cells: Cells, rows: Ints, partition: Partition, temperature: float, rng: np.random.Generator
) -> Ints:
    """Return the labels once some parts have chosen anew where they belong; groups may be left empty.

    Args:
        cells: of all parts.
        rows: the parts.
        partition: the division.
        temperature: 1 draws by probability, less favours the likeliest, 0 takes it.
        rng: for the draws.
    """
    n_groups = len(partition.kin.parent)
    labels = partition.labels.copy()
    fresh: list[int] = []
    step = max(1, BLOCK // max(1, n_groups))
    for start in range(0, len(rows), step):
        some = rows[start : start + step]
        choices = weigh_choices(cells, some, partition)
        logs = np.concatenate((choices.groups, choices.new[:, None]), axis=1)
        if temperature > 0.0:
            # The largest of log weights plus Gumbel noise is a draw by weight.
            logs = logs / temperature + rng.gumbel(size=logs.shape)
        taken = logs.argmax(axis=1)
        stays = taken < n_groups
        labels[some[stays]] = taken[stays]
        fresh += some[~stays].tolist()
    for place, row in enumerate(fresh):
        labels[row] = n_groups + place
    return labels


def without_gaps(labels: Ints) -> Ints:
    """Return labels that count up without gaps; -1 stays."""
    placed = labels >= 0
    packed = labels.copy()
    packed[placed] = np.unique(labels[placed], return_inverse=True)[1]
    return packed


def merge(cells: Cells, partition: Partition, partners: Ints) -> Ints:
    """Return the labels once groups that one design explains better than two are put together."""
    learned, size, centres = partition.learned, partition.size.astype(np.float64), partition.gathered.centres
    n_groups = len(size)
    if not partners.shape[1]:
        return partition.labels
    partners = add_tied_partners(partners, cells.ties, partition.labels)
    same, changed = design_ratios(learned, centres.lifted(1), centres.of(partners))
    changes, share = learned.changes, learned.related / n_groups
    apart = np.log((1.0 - changes) * same + changes * changed).sum(axis=-1) + np.log(share)
    apart = np.logaddexp(np.log(1.0 - learned.related), apart)
    ours, theirs = _telling_members(cells, partition, partners, same)
    tables = gammaln(ours + theirs) - gammaln(ours) - gammaln(theirs) - np.log(learned.concentration)
    tables = merge_odds(tables, cells.ties, partition.labels, partners)
    gain = np.log(same).sum(axis=-1) - apart + tables
    gain[partners == np.arange(n_groups)[:, None]] = -np.inf
    labels = partition.labels.copy()
    order = np.argsort(-gain, axis=None)
    used: set[int] = set()
    for place in order[: int((gain > 0.0).sum())].tolist():
        group, which = divmod(place, partners.shape[1])
        other = int(partners[group, which])
        if group in used or other in used:
            continue
        used |= {group, other}
        labels[labels == other] = group
    return without_gaps(labels)


def _telling_members(
    cells: Cells, partition: Partition, partners: Ints, same: Floats
) -> tuple[Floats, Floats]:
    """Return how many parts of two groups show to which they belong: those that list where they conflict.

    The others could be of either, so that dividing them costs nothing.
    """
    placed = partition.labels >= 0
    n_groups = len(partition.kin.parent)
    counts = np.zeros((n_groups, same.shape[-1]))
    np.add.at(counts, partition.labels[placed], cells.listed[placed])
    conflict = same < CONFLICT
    size = partition.size.astype(np.float64)
    any_conflict = conflict.any(axis=-1)
    ours = np.maximum(np.where(conflict, counts[:, None], 0.0).max(axis=-1), 1.0)
    theirs = np.maximum(np.where(conflict, counts[partners], 0.0).max(axis=-1), 1.0)
    return np.where(any_conflict, ours, size[:, None]), np.where(any_conflict, theirs, size[partners])


@dataclass(frozen=True, slots=True)
class Splits:
    """Groups divided in two.

    Attributes:
        labels: (n_parts,) group of each part; the new groups come last, and none is empty.
        origin: (n_new,) group that each new one was split from.
        gain: (n_new,) log odds that it is one of its own.
    """

    labels: Ints
    origin: Ints
    gain: Floats


def split(partition: Partition, least_gain: float) -> Splits:
    """Return the groups divided whose cells in one dimension form two runs too unlike.

    The second run becomes a group of its own, a relative of the first, where that explains its cells better
    than so many errors in one place.

    Args:
        partition: the division.
        least_gain: log odds from which a group is divided.
    """
    learned, labels = partition.learned, partition.labels.copy()
    n_groups = len(partition.kin.parent)
    prior = np.log(learned.concentration * learned.related * learned.changes / max(n_groups, 1))
    origin: list[int] = []
    gains: list[float] = []
    divided = np.zeros(n_groups, np.bool_)
    for dim, runs in enumerate(partition.gathered.runs):
        second = np.flatnonzero((runs.place == 1) & (runs.count > 1) & ~divided[runs.group])
        if not len(second):
            continue
        group, count = runs.group[second], runs.count[second].astype(np.float64)
        rest = np.maximum(np.bincount(runs.group[runs.run], minlength=n_groups)[group] - count, 1.0)
        strayed = np.bincount(runs.run, weights=runs.astray, minlength=len(runs.group))[second]
        sound = _run_evidence(partition, dim, second)
        tables = gammaln(rest) + gammaln(count) - gammaln(rest + count)
        gain = sound - strayed + prior + tables
        for place in np.flatnonzero(gain > least_gain).tolist():
            labels[runs.row[runs.run == second[place]]] = n_groups + len(origin)
            divided[group[place]] = True
            origin.append(int(group[place]))
            gains.append(float(gain[place]))
    return Splits(labels, np.array(origin, np.int64), np.array(gains))


def _run_evidence(partition: Partition, dim: int, second: Ints) -> Floats:
    """Return the log probability of runs' cells as those of a relative changed in this dimension."""
    learned, runs = partition.learned, partition.gathered.runs[dim]
    mean, u = runs.mean[second], learned.reading_u(dim)
    usual = learned.spreads[dim].density(mean, u)
    if not learned.numeric[dim]:
        return np.asarray(np.log(usual))
    main = partition.gathered.centres.value[runs.group[second], dim, 0]
    near = student_density(mean - main, learned.reach[dim])
    place = np.log((1.0 - learned.near) * usual + learned.near * near)
    return np.asarray(
        place - 0.5 * runs.misfit[second] + 0.5 * (np.log(2.0 * np.pi) - np.log(runs.precision[second]))
    )


def learn_again(cells: Cells, partition: Partition, first: Learned, model: FitModel) -> Learned:
    """Return the shares and spreads as a division of the parts shows them, shrunk to the first guess.

    Args:
        cells: of all parts.
        partition: the division.
        first: the first guess.
        model: how many counted cells or groups the first guess weighs.
    """
    learned, centres = partition.learned, partition.gathered.centres
    scatter = learned.scatter.copy()
    slips, counted = np.zeros(2), np.zeros(2)
    for dim, runs in enumerate(partition.gathered.runs):
        main = runs.place[runs.run] == 0
        telling = np.bincount(runs.group[runs.run], minlength=len(centres.value))[runs.group[runs.run]] > KEPT
        kind = int(learned.numeric[dim])
        slips[kind] += float((telling & ~main).sum())
        counted[kind] += float(telling.sum())
        if kind:
            scatter[dim] = _scatter(cells, partition, dim, first, model)
    weigh = model.error_count
    wrong = (weigh * np.array([model.choice_error_share, model.gross_error_share]) + slips) / (weigh + counted)
    known = [centres.value[centres.share[:, dim, 0] > 0.5, dim, 0] for dim in range(len(learned.rules))]
    related, changes = _learn_kinship(partition, first, model)
    again = replace(
        learned,
        scatter=scatter,
        wrong=float(wrong[0]),
        gross=float(wrong[1]),
        concentration=_concentration(len(cells), len(centres.value)),
        related=related,
        changes=changes,
    )
    return replace(again, spreads=spreads_of(known, again, model))


def keeping_shares(learned: Learned, shares: Learned) -> Learned:
    """Return what was learned with the shares of errors, relatives and new designs of another time."""
    return replace(
        learned,
        gross=shares.gross,
        wrong=shares.wrong,
        concentration=shares.concentration,
        related=shares.related,
        changes=shares.changes,
    )


def _scatter(cells: Cells, partition: Partition, dim: int, first: Learned, model: FitModel) -> float:
    """Return the makers' scatter in one dimension, with whatever else strays, as the groups show it.

    All cells near a group's main run count, not those of the run alone: entries that were rounded coarsely
    fall into several. Groups that stray most are left out, since two designs may be one group by mistake.
    """
    learned, runs = partition.learned, partition.gathered.runs[dim]
    group, row = runs.group[runs.run], runs.row
    off = cells.value[row, dim] - partition.gathered.centres.value[group, dim, 0]
    window = max(WINDOW * learned.reading_u(dim), NEARBY * learned.reach[dim])
    near = np.abs(off) < window
    count = np.bincount(group[near], minlength=len(partition.kin.parent))
    spare = np.bincount(group[near], weights=off[near] ** 2, minlength=len(count))
    noise = np.bincount(group[near], weights=cells.u[row[near], dim] ** 2, minlength=len(count))
    telling = np.flatnonzero(count > KEPT)
    before = first.scatter[dim] ** 2
    if len(telling):
        each = spare[telling] / (count[telling] - 1.0) - noise[telling] / count[telling]
        kept = np.argsort(each)[: max(1, int(len(each) * STEADIEST))]
        weight = count[telling][kept]
        found = float((each[kept] * weight).sum())
        before = (model.share_count * before + found) / (model.share_count + float(weight.sum()))
    return float(np.sqrt(max(before, (first.scatter[dim] * model.least_scatter) ** 2)))


def _learn_kinship(partition: Partition, first: Learned, model: FitModel) -> tuple[float, float]:
    """Return the share of designs that are relatives, and how often relatives differ in a dimension."""
    learned, kin, centres = partition.learned, partition.kin, partition.gathered.centres
    some = np.flatnonzero(kin.parent >= 0)
    weigh = model.relative_count
    related = (weigh * first.related + kin.share.sum()) / (weigh + len(kin.parent))
    if not len(some):
        return float(related), first.changes
    own, parents = centres.of(some), centres.of(kin.parent[some])
    same, changed = design_ratios(learned, own, parents)
    both = (own.unknown < 0.5) & (parents.unknown < 0.5)  # noqa: PLR2004  # rather than not
    differs = learned.changes * changed / ((1.0 - learned.changes) * same + learned.changes * changed)
    share = kin.share[some][:, None] * both
    weigh = model.share_count * len(learned.rules)
    changes = (weigh * first.changes + (share * differs).sum()) / (weigh + share.sum())
    return float(related), float(min(changes, MOST_CHANGES * first.changes))


def _concentration(n_parts: int, n_groups: int) -> float:
    """Return the concentration under which so many parts are expected in so many groups.

    The expected number is about c log(1 + n / c); solved by iteration.
    """
    found = max(1.0, n_groups / 2.0)
    for _ in range(50):
        found = n_groups / np.log1p(n_parts / found)
    return float(min(max(found, 0.5), 10.0 * n_parts))
