"""What a division of the parts shows of errors, scatter, relatives and sizes."""

from dataclasses import replace

import numpy as np

from fitworth.matching.groups.cells import Cells
from fitworth.matching.groups.centres import KEPT, LIKELY
from fitworth.matching.groups.learned import Learned, spreads_of
from fitworth.matching.groups.likeness import design_ratios
from fitworth.matching.groups.partition import Partition
from fitworth.matching.parameters import FitModel

WINDOW = 6.0  # standard uncertainties within which cells show the scatter
NEARBY = 0.8  # of the reach of relatives, the same
STEADIEST = 0.75  # share of the groups that the scatter is learned from
MOST_CHANGES = 2.0  # times the first guess; beyond it, relatives would be no nearer than any two designs


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
    wrong = (weigh * np.array([model.choice_error_share, model.gross_error_share]) + slips) / (
        weigh + counted
    )
    known = [centres.value[centres.share[:, dim, 0] > LIKELY, dim, 0] for dim in range(len(learned.rules))]
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
    both = (own.unknown < LIKELY) & (parents.unknown < LIKELY)
    differs = learned.rates * changed / learned.related_ratios(same, changed)
    share = kin.share[some][:, None] * both
    weigh = model.share_count * max(len(learned.rules), 1)
    changes = (weigh * first.changes + (share * differs).sum()) / (weigh + (share * learned.proneness).sum())
    return float(related), float(min(changes, MOST_CHANGES * first.changes))


def _concentration(n_parts: int, n_groups: int) -> float:
    """Return the concentration under which so many parts are expected in so many groups.

    The expected number is about c log(1 + n / c); solved by iteration.
    """
    found = max(1.0, n_groups / 2.0)
    for _ in range(50):
        found = n_groups / np.log1p(n_parts / found)
    return float(min(max(found, 0.5), float(n_parts)))
