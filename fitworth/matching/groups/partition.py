"""Which parts form a group: each part chooses where it belongs, given where all others are.

Parts fall into groups as customers at tables (the Chinese restaurant process; after D. J. Aldous 1985, from
memory): a part joins a group of n with weight n, a new one with the concentration. A design on file may be a
relative of another: the same but for a few dimensions. So a group's silent dimensions are those of its
relative, and a lone part that differs once is either a new relative or a slip. Choices are drawn (Gibbs
sampling), first at full temperature, then cooler, at last the likeliest is taken.
"""

from dataclasses import dataclass

import numpy as np

from fitworth.matching.answer import Floats, Ints
from fitworth.matching.groups.cells import Cells
from fitworth.matching.groups.centres import LIKELY, Centres, Gathered, gather, left_out
from fitworth.matching.groups.learned import Learned
from fitworth.matching.groups.likeness import design_ratios
from fitworth.matching.groups.scores import Tables, score_each, tables_of
from fitworth.matching.groups.ties import weigh_ties

PARTNERS = 8  # groups that each group is compared with in full
BLOCK = 4_000_000  # numbers in one table of scores
LEAST_NOISE = np.float32(1e-30)  # single precision draws a zero now and then
STEEPEST = 50.0  # log odds beyond which a probability is 0 or 1


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
    larger &= (size[partners] > size[:, None]) | (
        (size[partners] == size[:, None]) & (partners < own[:, None])
    )
    logs = _related_logs(centres.lifted(1), centres.of(partners), learned)
    logs = np.where(larger, logs, -np.inf)
    best = logs.argmax(axis=1)
    known = larger.any(axis=1)
    share = _kin_share(logs[own, best], len(size), learned)
    return Kin(np.where(known, partners[own, best], -1), np.where(known, share, 0.0))


def _kin_share(logs: Floats, n_groups: int, learned: Learned) -> Floats:
    """Return the probability of being a relative, from the log likelihood ratio of being this one's."""
    found = logs + np.log(learned.related / n_groups)
    odds = np.exp(np.clip(found, -STEEPEST, STEEPEST)) / (1.0 - learned.related)
    return np.asarray(odds / (1.0 + odds))


def _related_logs(a: Centres, b: Centres, learned: Learned) -> Floats:
    same, changed = design_ratios(learned, a, b)
    return np.asarray(np.log(learned.related_ratios(same, changed)).sum(axis=-1))


def fill_in(own: Centres, parents: Centres, share: Floats, learned: Learned) -> Centres:
    """Return designs with what their relatives say where they themselves are silent or unsure.

    Args:
        own: (n, n_dims, 2).
        parents: (n, n_dims, 2) their relatives.
        share: (n,) probability that they are relatives; 0 where there is none.
        learned: how often a dimension was changed.
    """
    filled = own.copied()
    best = parents.share.argmax(axis=-1)[..., None]
    told, told_variance, told_share = (
        np.take_along_axis(part, best, axis=-1)[..., 0]
        for part in (parents.value, parents.variance, parents.share)
    )
    gain = own.unknown * share[:, None] * (1.0 - learned.rates) * told_share
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
    known = centres.share[..., 0] > LIKELY
    heads = Cells(np.where(known, centres.value[..., 0], np.nan), np.sqrt(centres.variance[..., 0]))
    tables = tables_of(heads, learned, centres)
    step = max(1, BLOCK // count)
    for start in range(0, count, step):
        rows = np.arange(start, min(start + step, count))
        related = tables.scores(rows).related
        related[np.arange(len(rows)), rows] = -np.inf
        found[rows] = np.argpartition(-related, wanted - 1, axis=1)[:, :wanted]
    return found


def settle(
    cells: Cells, labels: Ints, learned: Learned, kin: Kin | None = None, n_groups: int = 0
) -> Partition:
    """Return a division with its centres, relatives and filled dimensions.

    Args:
        cells: of all parts.
        labels: (n_parts,) group of each; -1 for parts not yet in any.
        learned: shares and spreads.
        kin: of the first groups, where it is known; without it, it is looked for.
        n_groups: how many groups there are at least; the last may be empty.
    """
    n_groups = max(n_groups, int(labels.max(initial=-1)) + 1)
    gathered = gather(cells, labels, n_groups, learned)
    if kin is None:
        size = np.bincount(labels[labels >= 0], minlength=n_groups)
        kin = find_kin(gathered.centres, size, likely_partners(gathered.centres, learned), learned)
    else:
        more = max(0, n_groups - len(kin.parent))
        parent = np.concatenate((kin.parent, np.full(more, -1)))[:n_groups]
        kin = Kin(
            np.where(parent < n_groups, parent, -1), np.concatenate((kin.share, np.zeros(more)))[:n_groups]
        )
    parents = gathered.centres.of(np.maximum(kin.parent, 0))
    share = np.where(kin.parent >= 0, kin.share, 0.0)
    return Partition(labels, learned, gathered, kin, fill_in(gathered.centres, parents, share, learned))


NO_KIN = Kin(np.zeros(0, np.int64), np.zeros(0))  # while groups are founded, none is anybody's relative


@dataclass(frozen=True, slots=True)
class Choices:
    """Where some parts belong, in log weights up to a constant for each.

    Attributes:
        groups: (n_rows, n_groups) each group without the part itself; minus infinity where nobody is left.
        new: (n_rows,) a group of its own.
    """

    groups: Floats
    new: Floats


def weigh_choices(cells: Cells, rows: Ints, partition: Partition, tables: Tables | None = None) -> Choices:
    """Return where some parts belong, given where all others are.

    Args:
        cells: of all parts.
        rows: the parts.
        partition: the division; parts in no group yet have no own one to be left out of.
        tables: of all parts, where they are at hand.
    """
    learned, labels = partition.learned, partition.labels
    if tables is None:
        scores = tables_of(cells.of(rows), learned, partition.filled).scores(np.arange(len(rows)))
    else:
        scores = tables.scores(rows)
    size = np.broadcast_to(partition.size.astype(np.float32), scores.same.shape).copy()
    inside = np.flatnonzero(labels[rows] >= 0)
    if len(inside):
        some = rows[inside]
        own = labels[some]
        size[inside, own] -= 1.0
        alone = left_out(partition.gathered, cells, some, labels, learned)
        parents = partition.gathered.centres.of(np.maximum(partition.kin.parent[own], 0))
        share = _kin_shares(alone, parents, partition, own)
        without = score_each(cells.of(some), learned, fill_in(alone, parents, share, learned))
        scores.same[inside, own], scores.related[inside, own] = without
    with np.errstate(divide="ignore"):
        prior = np.log(size)
    weigh_ties(prior, cells.ties, rows, labels, learned.concentration)
    groups = scores.same + prior
    occupied = size > 0
    most = scores.related.max(axis=1, keepdims=True)
    kin = np.where(occupied, np.exp(scores.related - most), 0.0).sum(axis=1) / np.maximum(
        occupied.sum(axis=1), 1
    )
    with np.errstate(divide="ignore"):
        related = np.log(learned.related * kin) + most[:, 0]
    new = np.log(learned.concentration) + np.logaddexp(np.log(1.0 - learned.related), related)
    return Choices(groups.astype(np.float64), new)


def _kin_shares(alone: Centres, parents: Centres, partition: Partition, own: Ints) -> Floats:
    """Return how likely a group is its parent's relative once a member is left out of it."""
    learned = partition.learned
    share = _kin_share(_related_logs(alone, parents, learned), len(partition.kin.parent), learned)
    return np.where(partition.kin.parent[own] >= 0, share, 0.0)


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
    tables = tables_of(cells, partition.learned, partition.filled) if len(rows) > step else None
    for start in range(0, len(rows), step):
        some = rows[start : start + step]
        choices = weigh_choices(cells, some, partition, tables)
        logs = np.concatenate((choices.groups, choices.new[:, None]), axis=1)
        if temperature > 0.0:
            # The largest of log weights plus Gumbel noise is a draw by weight.
            noise = np.maximum(rng.standard_exponential(logs.shape, np.float32), LEAST_NOISE)
            logs = logs / temperature - np.log(noise)
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
