"""What people say of two parts, in the choice of the group that each belongs to.

A statement that two parts are one design is right with some probability t before their dimensions are looked
at. So a part that is tied to a member of a group chooses between that group and one of its own with odds of
at least t / (1 - t). The table sizes of the Chinese restaurant process would give them n to the
concentration, which in a long file is next to nothing:

    log weight of the group = max(log n, log(concentration) + log(t / (1 - t)))

Of several ties to one group the surest counts, because statements mostly hang together. Where somebody has
compared two parts and found two designs, the group's weight falls by the odds that this was wrong; that
finding comes after the dimensions, so it weighs as a likelihood ratio whatever the sizes say.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fitworth.matching.answer import Floats, Ints
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.sides import Mask


@dataclass(frozen=True, slots=True)
class TieModel:
    """The parameters. Both are own choices.

    Attributes:
        surest: [probability] no statement counts as surer, so that dimensions can still deny it.
        wrongly_apart: [probability] that two parts are one design although somebody found two, who before
            had no opinion.
    """

    surest: float = 0.99
    wrongly_apart: float = 0.02


DEFAULT_MODEL = TieModel()
LEAST_CHANCE = 1e-12  # a statement that is surely wrong counts as of this one: a logarithm of 0 is none


@dataclass(frozen=True, slots=True)
class Ties:
    """Pairs of parts by their rows.

    Attributes:
        one: (n_ties, 2) parts stated to be one design.
        odds: (n_ties,) log odds that they are.
        two: (n_apart, 2) parts found to be two designs.
        apart: log likelihood ratio of that finding.
    """

    one: Ints
    odds: Floats
    two: Ints
    apart: float

    @property
    def any(self) -> bool:
        """Whether anything is said at all."""
        return bool(len(self.one) or len(self.two))


NO_TIES = Ties(np.zeros((0, 2), np.int64), np.zeros(0), np.zeros((0, 2), np.int64), 0.0)


def ties_of(catalogue: Catalogue, model: TieModel = DEFAULT_MODEL) -> Ties:
    """Return the ties of a catalogue's parts; those of parts that are not on file are left out.

    Args:
        catalogue: the parts, with what was said of them.
        model: the parameters.
    """
    if not catalogue.ties and not catalogue.apart:
        return NO_TIES
    one, known = _pairs(catalogue, [(first, second) for first, second, _ in catalogue.ties])
    chance = np.array([chance for _, _, chance in catalogue.ties], np.float64)[known]
    chance = np.clip(chance, LEAST_CHANCE, model.surest)
    two, _ = _pairs(catalogue, catalogue.apart)
    wrong = model.wrongly_apart
    return Ties(one, np.log(chance) - np.log1p(-chance), two, float(np.log(wrong) - np.log1p(-wrong)))


def _pairs(catalogue: Catalogue, pairs: Sequence[tuple[int, int]]) -> tuple[Ints, Mask]:
    """Return the rows of pairs, and which of the pairs are on file; nobody is tied to himself."""
    rows = catalogue.rows_of(part_id for pair in pairs for part_id in pair).reshape(len(pairs), 2)
    known = (rows >= 0).all(axis=1) & (rows[:, 0] != rows[:, 1])
    return rows[known], known


def weigh_ties(logs: Floats, ties: Ties, rows: Ints, labels: Ints, concentration: float) -> None:
    """Change the log prior weights of groups by what is said of some parts, in place.

    Args:
        logs: (n_rows, n_groups) logarithms of the groups' sizes without the part.
        ties: of all parts.
        rows: (n_rows,) the parts.
        labels: (n_parts,) group of each part, -1 for none yet.
        concentration: weight of a new group.
    """
    if not ties.any:
        return
    place = np.full(len(labels), -1, np.int64)
    place[rows] = np.arange(len(rows))
    odds = np.log(concentration) + ties.odds
    for own, other in ((0, 1), (1, 0)):
        at, group = place[ties.one[:, own]], labels[ties.one[:, other]]
        some = (at >= 0) & (group >= 0)
        np.maximum.at(logs, (at[some], group[some]), odds[some])
    for own, other in ((0, 1), (1, 0)):
        at, group = place[ties.two[:, own]], labels[ties.two[:, other]]
        some = (at >= 0) & (group >= 0)
        np.add.at(logs, (at[some], group[some]), ties.apart)


def add_tied_partners(partners: Ints, ties: Ties, labels: Ints) -> Ints:
    """Return the partners of each group with one more: the group that it is most surely tied to, else itself.

    Args:
        partners: (n_groups, n_partners) places of groups.
        ties: of all parts.
        labels: (n_parts,) group of each part, -1 for none yet.
    """
    if not len(ties.one):
        return partners
    own = np.arange(len(partners))
    surest = np.argsort(ties.odds, kind="stable")  # the surest is written last
    first, second = labels[ties.one[surest]].T
    some = (first >= 0) & (second >= 0) & (first != second)
    tied = own.copy()
    tied[np.stack((first[some], second[some]), axis=1)] = np.stack((second[some], first[some]), axis=1)
    return np.concatenate((partners, tied[:, None]), axis=1)


def merge_odds(sizes: Floats, ties: Ties, labels: Ints, partners: Ints) -> Floats:
    """Return the log prior odds that groups are one, by their sizes and by what is said of their members.

    Args:
        sizes: (n_groups, n_partners) log prior odds by the sizes alone.
        ties: of all parts.
        labels: (n_parts,) group of each part, -1 for none yet.
        partners: (n_groups, n_partners) places of groups.
    """
    if not ties.any:
        return sizes
    n_groups = len(partners)
    pairs = (np.arange(n_groups)[:, None] * n_groups + partners).ravel()
    known, place = np.unique(pairs, return_inverse=True)
    stated, apart = np.full(len(known), -np.inf), np.zeros(len(known))
    for own, other in ((0, 1), (1, 0)):
        at, some = _find(known, labels[ties.one[:, own]], labels[ties.one[:, other]], n_groups)
        np.maximum.at(stated, at, ties.odds[some])
        at, _ = _find(known, labels[ties.two[:, own]], labels[ties.two[:, other]], n_groups)
        np.add.at(apart, at, ties.apart)
    place = place.reshape(sizes.shape)
    return np.asarray(np.maximum(sizes, stated[place]) + apart[place])


def _find(known: Ints, first: Ints, second: Ints, n_groups: int) -> tuple[Ints, Mask]:
    """Return where pairs of groups stand among the known ones, and which of them do."""
    wanted = first * n_groups + second
    at = np.minimum(np.searchsorted(known, wanted), len(known) - 1)
    some = (first >= 0) & (second >= 0) & (known[at] == wanted)
    return at[some], some
