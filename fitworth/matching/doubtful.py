"""Entries on file that stand against everything else that is on file, to be looked at again.

An entry is doubted by what the other members of its design list. With it left out of its group, and with e
the share of wrong entries,

    P(wrong | group) = e G / (e G + (1 - e) S)

where S is its density by the others' figures, and G the density of wrong entries: anything, and more where it
is a slip of the others' figure (entry_slips.py). Which group a part belongs to is itself open: the chance is
averaged over its groups, each as likely as the part's entries make it, and over "a design of its own", whose
odd size is as sound as any. A slip counts there too: a part that is like a group but for one size, just that
of the group in inches, is of that group.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from fitworth.matching.answer import Floats, Ints
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.doubtful_entry import DoubtfulEntry, ask_about
from fitworth.matching.doubtful_proportions import list_doubtful_proportions
from fitworth.matching.entry_slips import (
    DEFAULT_DOUBTS,
    DoubtModel,
    Expected,
    likeliest_slip,
    most_slips,
    share_of_others,
    slip_densities,
)
from fitworth.matching.groups.cells import grouping_rules
from fitworth.matching.groups.centres import Centres, left_out
from fitworth.matching.groups.estimate import groups_of
from fitworth.matching.groups.likeness import reading_ratios
from fitworth.matching.groups.membership import Groups
from fitworth.matching.parameters import FitModel
from fitworth.matching.sides import Mask
from fitworth.matching.supposed import Witnesses, figure_value, listed_values, witnesses_of
from fitworth.vocabulary import Doubt, EntrySlip

DEFAULT_MODEL = FitModel()
ROWS_AT_ONCE = 20_000  # parts; bounds the tables of figures
DIGITS = 6  # of a probability, by which entries are ordered


def doubtful_entries_of(
    catalogue: Catalogue, model: FitModel = DEFAULT_MODEL, doubts: DoubtModel = DEFAULT_DOUBTS
) -> tuple[DoubtfulEntry, ...]:
    """Return the doubtful entries of a catalogue; they are kept until parts change.

    Args:
        catalogue: of one family, empty or not.
        model: the figures of the match.
        doubts: by which entries are doubted.
    """
    if not grouping_rules(catalogue, model):
        return _by_probability(
            catalogue, list_doubtful_proportions(catalogue, model.gross_error_share, doubts)
        )
    return catalogue.recall(
        (doubtful_entries_of, model.grouping, doubts),
        lambda: list_doubtful_entries(catalogue, groups_of(catalogue, model), doubts),
    )


def list_doubtful_entries(
    catalogue: Catalogue,
    groups: Groups,
    doubts: DoubtModel = DEFAULT_DOUBTS,
) -> tuple[DoubtfulEntry, ...]:
    """Return the entries that are probably wrong, the most doubtful first.

    A proportion is left out where one of its two sizes is doubted by itself.

    Args:
        catalogue: the parts.
        groups: of the same.
        doubts: by which entries are doubted.
    """
    found = [_entry(catalogue, groups, doubted) for doubted in _list_doubted(groups, doubts)]
    named = {(one.part_id, key) for one in found for key in one.keys}
    found += [
        one
        for one in list_doubtful_proportions(catalogue, groups.partition.learned.gross, doubts)
        if not any((one.part_id, key) in named for key in one.keys)
    ]
    return _by_probability(catalogue, found)


def _by_probability(catalogue: Catalogue, found: Iterable[DoubtfulEntry]) -> tuple[DoubtfulEntry, ...]:
    place = {key: place for place, key in enumerate(catalogue.family.by_key)}
    return tuple(
        sorted(found, key=lambda one: (-one.probability, one.part_id, *(place[key] for key in one.keys)))
    )


@dataclass(frozen=True, slots=True)
class _Doubted:
    """One cell that is probably wrong.

    Attributes:
        row: of the catalogue.
        dim: the dimension's place.
        probability: that it is wrong.
        group: whose members speak against it.
        figure: which of the group's two figures does.
        say_so: how many of them.
        slip: what the entry looks like.
    """

    row: int
    dim: int
    probability: float
    group: int
    figure: int
    say_so: int
    slip: EntrySlip | None


def _entry(catalogue: Catalogue, groups: Groups, doubted: _Doubted) -> DoubtfulEntry:
    dimension = groups.rules[doubted.dim].dimension
    (listed,) = listed_values(catalogue, dimension, np.array([doubted.row]))
    supposed = figure_value(catalogue, groups, doubted.dim, doubted.group, doubted.figure)
    return DoubtfulEntry(
        part_id=int(catalogue.ids[doubted.row]),
        doubt=Doubt.GROUP,
        keys=(dimension.key,),
        listed=(listed,),
        supposed=supposed,
        say_so=doubted.say_so,
        probability=doubted.probability,
        slip=doubted.slip,
        says=ask_about(listed, supposed, doubted.slip),
    )


@dataclass(frozen=True, slots=True)
class _Views:
    """What each of the groups that some parts may belong to says of their cells, (n_rows, n_members, n_dims).

    Attributes:
        rows: (n_rows,) of the catalogue.
        others: (n_rows, n_members, n_dims, 2) the groups' figures, without the parts themselves.
        say_so: (n_rows, n_members, n_dims) other members that say the likelier figure.
        sound: density of the cell if it is sound and of the group [1/unit].
        gross: (n_rows, n_dims) density of a wrong one, slips left aside [1/unit].
    """

    rows: Ints
    others: Centres
    say_so: Ints
    sound: Floats
    gross: Floats


def _list_doubted(groups: Groups, doubts: DoubtModel) -> Iterator[_Doubted]:
    learned = groups.partition.learned
    witnesses = witnesses_of(groups)
    error = np.array([learned.error(dim) for dim in range(len(groups.rules))])
    for start in range(0, len(groups.cells), ROWS_AT_ONCE):
        rows = np.arange(start, min(start + ROWS_AT_ONCE, len(groups.cells)))
        views = _views_of(groups, witnesses, rows)
        astray = error * views.gross[:, None]
        conflict = astray / (astray + (1.0 - error) * views.sound)  # not-a-number where nothing is listed
        clear = (views.say_so >= doubts.least_witnesses) & ~np.isnan(conflict)
        worth = _worth_weighing(groups, views, conflict, clear, doubts)
        for at, dim in np.argwhere(worth & clear.any(axis=1)).tolist():
            doubted = _weigh(groups, views, (at, dim), clear[at, :, dim], doubts)
            if doubted.probability >= doubts.least_probability:
                yield doubted


def _worth_weighing(groups: Groups, views: _Views, conflict: Floats, clear: Mask, doubts: DoubtModel) -> Mask:
    """Return which cells could be doubtful enough if they were just the likeliest slip, (n_rows, n_dims)."""
    learned = groups.partition.learned
    steepest = np.array(
        [
            most_slips(rule.dimension.kind, float(learned.scatter[dim]), doubts)
            if learned.numeric[dim]
            else 0.0
            for dim, rule in enumerate(groups.rules)
        ]
    )
    boost = 1.0 + steepest / views.gross
    share = groups.member_share[views.rows][:, :, None]
    wrong = (share * conflict * np.where(clear, boost[:, None], 1.0)).sum(axis=1)
    right = (share * (1.0 - conflict)).sum(axis=1)
    return np.asarray(wrong * (1.0 - doubts.least_probability) >= right * doubts.least_probability)


def _views_of(groups: Groups, witnesses: Witnesses, rows: Ints) -> _Views:
    partition, cells = groups.partition, groups.cells.of(rows)
    learned, labels = partition.learned, partition.labels
    member = groups.member[rows]
    own = member == labels[rows][:, None]
    known = partition.gathered.centres.of(member)
    alone = left_out(partition.gathered, groups.cells, rows, labels, learned).lifted(1)
    here = own[:, :, None, None]
    others = Centres(
        *(
            np.where(here, mine, theirs)
            for mine, theirs in (
                (alone.value, known.value),
                (alone.variance, known.variance),
                (alone.share, known.share),
            )
        )
    )
    figure = others.share.argmax(axis=-1)
    counts = np.take_along_axis(witnesses.count[member], figure[..., None], axis=-1)[..., 0]
    counts -= own[:, :, None] & (witnesses.place[rows][:, None] == figure)
    sound, gross = np.full(figure.shape, np.nan), np.full(cells.value.shape, np.nan)
    for dim in range(len(groups.rules)):
        some = np.flatnonzero(cells.listed[:, dim])
        value, u = cells.value[some, dim], cells.u[some, dim]
        total_u = np.hypot(u, learned.scatter[dim])
        spread = learned.spreads[dim]
        gross[some, dim] = spread.gross(value, total_u)
        of_dim = Centres(
            others.value[some, :, dim], others.variance[some, :, dim], others.share[some, :, dim]
        )
        ratio, _ = reading_ratios(learned, dim, value[:, None], u[:, None], of_dim, 0.0)
        sound[some, :, dim] = ratio * spread.density(value, total_u)[:, None]
    return _Views(rows, others, counts, sound, gross)


def _weigh(groups: Groups, views: _Views, cell: tuple[int, int], clear: Mask, doubts: DoubtModel) -> _Doubted:
    """Return how doubtful one cell is, over all the groups that its part may belong to."""
    at, dim = cell
    row = int(views.rows[at])
    learned = groups.partition.learned
    error, gross = learned.error(dim), float(views.gross[at, dim])
    weights = groups.member_share[row].copy()
    wrong = error * gross / (error * gross + (1.0 - error) * views.sound[at, :, dim])
    slips: dict[int, EntrySlip | None] = {}
    for place in np.flatnonzero(clear).tolist():
        density, slips[place] = _gross(groups, views, (at, place, dim), doubts)
        sound = (1.0 - error) * views.sound[at, place, dim]
        weights[place] *= (sound + error * density) / (sound + error * gross)
        wrong[place] = error * density / (sound + error * density)
    away = max(0.0, 1.0 - float(groups.member_share[row].sum()))
    told = weights * wrong
    probability = (float(told.sum()) + away * error) / (float(weights.sum()) + away)
    best = max(slips, key=lambda place: told[place])
    figure = int(views.others.share[at, best, dim].argmax())
    return _Doubted(
        row=row,
        dim=dim,
        probability=round(probability, DIGITS),
        group=int(groups.member[row, best]),
        figure=figure,
        say_so=int(views.say_so[at, best, dim]),
        slip=slips[best],
    )


def _gross(
    groups: Groups, views: _Views, cell: tuple[int, int, int], doubts: DoubtModel
) -> tuple[float, EntrySlip | None]:
    """Return the density of a wrong entry where a group's figure was meant, and the slip it looks like."""
    at, place, dim = cell
    gross, learned = float(views.gross[at, dim]), groups.partition.learned
    if not learned.numeric[dim]:
        return gross, None
    kind, row = groups.rules[dim].dimension.kind, views.rows[at]
    entered, u = float(groups.cells.value[row, dim]), float(groups.cells.u[row, dim])
    others = views.others
    figure = int(others.share[at, place, dim].argmax())
    value, variance, share = (
        float(part[at, place, dim, figure]) for part in (others.value, others.variance, others.share)
    )
    expected = Expected(value, variance + float(learned.scatter[dim]) ** 2)
    slips = slip_densities(kind, entered, u, expected, doubts)
    anyhow = gross * share_of_others(kind, doubts)
    density = share * (anyhow + sum(slips.values())) + (1.0 - share) * gross
    return density, likeliest_slip(slips, anyhow)
