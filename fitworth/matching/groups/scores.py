"""How well parts go with designs, many parts and designs at a time.

Few entries are distinct: half a catalogue has the same ten bolt spacings. So each dimension's distinct
entries are compared with each design once, and a part's score is a sum of looked-up figures.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from fitworth.matching.answer import Floats, Ints
from fitworth.matching.groups.cells import Cells
from fitworth.matching.groups.centres import Centres
from fitworth.matching.groups.learned import Learned
from fitworth.matching.groups.likeness import reading_ratios

FINENESS = 3.0  # steps of a table of readings in one standard uncertainty

Singles = npt.NDArray[Any]  # single precision, where a double is taken too


@dataclass(frozen=True, slots=True)
class Scores:
    """Log Bayes factors of parts against designs, (n_rows, n_groups) each.

    Attributes:
        same: of being that design.
        related: of being that design changed in a few dimensions.
    """

    same: Singles
    related: Singles


@dataclass(frozen=True, slots=True)
class Tables:
    """What the distinct entries of some parts say of some designs, dimension by dimension.

    Attributes:
        place: for each dimension, (n_parts,) each part's entry, -1 where it lists nothing.
        same: for each, (n_entries, n_groups) log Bayes factors of being that design.
        related: for each, the same of being that design changed in a few dimensions.
        n_groups: how many designs there are, be there dimensions or none.
    """

    place: tuple[Ints, ...]
    same: tuple[Singles, ...]
    related: tuple[Singles, ...]
    n_groups: int

    def scores(self, some: Ints) -> Scores:
        """Return the scores of some of the parts.

        Args:
            some: (n_rows,) places among the parts.
        """
        shape = len(some), self.n_groups
        found = Scores(np.zeros(shape, np.float32), np.zeros(shape, np.float32))
        for place, same, related in zip(self.place, self.same, self.related, strict=True):
            entry = place[some]
            rows = np.flatnonzero(entry >= 0)
            if len(rows) == len(some):
                found.same[...] += same[entry]
                found.related[...] += related[entry]
            else:
                found.same[rows] += same[entry[rows]]
                found.related[rows] += related[entry[rows]]
        return found


def tables_of(cells: Cells, learned: Learned, centres: Centres) -> Tables:
    """Return what some parts' entries say of some designs, good to a third of their uncertainty.

    Args:
        cells: (n_parts, n_dims) of the parts.
        learned: shares and spreads.
        centres: (n_groups, n_dims, 2) of the designs.
    """
    places, sames, relateds = [], [], []
    for dim in range(len(learned.rules)):
        entries, place = _distinct(cells, learned, dim)
        single: list[Singles] = [
            part[None, :, dim].astype(np.float32) for part in (centres.value, centres.variance, centres.share)
        ]
        # Single precision does for a table.
        ratios = reading_ratios(
            learned, dim, entries[:, :1], entries[:, 1:], Centres(*single), learned.error(dim)
        )
        places.append(place)
        sames.append(np.log(ratios[0]).astype(np.float32))
        relateds.append(np.log(learned.related_ratios(*ratios, dim)).astype(np.float32))
    return Tables(tuple(places), tuple(sames), tuple(relateds), len(centres.value))


def _distinct(cells: Cells, learned: Learned, dim: int) -> tuple[Singles, Ints]:
    """Return the distinct entries of one dimension, (n, 2) value and uncertainty, and each part's or -1."""
    place = np.full(len(cells), -1, np.int64)
    rows = np.flatnonzero(~np.isnan(cells.value[:, dim]))
    value, u = cells.value[rows, dim], cells.u[rows, dim]
    if learned.numeric[dim]:
        step = learned.reading_u(dim) / FINENESS
        value, u = np.round(value / step) * step, np.round(u / step) * step
    order = np.lexsort((u, value))
    new = np.ones(len(order), np.bool_)
    new[1:] = (np.diff(value[order]) != 0.0) | (np.diff(u[order]) != 0.0)
    place[rows[order]] = np.cumsum(new) - 1
    first = order[new]
    return np.stack((value[first], u[first]), axis=1).astype(np.float32), place


def score_each(cells: Cells, learned: Learned, centres: Centres) -> tuple[Floats, Floats]:
    """Return the scores of each part against a design of its own, (n_rows,) each: same, and related."""
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
            centres.of(rows).within(dim),
            learned.error(dim),
        )
        same[rows] += np.log(ratios[0])
        related[rows] += np.log(learned.related_ratios(*ratios, dim))
    return same, related
