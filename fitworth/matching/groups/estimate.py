"""The groups of a whole catalogue, and what to do with them when a few parts change."""

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import expit

from fitworth.matching.allowances import Rule
from fitworth.matching.answer import Floats, Ints
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.groups.cells import Cells, cells_of, grouping_rules
from fitworth.matching.groups.fractions import coarse_u, with_coarse
from fitworth.matching.groups.learned import Learned, first_guess
from fitworth.matching.groups.likeness import Agreement
from fitworth.matching.groups.partition import (
    BLOCK,
    NO_KIN,
    Partition,
    likely_partners,
    reassign,
    settle,
    weigh_choices,
    without_gaps,
)
from fitworth.matching.groups.reshape import Splits, merge, split
from fitworth.matching.groups.running import usual_agreement
from fitworth.matching.groups.scores import tables_of
from fitworth.matching.groups.teach import keeping_shares, learn_again
from fitworth.matching.parameters import FitModel

SEED = 20251125  # of the sweeps' draws: one catalogue has one answer
TEMPERATURES = (1.0, 1.0, 1.0, 1.0, 1.0, 0.5, 0.0, 0.0)
LARGE_TEMPERATURES = (1.0, 0.5, 0.0)
LARGE = 5_000  # parts from which fewer sweeps have to do
FEWEST_IN_BATCH = 8
BATCHES = 8  # of a sweep; all parts of a batch choose at once
STRICT = 1e-5  # share of errors while groups are founded, so that a contradiction founds a new one
COARSE = 0.25  # of the reach of relatives, the scatter while groups are founded; the cells then show theirs
LEAST_DOUBT = -4.0  # log odds from which a group that may be two is kept as two in doubt
TEMPERED = 0.75  # of log odds: one division of many, found by search, hides some of the doubt. Own choice
MEMBERSHIPS = 4  # groups kept for each part


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
        exists: (n_groups,) probability that a group is one of its own; 1 but for the last few.
        origin: (n_groups,) the group that its members belong to otherwise.
        usual: how likely any two designs agree.
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


def groups_of(catalogue: Catalogue, model: FitModel) -> Groups:
    """Return the interchange groups of a catalogue; they are kept until parts change.

    Args:
        catalogue: at least one part.
        model: the first figures.
    """
    return catalogue.renew((groups_of, model.grouping), lambda _: estimate(catalogue, model))


def estimate(catalogue: Catalogue, model: FitModel) -> Groups:
    """Return the interchange groups of a catalogue.

    Args:
        catalogue: at least one part, and one dimension that some part lists.
        model: the first figures.
    """
    rules = grouping_rules(catalogue, model)
    cells = cells_of(catalogue, rules)
    coarse = coarse_u(cells, rules)
    cells = with_coarse(cells, coarse, 1.0)
    first = first_guess(cells, rules, model)
    rng = np.random.default_rng(SEED)
    partition = _found(cells, first, rng)
    large = len(cells) > LARGE
    for sweep, temperature in enumerate(LARGE_TEMPERATURES if large else TEMPERATURES):
        learned = learn_again(cells, partition, first, model)
        if sweep == 0:  # groups that were founded strictly show no errors
            learned = keeping_shares(learned, first)
        elif temperature < 1.0:  # nor do those that were drawn to the likeliest
            learned = keeping_shares(learned, partition.learned)
        partition = settle(cells, partition.labels, learned, NO_KIN)
        partition = settle(cells, without_gaps(split(partition, 0.0).labels), learned, NO_KIN)
        partners = likely_partners(partition.gathered.centres, learned)
        partition = settle(cells, merge(cells, partition, partners), learned)
        partition = _sweep(cells, partition, temperature, rng)
    learned = keeping_shares(learn_again(cells, partition, first, model), partition.learned)
    partition = settle(cells, partition.labels, learned, NO_KIN)
    splits = split(partition, LEAST_DOUBT)
    return with_memberships(rules, cells, settle(cells, splits.labels, learned), splits, model)


def _found(cells: Cells, first: Learned, rng: np.random.Generator) -> Partition:
    """Return a first division: parts that list most come first, and whatever contradicts founds a group."""
    strict = replace(
        first,
        gross=STRICT,
        wrong=STRICT,
        scatter=np.maximum(first.scatter, COARSE * first.reach * first.numeric),
    )
    order = np.argsort(-cells.listed.sum(axis=1), kind="stable")
    labels = np.full(len(cells), -1, np.int64)
    labels[order[0]] = 0
    partition = settle(cells, labels, strict, NO_KIN)
    batch = min(1024, max(FEWEST_IN_BATCH, len(cells) // 40))
    for start in range(1, len(order), batch):
        labels = without_gaps(reassign(cells, order[start : start + batch], partition, 0.0, rng))
        partition = settle(cells, labels, strict, NO_KIN)
    return replace(partition, learned=replace(first, scatter=strict.scatter))


def _sweep(cells: Cells, partition: Partition, temperature: float, rng: np.random.Generator) -> Partition:
    batches = BATCHES if len(cells) <= LARGE else 2
    size = max(FEWEST_IN_BATCH, -(-len(cells) // batches))
    order = rng.permutation(len(cells))
    for start in range(0, len(order), size):
        labels = reassign(cells, order[start : start + size], partition, temperature, rng)
        partition = settle(cells, labels, partition.learned, partition.kin)
    return settle(cells, without_gaps(partition.labels), partition.learned)


def with_memberships(
    rules: tuple[Rule, ...], cells: Cells, partition: Partition, splits: Splits, model: FitModel
) -> Groups:
    """Return the groups with each part's memberships, soft where the parts' figures leave it open.

    Groups that may be no groups of their own lend their members to those that they were split from.
    """
    n_groups = len(partition.kin.parent)
    kept = min(MEMBERSHIPS, n_groups)
    member = np.zeros((len(cells), kept), np.int64)
    share, alone = np.zeros((len(cells), kept)), np.zeros(len(cells))
    step = max(1, BLOCK // n_groups)
    tables = tables_of(cells, partition.learned, partition.filled)
    for start in range(0, len(cells), step):
        rows = np.arange(start, min(start + step, len(cells)))
        choices = weigh_choices(cells, rows, partition, tables)
        most = np.maximum(choices.groups.max(axis=1), choices.new)
        weights = np.exp(TEMPERED * (choices.groups - most[:, None]))
        lone = np.exp(TEMPERED * (choices.new - most))
        whole = weights.sum(axis=1) + lone
        best = np.argpartition(-weights, kept - 1, axis=1)[:, :kept]
        member[rows] = best
        share[rows] = np.take_along_axis(weights, best, axis=1) / whole[:, None]
        alone[rows] = lone / whole
    exists, origin = np.ones(n_groups), np.arange(n_groups)
    new = slice(n_groups - len(splits.origin), n_groups)
    exists[new], origin[new] = expit(TEMPERED * splits.gain), splits.origin
    lent = share * (1.0 - exists[member])
    share = np.concatenate((share - lent, lent), axis=1)
    member = np.concatenate((member, origin[member]), axis=1)
    usual = usual_agreement(partition.learned, rules, partition.gathered.centres, model)
    return Groups(rules, cells, partition, member, share, alone, exists, origin, usual)
