"""The groups of a catalogue after a few parts changed: those parts choose anew, all others stay.

What was learned of errors and sizes stays too, until so many parts have changed that all are grouped again.
"""

from dataclasses import replace

import numpy as np

from fitworth.matching.answer import Ints
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.groups.cells import Cells, cells_of, grouping_rules
from fitworth.matching.groups.fractions import coarse_u, with_coarse
from fitworth.matching.groups.membership import Groups, Members, members_of
from fitworth.matching.groups.partition import settle, weigh_choices
from fitworth.matching.parameters import FitModel
from fitworth.matching.sides import Mask

MOST_IN_TURN = 24  # parts that choose one after the other; more are grouped with all others
MOST_REVISED = 0.1  # share of the parts that may change before all are grouped again; own choice


def revise(catalogue: Catalogue, before: Groups, model: FitModel) -> Groups | None:
    """Return the groups after a few parts were added, changed or taken out; None where it is too much.

    Args:
        catalogue: as it is now.
        before: the groups as they were.
        model: the first figures.
    """
    rules = grouping_rules(catalogue, model)
    if [rule.dimension.key for rule in rules] != [rule.dimension.key for rule in before.rules]:
        return None
    entered = cells_of(catalogue, rules)
    ids = catalogue.ids.copy()
    row_before = _rows_before(before.ids, ids)
    same = _unchanged(before.entered, entered, row_before)
    gone = len(before.ids) - int((row_before >= 0).sum())
    changed = np.flatnonzero(~same)
    revised = before.revised + len(changed) + gone
    if len(changed) > MOST_IN_TURN:
        return None
    if not before.grouped or revised > MOST_REVISED * len(ids) or not _same_ties(before, entered, ids):
        return None
    cells = with_coarse(entered, coarse_u(entered, rules))
    labels = np.where(same, before.partition.labels[np.maximum(row_before, 0)], -1)
    last = len(before.partition.kin.parent)
    partition = settle(cells, labels, before.partition.learned, before.partition.kin, last)
    for row in changed:  # in turn, so that parts of one new design find each other
        choices = weigh_choices(cells, np.array([row]), partition)
        best = int(choices.groups[0].argmax())
        n_groups = len(partition.kin.parent)
        labels = partition.labels.copy()
        labels[row] = best if choices.groups[0, best] > choices.new[0] else n_groups
        n_groups = max(n_groups, int(labels[row]) + 1)
        partition = settle(cells, labels, before.partition.learned, partition.kin, n_groups)
    n_groups = len(partition.kin.parent)
    exists = np.concatenate((before.exists, np.ones(n_groups - last)))
    origin = np.concatenate((before.origin, np.arange(last, n_groups)))
    touched = np.unique(np.concatenate((labels[changed], _left(before, row_before, same))))
    again = np.flatnonzero(~same | np.isin(labels, touched))
    members = _members(before, row_before, members_of(cells, again, partition, exists, origin), again)
    return replace(
        before,
        rules=rules,
        cells=cells,
        partition=partition,
        member=members.group,
        member_share=members.share,
        alone=members.alone,
        exists=exists,
        origin=origin,
        ids=ids,
        entered=entered,
        revised=revised,
    )


def _rows_before(before: Ints, now: Ints) -> Ints:
    """Return where each part was, -1 where it is new."""
    order = np.argsort(before, kind="stable")
    place = np.minimum(np.searchsorted(before[order], now), len(before) - 1)
    found = order[place]
    return np.asarray(np.where(before[found] == now, found, -1), np.int64)


def _unchanged(before: Cells, now: Cells, row_before: Ints) -> Mask:
    """Return which parts were there and list what they listed."""
    old = before.of(np.maximum(row_before, 0))
    equal = (old.value == now.value) | (np.isnan(old.value) & np.isnan(now.value))
    return np.asarray((row_before >= 0) & (equal & (old.u == now.u)).all(axis=1))


def _same_ties(before: Groups, cells: Cells, ids: Ints) -> bool:
    """Return whether people say the same of the parts as before."""
    old, new = before.entered.ties, cells.ties
    pairs = ((before.ids[old.one], ids[new.one]), (old.odds, new.odds), (before.ids[old.two], ids[new.two]))
    return all(np.array_equal(was, is_) for was, is_ in pairs)


def _left(before: Groups, row_before: Ints, same: Mask) -> Ints:
    """Return the groups that lost a part."""
    stayed = np.zeros(len(before.ids), np.bool_)
    stayed[row_before[same]] = True
    return before.partition.labels[~stayed]


def _members(before: Groups, row_before: Ints, fresh: Members, again: Ints) -> Members:
    """Return the memberships of all parts, some of them new."""
    old = Members(before.member, before.member_share, before.alone)
    width = max(old.group.shape[1], fresh.group.shape[1])
    group = np.zeros((len(row_before), width), np.int64)
    share = np.zeros((len(row_before), width))
    kept = np.maximum(row_before, 0)
    group[:, : old.group.shape[1]] = old.group[kept]
    share[:, : old.share.shape[1]] = old.share[kept]
    alone = old.alone[kept]
    group[again], share[again] = 0, 0.0
    group[again, : fresh.group.shape[1]] = fresh.group
    share[again, : fresh.share.shape[1]] = fresh.share
    alone[again] = fresh.alone
    return Members(group, share, alone)
