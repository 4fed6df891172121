"""Numbers as points, claims as the steps between them: what is reached, by which steps, what lies between.

A claim that goes both ways is two steps with one name, for it is right or wrong as a whole.
"""

import heapq
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import count

Step = tuple[str, int]


@dataclass(frozen=True, slots=True)
class Graph:
    """Steps from each number to what may stand in for it.

    Attributes:
        arcs: for a number its steps: the number reached, and the claim that says so.
        chances: by claim, the probability that it is right.
    """

    arcs: Mapping[str, Sequence[Step]]
    chances: tuple[float, ...]

    def steps(self, number: str) -> Sequence[Step]:
        """Return the steps from a number."""
        return self.arcs.get(number, ())


@dataclass(frozen=True, slots=True)
class Settled:
    """How a number is reached by its strongest path.

    Attributes:
        strength: probability that the whole path is right.
        before: the number before it, "" at the start.
        claim: that leads here from there, -1 at the start.
    """

    strength: float
    before: str
    claim: int


def settle(
    graph: Graph, start: str, end: str | None = None, barred: Collection[int] = ()
) -> dict[str, Settled]:
    """Return all numbers within reach of a number, itself first, the strongest first.

    Dijkstra's algorithm: strengths only fall along a path, so the strongest number not yet settled is final.
    Of two equal paths the one found first counts.

    Args:
        graph: the steps.
        start: the number asked for.
        end: where to stop looking, or None.
        barred: claims that may not be used.
    """
    settled: dict[str, Settled] = {}
    entered = count()
    waiting: list[tuple[float, int, str, Settled]] = [(-1.0, next(entered), start, Settled(1.0, "", -1))]
    while waiting and end not in settled:
        _, _, number, reached = heapq.heappop(waiting)
        if number in settled:
            continue
        settled[number] = reached
        for further, claim in graph.steps(number):
            if further not in settled and claim not in barred:
                strength = reached.strength * graph.chances[claim]
                entry = (-strength, next(entered), further, Settled(strength, number, claim))
                heapq.heappush(waiting, entry)
    return settled


def claims_along(settled: Mapping[str, Settled], end: str) -> tuple[int, ...]:
    """Return the claims of the strongest path to a settled number, from the start."""
    claims = []
    while settled[end].claim >= 0:
        claims.append(settled[end].claim)
        end = settled[end].before
    return tuple(reversed(claims))


def between(graph: Graph, start: str, end: str) -> frozenset[str]:
    """Return the numbers that a path without detours from start to end can pass, these two among them.

    Whatever is not both within reach of the one and able to reach the other, and every dead end, is left out;
    some numbers that no such path passes may remain.

    Args:
        graph: the steps.
        start: the number asked for.
        end: another one.
    """
    onward = _within_reach(graph.arcs, start, end)
    back: dict[str, list[Step]] = {}
    for number in onward - {end}:
        for further, claim in graph.steps(number):
            if further in onward and further != start:
                back.setdefault(further, []).append((number, claim))
    kept = _within_reach(back, end, start) & onward
    beside: dict[str, set[str]] = {number: set() for number in kept}
    for number in kept - {end}:
        for further, _ in graph.steps(number):
            if further in kept and further != number:
                beside[number].add(further)
                beside[further].add(number)
    ends = [number for number in kept - {start, end} if len(beside[number]) < 2]  # noqa: PLR2004 - in and out
    while ends:
        number = ends.pop()
        for other in beside.pop(number):
            beside[other].discard(number)
            if len(beside[other]) == 1 and other not in {start, end}:
                ends.append(other)
    return frozenset(beside)


def _within_reach(arcs: Mapping[str, Sequence[Step]], start: str, end: str) -> set[str]:
    """Return what is reached from start, without going on from end."""
    seen, waiting = {start}, [start]
    while waiting:
        number = waiting.pop()
        for further, _ in arcs.get(number, ()) if number != end else ():
            if further not in seen:
                seen.add(further)
                waiting.append(further)
    return seen


def iter_simple_paths(graph: Graph, start: str, end: str) -> Iterator[tuple[int, ...] | None]:
    """Yield the claims of each path that passes no number twice, and None for each step that was tried.

    There can be very many of either; the caller stops when it has seen enough.

    Args:
        graph: the steps.
        start: the number asked for.
        end: another one.
    """
    kept = between(graph, start, end)
    passed, claims = [start], [-1]
    waiting = [iter(graph.steps(start))]
    while waiting:
        step = next(waiting[-1], None)
        if step is None:
            waiting.pop()
            passed.pop()
            claims.pop()
            continue
        further, claim = step
        yield None
        if further == end:
            yield (*claims[1:], claim)
        elif further in kept and further not in passed:
            passed.append(further)
            claims.append(claim)
            waiting.append(iter(graph.steps(further)))
