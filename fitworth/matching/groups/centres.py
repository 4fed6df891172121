"""What the members of a group say together about its design, dimension by dimension.

Each cell is sound or a gross error. So a group's centre is not one figure but a few: for each run of cells
that agree, the probability that they are the sound ones,

    share of a run ~ p(size) * product over its cells of (1 - gross) normal * product over the others of
    gross * wide

and a remainder for "all are wrong". With one cell the run's share is about 1 - gross; with five that agree
and one that does not, the five win. The two likeliest runs are kept; the remainder knows nothing.
"""

from dataclasses import dataclass

import numpy as np

from fitworth.matching.answer import Floats, Ints
from fitworth.matching.groups.cells import Cells
from fitworth.matching.groups.learned import Learned
from fitworth.matching.sides import Mask

LIKELY = 0.5  # a figure counts where it is likelier right than not
KEPT = 2  # runs of each group and dimension
GAP = 3.0  # standard uncertainties of a difference; two cells farther apart are of two runs. Own choice
LOG_2PI = float(np.log(2.0 * np.pi))


@dataclass(frozen=True, slots=True)
class Centres:
    """What is known of some designs; arrays (..., n_dims, 2), one figure for each of the likeliest runs.

    Attributes:
        value: size [unit] or code.
        variance: of the size [unit squared]; 0 for words.
        share: probability that this is right; the two add up to at most 1, and to 0 where nothing is listed.
    """

    value: Floats
    variance: Floats
    share: Floats

    @classmethod
    def blank(cls, *shape: int) -> "Centres":
        """Return designs of which nothing is known, (*shape, 2)."""
        whole = (*shape, KEPT)
        return cls(np.zeros(whole), np.ones(whole), np.zeros(whole))

    @property
    def unknown(self) -> Floats:
        """The probability that neither figure is right, (..., n_dims)."""
        return np.asarray(1.0 - self.share.sum(axis=-1))

    def of(self, places: Ints | Mask | slice) -> "Centres":
        """Return some of the designs."""
        return Centres(self.value[places], self.variance[places], self.share[places])

    def copied(self) -> "Centres":
        """Return the same, to be written to."""
        return Centres(self.value.copy(), self.variance.copy(), self.share.copy())

    def within(self, dim: int) -> "Centres":
        """Return one dimension, (..., 2) each."""
        return Centres(self.value[..., dim, :], self.variance[..., dim, :], self.share[..., dim, :])

    def lifted(self, axis: int) -> "Centres":
        """Return the same with a new axis, to be compared with others across it."""
        return Centres(
            np.expand_dims(self.value, axis),
            np.expand_dims(self.variance, axis),
            np.expand_dims(self.share, axis),
        )


@dataclass(frozen=True, slots=True)
class Runs:
    """The cells of one dimension that belong to groups, sorted by group and size, in runs that agree.

    Attributes:
        row: (n_cells,) part of each cell.
        run: (n_cells,) run of each cell.
        group: (n_runs,) group of each run.
        count: (n_runs,) cells in it.
        precision: (n_runs,) sum of the reciprocal variances; 0 for words.
        mean: (n_runs,) weighted mean [unit] or code.
        misfit: (n_runs,) sum of squared standard deviations from the mean and of logarithms of variances.
        astray: (n_cells,) log probability of each cell as a gross error.
        place: (n_runs,) 0 or 1 for the group's likeliest two, 2 for the others.
        logs: (n_groups, 3) log weight of the two, and of "all are wrong".
    """

    row: Ints
    run: Ints
    group: Ints
    count: Ints
    precision: Floats
    mean: Floats
    misfit: Floats
    astray: Floats
    place: Ints
    logs: Floats


def runs_of(cells: Cells, labels: Ints, n_groups: int, learned: Learned, dim: int) -> Runs:
    """Return the runs of one dimension.

    Args:
        cells: of all parts.
        labels: (n_parts,) group of each part, -1 for none.
        n_groups: how many groups there are.
        learned: shares and spreads.
        dim: the dimension's place.
    """
    row = np.flatnonzero(~np.isnan(cells.value[:, dim]) & (labels >= 0))
    row = row[np.lexsort((cells.value[row, dim], labels[row]))]
    size, group = cells.value[row, dim], labels[row]
    spread, error = learned.spreads[dim], learned.error(dim)
    new = np.ones(len(row), np.bool_)
    variance = cells.u[row, dim] ** 2 + learned.scatter[dim] ** 2
    gap = GAP * np.sqrt(variance[1:] + variance[:-1]) if learned.numeric[dim] else 0.0
    new[1:] = (group[1:] != group[:-1]) | (size[1:] - size[:-1] > gap)
    first = np.flatnonzero(new)
    count = np.diff(np.append(first, len(row)))
    run = np.repeat(np.arange(len(first)), count)
    astray = np.log(error * spread.gross(size, np.sqrt(variance)))
    if not len(row):
        nothing = np.zeros(0)
        return Runs(row, run, group, count, nothing, nothing, nothing, astray, count, _no_logs(n_groups))
    of_run = group[first]
    if learned.numeric[dim]:
        precision = np.add.reduceat(1.0 / variance, first)
        mean = np.add.reduceat(size / variance, first) / precision
        misfit = np.add.reduceat((size - mean[run]) ** 2 / variance + np.log(variance) + LOG_2PI, first)
        sound = (
            np.log(spread.density(mean, np.sqrt(1.0 / precision + learned.scatter[dim] ** 2))) - 0.5 * misfit
        )
        sound += 0.5 * (LOG_2PI - np.log(precision)) + count * np.log1p(-error)
    else:
        mean, precision, misfit = size[first], np.zeros(len(first)), np.zeros(len(first))
        share = spread.density(mean, 0.0)
        sound = np.log(share) + count * np.log1p(error * (share - 1.0))
    all_astray = np.bincount(group, weights=astray, minlength=n_groups)
    log_weight = sound + all_astray[of_run] - np.add.reduceat(astray, first)
    order = np.lexsort((-log_weight, of_run))
    begins = np.flatnonzero(np.diff(of_run[order], prepend=-1))
    rank = np.arange(len(order)) - np.repeat(begins, np.diff(np.append(begins, len(order))))
    place = np.empty(len(order), np.int64)
    place[order] = np.minimum(rank, KEPT)
    logs = _no_logs(n_groups)
    known = np.bincount(group, minlength=n_groups) > 0
    logs[known, KEPT] = all_astray[known]
    for kept in range(KEPT):
        some = place == kept
        logs[of_run[some], kept] = log_weight[some]
    return Runs(row, run, of_run, count, precision, mean, misfit, astray, place, logs)


def _no_logs(n_groups: int) -> Floats:
    return np.full((n_groups, KEPT + 1), -np.inf)


def _shares(logs: Floats) -> Floats:
    """Return the shares of the two runs, (n, 2), from log weights; zeros where all are nothing."""
    most = logs.max(axis=1, keepdims=True)
    weights = np.exp(logs - np.where(np.isfinite(most), most, 0.0))
    return np.asarray(weights[:, :KEPT] / np.maximum(weights.sum(axis=1, keepdims=True), 1e-300))


@dataclass(frozen=True, slots=True)
class Gathered:
    """All runs of a set of groups, with what they say.

    Attributes:
        runs: of each dimension.
        centres: (n_groups, n_dims, 2) what each group's members say together.
    """

    runs: tuple[Runs, ...]
    centres: Centres


def gather(cells: Cells, labels: Ints, n_groups: int, learned: Learned) -> Gathered:
    """Return the centres of groups, with the runs behind them.

    Args:
        cells: of all parts.
        labels: (n_parts,) group of each part, -1 for none.
        n_groups: how many groups there are.
        learned: shares and spreads.
    """
    centres = Centres.blank(n_groups, len(learned.rules))
    found = []
    for dim in range(len(learned.rules)):
        runs = runs_of(cells, labels, n_groups, learned, dim)
        centres.share[:, dim] = _shares(runs.logs)
        for kept in range(KEPT):
            some = runs.place == kept
            centres.value[runs.group[some], dim, kept] = runs.mean[some]
            variance = 1.0 / runs.precision[some] if learned.numeric[dim] else 0.0
            centres.variance[runs.group[some], dim, kept] = variance
        found.append(runs)
    return Gathered(tuple(found), centres)


def left_out(gathered: Gathered, cells: Cells, rows: Ints, labels: Ints, learned: Learned) -> Centres:
    """Return for some parts what the other members of their group say, (n_rows, n_dims, 2).

    In closed form: a cell's run loses its contribution, or vanishes with it.

    Args:
        gathered: of all groups.
        cells: of all parts.
        rows: the parts.
        labels: (n_parts,) their groups.
        learned: shares and spreads.
    """
    own = gathered.centres.of(labels[rows])
    others = own.copied()
    at = np.full(len(cells), -1, np.int64)
    at[rows] = np.arange(len(rows))
    for dim, runs in enumerate(gathered.runs):
        some = np.flatnonzero(at[runs.row] >= 0)
        if not len(some):
            continue
        out, run, row = at[runs.row[some]], runs.run[some], runs.row[some]
        logs = runs.logs[runs.group[run]] - runs.astray[some][:, None]
        more = runs.count[run] > 1
        if learned.numeric[dim]:
            variance = cells.u[row, dim] ** 2 + learned.scatter[dim] ** 2
            size = cells.value[row, dim]
            left = np.where(more, runs.precision[run] - 1.0 / variance, 1.0)
            mean = (runs.precision[run] * runs.mean[run] - size / variance) / left
            off = (size - runs.mean[run]) ** 2 / variance * runs.precision[run] / left
            spread, u2 = learned.spreads[dim], learned.scatter[dim] ** 2
            change = np.log(spread.density(mean, np.sqrt(1.0 / left + u2)))
            change -= np.log(spread.density(runs.mean[run], np.sqrt(1.0 / runs.precision[run] + u2)))
            change += 0.5 * (off + np.log(variance) + LOG_2PI) - np.log1p(-learned.gross)
            change += 0.5 * (np.log(runs.precision[run]) - np.log(left))
        else:
            mean, left = runs.mean[run], np.full(len(some), np.inf)
            share = learned.spreads[dim].density(mean, 0.0)
            change = -np.log1p(learned.wrong * (share - 1.0))
        for kept in range(KEPT):
            inside = runs.place[run] == kept
            logs[inside, kept] = np.where(
                more[inside], (runs.logs[runs.group[run], kept] + change)[inside], -np.inf
            )
            others.value[out[inside], dim, kept] = mean[inside]
            others.variance[out[inside], dim, kept] = 1.0 / left[inside]
        others.share[out, dim] = _shares(logs)
    return others
