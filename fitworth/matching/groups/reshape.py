"""Groups are split along a dimension whose cells form two runs, and merged where one design explains both.

Choosing part by part cannot do either: a part alone gains little by leaving, and two groups of one design
that rests on different slips stay apart.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln

from fitworth.matching.answer import Floats, Ints
from fitworth.matching.groups.cells import Cells
from fitworth.matching.groups.likeness import design_ratios
from fitworth.matching.groups.partition import Partition, without_gaps
from fitworth.matching.groups.sizes import student_density
from fitworth.matching.groups.ties import add_tied_partners, merge_odds

CONFLICT = 0.1  # a dimension with a smaller ratio tells two groups apart


def merge(cells: Cells, partition: Partition, partners: Ints) -> Ints:
    """Return the labels once groups that one design explains better than two are put together."""
    learned, size, centres = partition.learned, partition.size.astype(np.float64), partition.gathered.centres
    n_groups = len(size)
    if not partners.shape[1]:
        return partition.labels
    partners = add_tied_partners(partners, cells.ties, partition.labels)
    same, changed = design_ratios(learned, centres.lifted(1), centres.of(partners))
    apart = np.log(learned.related_ratios(same, changed)).sum(axis=-1) + np.log(learned.related / n_groups)
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
    ours = np.maximum(np.where(conflict, counts[:, None], 0.0).max(axis=-1, initial=0.0), 1.0)
    theirs = np.maximum(np.where(conflict, counts[partners], 0.0).max(axis=-1, initial=0.0), 1.0)
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
    prior = np.log(learned.concentration * learned.related / max(n_groups, 1))
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
        gain = sound - strayed + prior + np.log(learned.rates[dim]) + tables
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
