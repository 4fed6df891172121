"""Parts that look like one design and are not stated to be: proposed, to confirm or reject."""

from collections.abc import Collection, Iterable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

from fitworth.matching.interchange import Statement, graph_of, list_claims
from fitworth.matching.interchange_graph import Graph, settle


@dataclass(frozen=True, slots=True)
class Proposal:
    """Two parts whose numbers may stand in for each other, by what their sheets list.

    Attributes:
        part_ids: the two, the lower id first.
        probability: that they are one design.
        agreeing: keys of the dimensions that both list and that agree, in the family's order.
        differing: keys of those that do not.
    """

    part_ids: tuple[int, int]
    probability: float
    agreeing: tuple[str, ...]
    differing: tuple[str, ...] = ()


def open_proposals(
    found: Iterable[Proposal],
    numbers: Mapping[int, Collection[str]],
    statements: Iterable[Statement],
    decided: Collection[tuple[int, int]],
) -> tuple[Proposal, ...]:
    """Return the proposals that still wait for an answer, the most probable first.

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
    return tuple(sorted(waiting, key=lambda one: (-one.probability, one.part_ids)))


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
