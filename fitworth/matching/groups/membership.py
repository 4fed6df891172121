"""To which groups each part belongs, softly, and all that is known of a catalogue's groups."""

from dataclasses import dataclass

import numpy as np

from fitworth.matching.allowances import Rule
from fitworth.matching.answer import Floats, Ints
from fitworth.matching.groups.cells import Cells
from fitworth.matching.groups.likeness import Agreement
from fitworth.matching.groups.partition import BLOCK, Partition, weigh_choices
from fitworth.matching.groups.scores import tables_of

TEMPERED = 0.75  # of log odds: one division of many, found by search, hides some of the doubt. Own choice
MEMBERSHIPS = 4  # groups kept for each part


@dataclass(frozen=True, slots=True)
class Members:
    """To which groups some parts belong.

    Attributes:
        group: (n_parts, n) groups that each part may belong to.
        share: (n_parts, n) probabilities; with `alone` they add up to about 1.
        alone: (n_parts,) probability that a part's design is that of no group.
    """

    group: Ints
    share: Floats
    alone: Floats


@dataclass(frozen=True, slots=True)
class Groups:
    """The interchange groups of a catalogue.

    Attributes:
        rules: by which parts are grouped.
        cells: what the parts list.
        partition: each part's likeliest group, the centres, relatives and what was learned.
        member: (n_parts, n) groups that each part may belong to.
        member_share: (n_parts, n) probabilities; with `alone` they add up to about 1.
        alone: (n_parts,) probability that a part's design is that of no group.
        exists: (n_groups,) probability that a group is one of its own; 1 but for a few.
        origin: (n_groups,) the group that its members belong to otherwise.
        usual: how likely any two designs agree.
        ids: (n_parts,) the parts.
        entered: what the parts list, before it was known how coarsely.
        grouped: whether parts were grouped at all; in a very long file each stays by itself.
        revised: how many parts were added, changed or taken out since all were grouped together.
    """

    rules: tuple[Rule, ...]
    cells: Cells
    partition: Partition
    member: Ints
    member_share: Floats
    alone: Floats
    exists: Floats
    origin: Ints
    usual: Agreement
    ids: Ints
    entered: Cells
    revised: int = 0
    grouped: bool = True


def members_of(cells: Cells, rows: Ints, partition: Partition, exists: Floats, origin: Ints) -> Members:
    """Return the memberships of some parts, soft where their figures leave it open.

    Groups that may be no groups of their own lend their members to those that they were split from.

    Args:
        cells: of all parts.
        rows: (n_rows,) the parts.
        partition: the division.
        exists: (n_groups,) probability that a group is one of its own.
        origin: (n_groups,) the group that its members belong to otherwise.
    """
    n_groups = len(partition.kin.parent)
    kept = min(MEMBERSHIPS, n_groups)
    member = np.zeros((len(rows), kept), np.int64)
    share, alone = np.zeros((len(rows), kept)), np.zeros(len(rows))
    step = max(1, BLOCK // n_groups)
    tables = tables_of(cells, partition.learned, partition.filled) if len(rows) > step else None
    for start in range(0, len(rows), step):
        some = slice(start, start + step)
        choices = weigh_choices(cells, rows[some], partition, tables)
        most = np.maximum(choices.groups.max(axis=1), choices.new)
        weights = np.exp(TEMPERED * (choices.groups - most[:, None]))
        lone = np.exp(TEMPERED * (choices.new - most))
        best = np.argpartition(-weights, kept - 1, axis=1)[:, :kept]
        member[some] = best
        kept_weights = np.take_along_axis(weights, best, axis=1)
        whole = kept_weights.sum(axis=1) + lone  # what is not kept goes to what is
        share[some] = kept_weights / whole[:, None]
        alone[some] = lone / whole
    lent = share * (1.0 - exists[member])
    return Members(
        np.concatenate((member, origin[member]), axis=1), np.concatenate((share - lent, lent), axis=1), alone
    )
