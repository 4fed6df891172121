"""Parts that look like one design and are not stated to be: proposed, to confirm or reject.

The interchange groups of a catalogue say how likely two parts are one design: with m(i, g) the probability
that part i belongs to group g,

    P(one design) = sum over groups of m(i, g) * m(j, g).

A group may be in doubt: with probability e it is one of its own, else its members belong to the one that it
was split from. They do so all together. The two products have e ** 2 and (1 - e) ** 2 of them together, so
what is missing, 2 e (1 - e) of the memberships m / e, is added.

A group of n parts has n (n - 1) / 2 pairs; whoever confirms n - 1 of them has stated the whole group. So each
member is proposed with the best-known one alone: the one that lists most of what the group's design is.
"""

from collections.abc import Callable, Collection, Iterable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

import numpy as np

from fitworth.matching.allowances import (
    Rule,
    accepts,
    allowed_range,
    difference,
    forgive,
    rules_of,
    scatter_u,
)
from fitworth.matching.answer import Floats, Ints
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.groups.cells import grouping_rules
from fitworth.matching.groups.estimate import groups_of
from fitworth.matching.groups.membership import Groups
from fitworth.matching.interchange import Statement, graph_of, list_claims
from fitworth.matching.interchange_graph import Graph, settle
from fitworth.matching.interchange_groups import likeliest_groups, members_of, own_shares
from fitworth.matching.parameters import FitModel
from fitworth.matching.sides import Mask, Side, listed_side
from fitworth.vocabulary import Kind

DIGITS = 6  # of a probability, by which proposals are ordered; more are not shown


@dataclass(frozen=True, slots=True)
class ProposalModel:
    """The parameters. Both are own choices.

    Attributes:
        least_probability: [probability] pairs that are less likely one design are not proposed.
        most_found: [pairs] how many are kept, the first by rank.
    """

    least_probability: float = 0.8
    most_found: int = 20_000


DEFAULT_MODEL = ProposalModel()
DEFAULT_FIT_MODEL = FitModel()


@dataclass(frozen=True, slots=True)
class Proposal:
    """Two parts whose numbers may stand in for each other, by what their sheets list.

    Attributes:
        part_ids: the two, the lower id first.
        probability: that they are one design.
        agreeing: keys of the dimensions that both list and that agree, in the family's order.
        differing: keys of those that do not.
        group: ids of all parts that are likeliest of this design, rising; the two are among them.
    """

    part_ids: tuple[int, int]
    probability: float
    agreeing: tuple[str, ...]
    differing: tuple[str, ...] = ()
    group: tuple[int, ...] = ()

    @property
    def rank(self) -> tuple[float, int, tuple[int, int]]:
        """What proposals are ordered by: the most probable first, then those whose sheets say most."""
        compared = len(self.agreeing) + len(self.differing)
        return -round(self.probability, DIGITS), -compared, self.part_ids


def proposals_of(
    catalogue: Catalogue,
    list_unnumbered: Callable[[], Collection[int]] = tuple,
    model: ProposalModel = DEFAULT_MODEL,
    fit_model: FitModel = DEFAULT_FIT_MODEL,
) -> tuple[Proposal, ...]:
    """Return the proposals of a catalogue, as `find_proposals`; they are kept until parts change.

    Args:
        catalogue: of one family, empty or not.
        list_unnumbered: lists the ids of parts that go under no number.
        model: which pairs are proposed.
        fit_model: the figures of the match.
    """
    if not grouping_rules(catalogue, fit_model):
        return ()
    return catalogue.recall(
        (proposals_of, model, fit_model.grouping),
        lambda: find_proposals(
            catalogue, groups_of(catalogue, fit_model), model, fit_model, unnumbered=list_unnumbered()
        ),
    )


def find_proposals(
    catalogue: Catalogue,
    groups: Groups,
    model: ProposalModel = DEFAULT_MODEL,
    fit_model: FitModel = DEFAULT_FIT_MODEL,
    *,
    unnumbered: Collection[int] = (),
) -> tuple[Proposal, ...]:
    """Return the members of each group, paired with its best-known one, in the order of their rank.

    Dimensions agree where each part would do in place of the other by what they list: within the allowance,
    both ways.

    Args:
        catalogue: the parts.
        groups: of the same.
        model: which pairs are proposed.
        fit_model: scatter and the width of "equal".
        unnumbered: ids of parts that go under no number. Nothing can be stated about them yet, so the others
            are not paired with one of them if the group has any other.
    """
    labels = likeliest_groups(groups)
    poor = own_shares(groups, labels) < model.least_probability
    poor |= np.isin(catalogue.ids, np.fromiter(unnumbered, np.int64))
    hubs, others = _spanning_pairs(catalogue, groups, labels, poor)
    chances = _one_design(groups, hubs, others)
    likely = np.flatnonzero(chances >= model.least_probability)
    likely = likely[np.argsort(-chances[likely], kind="stable")][: model.most_found]
    hubs, others, chances = hubs[likely], others[likely], chances[likely]
    keys, known, agrees = _compare(catalogue, hubs, others, fit_model)
    members = {
        group: tuple(catalogue.ids[rows].tolist()) for group, rows in members_of(catalogue, labels).items()
    }
    ids = np.sort(catalogue.ids[np.stack((hubs, others), axis=1)], axis=1).tolist()
    found = [
        Proposal(
            part_ids=(low, high),
            probability=chance,
            agreeing=tuple(keys[place] for place in np.flatnonzero(both & same)),
            differing=tuple(keys[place] for place in np.flatnonzero(both & ~same)),
            group=members[group],
        )
        for (low, high), chance, both, same, group in zip(
            ids,
            chances.tolist(),
            known.T,
            agrees.T,
            labels[others].tolist(),
            strict=True,
        )
    ]
    return tuple(sorted(found, key=lambda one: one.rank))


def _spanning_pairs(catalogue: Catalogue, groups: Groups, labels: Ints, poor: Mask) -> tuple[Ints, Ints]:
    """Return rows, (n,) each: the best-known member of a group, and each other one.

    One that hardly belongs to the group is a poor measure of the others, however much it lists.
    """
    listed = np.zeros(len(labels), np.int64)
    for runs in groups.partition.gathered.runs:
        listed[runs.row[runs.place[runs.run] == 0]] += 1
    order = np.lexsort((catalogue.ids, -listed, poor, labels))
    first = np.diff(labels[order], prepend=-1) != 0
    hub_of = order[first][np.cumsum(first) - 1]
    return hub_of[~first], order[~first]


def _one_design(groups: Groups, first: Ints, second: Ints) -> Floats:
    """Return the probability that parts are of one design, (n,)."""
    one, other = groups.member[first][:, :, None], groups.member[second][:, None]
    shares = groups.member_share[first][:, :, None] * groups.member_share[second][:, None]
    doubt = 1.0 + 2.0 * (1.0 - groups.exists) / groups.exists
    return np.asarray(np.where(one == other, shares * doubt[one], 0.0).sum(axis=(1, 2)))


def _compare(
    catalogue: Catalogue, first: Ints, second: Ints, model: FitModel
) -> tuple[list[str], Mask, Mask]:
    """Return keys, and for each pair which dimensions both list, and in which they agree, (n_dims, n)."""
    rules, _ = rules_of(catalogue.family, {}, model)
    counting = [rule for rule in rules if rule.dimension.counts_for_fit]
    known, agrees = np.zeros((2, len(counting), len(first)), np.bool_)
    for place, rule in enumerate(counting):
        one, other = (listed_side(catalogue, rule, rows) for rows in (first, second))
        known[place] = one.known & other.known
        if rule.dimension.scale_of:
            known[place] &= one.makers == other.makers
        agrees[place] = _does(rule, one, other, model) & _does(rule, other, one, model)
    return [rule.dimension.key for rule in counting], known, agrees


def _does(rule: Rule, candidates: Side, removed: Side, model: FitModel) -> Mask:
    """Return where the one part would do in place of the other; meaningless where either is not known."""
    new, old = candidates.value, removed.value
    if rule.dimension.kind.is_numeric:
        u = np.hypot(np.hypot(candidates.u, removed.u), scatter_u(rule, old, model))
        low, high = forgive(allowed_range(rule, old, model), u)
        differs = difference(rule, new, old)
        return np.asarray((low <= differs) & (differs <= high))
    if rule.dimension.kind is not Kind.CHOICE:
        return np.asarray(new == old)
    choices = rule.dimension.choices
    table = np.array([[accepts(rule, removed_one, one) for removed_one in choices] for one in choices])
    # A value that is not listed is -1 and reads the last row; the mask of what is known takes it out again.
    return np.asarray(table[new.astype(np.int64), old.astype(np.int64)])


def open_proposals(
    found: Iterable[Proposal],
    numbers: Mapping[int, Collection[str]],
    statements: Iterable[Statement],
    decided: Collection[tuple[int, int]],
) -> tuple[Proposal, ...]:
    """Return the proposals that still wait for an answer, in the order of their rank.

    Those are left out that were decided, whose parts go under one number anyhow, and for which the statements
    on file already lead from a number of the one part to a number of the other, either way and however far.

    Args:
        found: proposals, each pair once.
        numbers: by part id, the numbers that it goes under, as they are compared; a part without one can be
            proposed, and confirmed once it has a number.
        statements: on file.
        decided: pairs of part ids, the lower first, that were confirmed or rejected.
    """
    graph = graph_of(list_claims(statements))
    reached: dict[str, AbstractSet[str]] = {}
    waiting = [
        one
        for one in found
        if one.part_ids not in decided
        and not _is_stated(graph, reached, *(numbers.get(part_id, ()) for part_id in one.part_ids))
    ]
    return tuple(sorted(waiting, key=lambda one: one.rank))


def _is_stated(
    graph: Graph, reached: dict[str, AbstractSet[str]], first: Collection[str], second: Collection[str]
) -> bool:
    """Return whether a number of the one leads to a number of the other; a number leads to itself."""
    for numbers, others in ((first, second), (second, first)):
        for number in numbers:
            if number not in reached:
                reached[number] = settle(graph, number).keys() if graph.steps(number) else {number}
            if not reached[number].isdisjoint(others):
                return True
    return False
