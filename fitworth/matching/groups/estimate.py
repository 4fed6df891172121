"""The groups of a whole catalogue, and what to do with them when a few parts change."""

from dataclasses import replace

import numpy as np
from scipy.special import expit

from fitworth.matching.allowances import Rule
from fitworth.matching.answer import Ints
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.groups.cells import Cells, cells_of, grouping_rules
from fitworth.matching.groups.fractions import coarse_u, with_coarse
from fitworth.matching.groups.learned import Learned, first_guess
from fitworth.matching.groups.membership import TEMPERED, Groups, members_of
from fitworth.matching.groups.partition import (
    NO_KIN,
    Partition,
    likely_partners,
    reassign,
    settle,
    without_gaps,
)
from fitworth.matching.groups.reshape import merge, split
from fitworth.matching.groups.revise import revise
from fitworth.matching.groups.running import usual_agreement
from fitworth.matching.groups.teach import keeping_shares, learn_again
from fitworth.matching.parameters import FitModel

SEED = 20251125  # of the sweeps' draws: one catalogue has one answer
TEMPERATURES = (1.0, 1.0, 1.0, 1.0, 1.0, 0.5, 0.0, 0.0)
LARGE_TEMPERATURES = (1.0, 0.5, 0.0)
SMALL_TEMPERATURES = (1.0, 1.0, 0.5, 0.0)
MOST_GROUPED = 40_000  # parts beyond which each stays by itself; grouping takes a minute at 30,000
MOST_ROUNDS = 12  # of merging two and two: enough for groups of some thousands
SMALL = 24  # parts up to which few sweeps do
LARGE = 5_000  # parts from which fewer sweeps have to do
FEWEST_IN_BATCH = 8
BATCHES = 8  # of a sweep; all parts of a batch choose at once
STRICT = 1e-5  # share of errors while groups are founded, so that a contradiction founds a new one
COARSE = 0.25  # of the reach of relatives, the scatter while groups are founded; the cells then show theirs
LEAST_DOUBT = -4.0  # log odds from which a group that may be two is kept as two in doubt


def groups_of(catalogue: Catalogue, model: FitModel) -> Groups:
    """Return the interchange groups of a catalogue; they are kept until parts change.

    Args:
        catalogue: at least one part.
        model: the first figures.
    """

    def renewed(before: Groups | None) -> Groups:
        revised = revise(catalogue, before, model) if before else None
        return revised or estimate(catalogue, model)

    return catalogue.renew((groups_of, model.grouping), renewed)


def estimate(catalogue: Catalogue, model: FitModel) -> Groups:
    """Return the interchange groups of a catalogue.

    Args:
        catalogue: at least one part, and one dimension that some part lists.
        model: the first figures.
    """
    rules = grouping_rules(catalogue, model)
    entered = cells_of(catalogue, rules)
    cells = with_coarse(entered, coarse_u(entered, rules))
    first = first_guess(cells, rules, model)
    if len(cells) > MOST_GROUPED:
        return _each_alone(catalogue, entered, rules, cells, first, model)
    rng = np.random.default_rng(SEED)
    order = _in_order(cells)
    partition = _found(cells, order, first, rng)
    for sweep, temperature in enumerate(_temperatures(len(cells))):
        learned = learn_again(cells, partition, first, model)
        if sweep == 0:  # groups that were founded strictly show no errors
            learned = replace(keeping_shares(learned, first), spreads=first.spreads)
        elif temperature < 1.0:  # nor do those that were drawn to the likeliest
            learned = keeping_shares(learned, partition.learned)
        partition = settle(cells, partition.labels, learned, NO_KIN)
        partition = settle(cells, without_gaps(split(partition, 0.0).labels), learned, NO_KIN)
        # Parts that were founded side by side first have to find each other.
        partition = _merged(cells, partition, MOST_ROUNDS if sweep == 0 else 1)
        partition = _sweep(cells, order[rng.permutation(len(order))], partition, temperature, rng)
    learned = keeping_shares(learn_again(cells, partition, first, model), partition.learned)
    partition = settle(cells, partition.labels, learned, NO_KIN)
    return _grouped(catalogue, entered, rules, cells, partition, model)


def _each_alone(
    catalogue: Catalogue,
    entered: Cells,
    rules: tuple[Rule, ...],
    cells: Cells,
    first: Learned,
    model: FitModel,
) -> Groups:
    """Return every part as a group of its own, where grouping all would keep a user waiting for minutes.

    Parts of one design are then told by what both list, when they are compared.
    """
    every = np.arange(len(cells))
    partition = settle(cells, every, first, NO_KIN)
    return Groups(
        rules=rules,
        cells=cells,
        partition=partition,
        member=every[:, None],
        member_share=np.zeros((len(cells), 1)),
        alone=np.ones(len(cells)),
        exists=np.ones(len(cells)),
        origin=every,
        usual=usual_agreement(first, rules, partition.gathered.centres, model),
        ids=catalogue.ids.copy(),
        entered=entered,
        grouped=False,
    )


def _merged(cells: Cells, partition: Partition, rounds: int) -> Partition:
    """Return a division once groups of one design are put together, two and two in each round."""
    learned = partition.learned
    for _ in range(rounds):
        before = partition
        partners = likely_partners(partition.gathered.centres, learned)
        partition = settle(cells, merge(cells, partition, partners), learned, NO_KIN)
        if len(partition.kin.parent) == len(before.kin.parent):
            break
    return settle(cells, partition.labels, learned)


def _temperatures(count: int) -> tuple[float, ...]:
    """Return the temperatures of the sweeps over so many parts."""
    if count <= SMALL:
        return SMALL_TEMPERATURES
    return TEMPERATURES if count <= LARGE else LARGE_TEMPERATURES


def _found(cells: Cells, order: Ints, first: Learned, rng: np.random.Generator) -> Partition:
    """Return a first division: parts that list most come first, and whatever contradicts founds a group."""
    strict = replace(
        first,
        gross=STRICT,
        wrong=STRICT,
        scatter=np.maximum(first.scatter, COARSE * first.reach * first.numeric),
    )
    labels = np.full(len(cells), -1, np.int64)
    labels[order[0]] = 0
    partition = settle(cells, labels, strict, NO_KIN)
    batch = min(1024, max(FEWEST_IN_BATCH, len(cells) // 40))
    for start in range(1, len(order), batch):
        labels = without_gaps(reassign(cells, order[start : start + batch], partition, 0.0, rng))
        partition = settle(cells, labels, strict, NO_KIN)
    return replace(partition, learned=replace(first, scatter=strict.scatter))


def _in_order(cells: Cells) -> Ints:
    """Return the parts that list most first, and then by what they list: not by their place in the file."""
    figures = np.where(cells.listed, cells.value, -np.inf)
    return np.lexsort((*figures.T[::-1], -cells.listed.sum(axis=1)))


def _sweep(
    cells: Cells, order: Ints, partition: Partition, temperature: float, rng: np.random.Generator
) -> Partition:
    """Return a division once all parts, in some order, have chosen anew."""
    batches = BATCHES if len(cells) <= LARGE else 2
    size = max(FEWEST_IN_BATCH, -(-len(cells) // batches))
    for start in range(0, len(order), size):
        labels = reassign(cells, order[start : start + size], partition, temperature, rng)
        partition = settle(cells, labels, partition.learned, partition.kin)
    return settle(cells, without_gaps(partition.labels), partition.learned)


def _grouped(
    catalogue: Catalogue,
    entered: Cells,
    rules: tuple[Rule, ...],
    cells: Cells,
    partition: Partition,
    model: FitModel,
) -> Groups:
    """Return the groups of a division, those that may be two kept as two in doubt."""
    splits = split(partition, LEAST_DOUBT)
    partition = settle(cells, splits.labels, partition.learned)
    n_groups = len(partition.kin.parent)
    exists, origin = np.ones(n_groups), np.arange(n_groups)
    new = slice(n_groups - len(splits.origin), n_groups)
    exists[new], origin[new] = expit(TEMPERED * splits.gain), splits.origin
    members = members_of(cells, np.arange(len(cells)), partition, exists, origin)
    return Groups(
        rules=rules,
        cells=cells,
        partition=partition,
        member=members.group,
        member_share=members.share,
        alone=members.alone,
        exists=exists,
        origin=origin,
        usual=usual_agreement(partition.learned, rules, partition.gathered.centres, model),
        ids=catalogue.ids.copy(),
        entered=entered,
    )
