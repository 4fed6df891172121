"""What the members of a group say that a dimension is: as a value, with how many of them say so."""

import math
from dataclasses import dataclass

import numpy as np

from fitworth.families.model import Dimension
from fitworth.matching.answer import Ints
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.groups.centres import GAP, KEPT, Runs
from fitworth.matching.groups.membership import Groups
from fitworth.matching.sides import Mask
from fitworth.quantities.quantity import Quantity, Value

LIKELY = 0.5  # a figure less likely than not is not shown; own choice
MOST_DECIMALS = 3


@dataclass(frozen=True, slots=True)
class Witnesses:
    """How many members of each group say each of its figures, and which of them each part says.

    Attributes:
        count: (n_groups, n_dims, 2) members that list the figure.
        place: (n_parts, n_dims) which of its group's figures a part lists; 2 for another one or none.
    """

    count: Ints
    place: Ints


def witnesses_of(groups: Groups) -> Witnesses:
    """Return who says what in the groups of a catalogue."""
    runs = groups.partition.gathered.runs
    count = np.zeros((len(groups.partition.kin.parent), len(runs), KEPT), np.int64)
    place = np.full(groups.cells.value.shape, KEPT, np.int64)
    for dim, these in enumerate(runs):
        kept = np.flatnonzero(these.place < KEPT)
        count[these.group[kept], dim, these.place[kept]] = these.count[kept]
        place[these.row, dim] = these.place[these.run]
    return Witnesses(count, place)


def round_figure(value: float, u: float, unit: str) -> Quantity:
    """Return a figure with as few decimals as a third of its standard uncertainty leaves open.

    >>> round_figure(14.087, 0.05, "mm").as_entered, round_figure(19.05, 0.05, "mm").as_entered
    ('14.1 mm', '19.05 mm')

    Args:
        value: [unit].
        u: its standard uncertainty [unit].
        unit: canonical.
    """
    decimals = next(
        (count for count in range(MOST_DECIMALS) if abs(round(value, count) - value) <= u / 3.0),
        MOST_DECIMALS,
    )
    text = f"{round(value, decimals):.{decimals}f}"
    return Quantity(float(text), unit, float(f"{u:.3g}"), text if unit == "1" else f"{text} {unit}")


def figure_value(catalogue: Catalogue, groups: Groups, dim: int, group: int, figure: int) -> Value:
    """Return one of a group's figures for a part of it; the makers' scatter is in its uncertainty.

    Args:
        catalogue: the parts.
        groups: of the same.
        dim: the dimension's place.
        group: the group's place.
        figure: 0 or 1; some member must list it.
    """
    centres, learned = groups.partition.gathered.centres, groups.partition.learned
    dimension = groups.rules[dim].dimension
    if learned.numeric[dim]:
        variance = float(centres.variance[group, dim, figure]) + float(learned.scatter[dim]) ** 2
        return round_figure(float(centres.value[group, dim, figure]), math.sqrt(variance), dimension.unit)
    row = _row_that_says(groups.partition.gathered.runs[dim], group, figure)
    (said,) = listed_values(catalogue, dimension, np.array([row]))
    return said


def _row_that_says(runs: Runs, group: int, figure: int) -> int:
    """Return the row of a member that lists one of its group's figures."""
    begin, end = np.searchsorted(runs.group, [group, group + 1])
    run = begin + int(np.flatnonzero(runs.place[begin:end] == figure)[0])
    return int(runs.row[np.searchsorted(runs.run, run)])


def listed_values(catalogue: Catalogue, dimension: Dimension, rows: Ints) -> list[Value]:
    """Return what some parts list for a dimension that all of them list."""
    return [value for value in catalogue.list_values(dimension, rows) if value is not None]


def list_supposed(catalogue: Catalogue, groups: Groups, key: str, rows: Ints) -> list[Value | None]:
    """Return what the groups of some parts say that a dimension is, where the parts do not say so themselves.

    None where the group knows nothing, or most likely not what it says; where the part's own entry agrees;
    and for dimensions by which parts are not grouped.

    Args:
        catalogue: the parts.
        groups: of the same.
        key: of the dimension.
        rows: (n,) of the catalogue.
    """
    dim = next((dim for dim, rule in enumerate(groups.rules) if rule.dimension.key == key), None)
    if dim is None:
        return [None] * len(rows)
    group = groups.partition.labels[rows]
    belongs = (groups.member_share[rows] * (groups.member[rows] == group[:, None])).sum(axis=1)
    centres = groups.partition.gathered.centres
    known = belongs * centres.share[group, dim, 0] > LIKELY
    known &= ~_says_so(groups, dim, rows, group)
    return [
        figure_value(catalogue, groups, dim, int(one), 0) if told else None
        for one, told in zip(group, known, strict=True)
    ]


def _says_so(groups: Groups, dim: int, rows: Ints, group: Ints) -> Mask:
    """Return whether parts list what is their group's figure, (n,)."""
    centres, learned = groups.partition.gathered.centres, groups.partition.learned
    value, u = groups.cells.value[rows, dim], groups.cells.u[rows, dim]
    main = centres.value[group, dim, 0]
    if not learned.numeric[dim]:
        return np.asarray(value == main)
    reach = GAP * np.sqrt(centres.variance[group, dim, 0] + learned.scatter[dim] ** 2 + u**2)
    return np.asarray(np.abs(value - main) <= reach)
