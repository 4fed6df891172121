"""What may stand in for a number, by the statements on file and with how much confidence.

"A supersedes B" and "A replaces B with changes" say that A may stand in for B, not the other way round; "A is
the same as B" goes both ways. Statements follow one another: the strength of a path is the product of its
confidences (own choice: each statement is taken to be right or wrong by itself), and the strongest path
counts.
"""

import heapq
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import count

from fitworth.vocabulary import Relation


@dataclass(frozen=True, slots=True)
class Statement:
    """One statement; numbers as they are compared.

    Attributes:
        statement_id: the caller's number for it.
        from_number: what may stand in.
        to_number: what it may stand in for.
        relation: how.
        confidence: probability that the statement is right.
    """

    statement_id: int
    from_number: str
    to_number: str
    relation: Relation
    confidence: float


@dataclass(frozen=True, slots=True)
class StandIn:
    """A number that may stand in for the one asked for.

    Attributes:
        number: as it is compared.
        strength: probability that the statements of the path are all right.
        with_changes: whether some step replaces with changes.
        path: the statements, from the number asked for to this one.
    """

    number: str
    strength: float
    with_changes: bool
    path: tuple[Statement, ...]


def find_stand_ins(number: str, statements: Iterable[Statement]) -> tuple[StandIn, ...]:
    """Return all that may stand in for a number, strongest first, each by its strongest path.

    Dijkstra's algorithm: strengths only fall along a path, so the strongest number not yet settled is final.

    Args:
        number: as it is compared.
        statements: on file; those that lead nowhere near are passed over.
    """
    steps: dict[str, list[tuple[str, Statement]]] = {}
    for statement in statements:
        steps.setdefault(statement.to_number, []).append((statement.from_number, statement))
        if statement.relation is Relation.SAME_AS:
            steps.setdefault(statement.from_number, []).append((statement.to_number, statement))
    settled: dict[str, StandIn] = {}
    entered = count()  # settles ties: of two equal paths the one found first
    waiting: list[tuple[float, int, str, tuple[Statement, ...]]] = [(-1.0, next(entered), number, ())]
    while waiting:
        strength, _, reached, path = heapq.heappop(waiting)
        if reached in settled or strength == 0.0:
            continue
        changed = any(step.relation is Relation.REPLACES_WITH_CHANGES for step in path)
        settled[reached] = StandIn(reached, -strength, changed, path)
        for further, statement in steps.get(reached, ()):
            if further not in settled:
                entry = (strength * statement.confidence, next(entered), further, (*path, statement))
                heapq.heappush(waiting, entry)
    del settled[number]
    return tuple(settled.values())
