"""How probable it is that at least one of several paths of claims holds.

Paths share claims, so their strengths cannot be put together as if they were independent. Where there are few
paths the answer is exact, by factoring (E. F. Moore and C. E. Shannon's way with networks of crummy relays,
1956; attribution from memory): with a claim that is right with probability c,

    P(some path holds) = c * P(some path holds | it is right) + (1 - c) * P(some path holds | it is wrong).

Where there are many, paths that share no claim are taken one after the other, the strongest first; these are
independent, and as they are some of all paths the true strength is at least that.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from fitworth.matching.interchange_graph import Graph, Settled, claims_along, iter_simple_paths, settle

MOST_PATHS = 32  # own choice: an exact answer for so many takes milliseconds
MOST_STEPS = 1_000  # own choice: tried in search of them, before the shape of the file is too tangled


@dataclass(frozen=True, slots=True)
class Combined:
    """What the paths to a number say together.

    Attributes:
        strength: probability that at least one path holds.
        exact: whether that is exact; else it is at least that.
        paths: the claims of each path counted, with its own strength; the strongest first.
    """

    strength: float
    exact: bool
    paths: tuple[tuple[tuple[int, ...], float], ...]


def combine(graph: Graph, start: str, end: str) -> Combined:
    """Return how probable it is that a number stands in for another.

    Args:
        graph: the steps.
        start: the number asked for.
        end: what may stand in for it.
    """
    paths = _list_paths(graph, start, end)
    if paths is None:
        disjoint = tuple(_disjoint_paths(graph, start, end))
        wrong = 1.0
        for _, strength in disjoint:
            wrong *= 1.0 - strength
        return Combined(1.0 - wrong, exact=False, paths=disjoint)
    ranked = sorted(
        ((path, _product(graph.chances[claim] for claim in path)) for path in paths),
        key=lambda one: (-one[1], len(one[0]), one[0]),
    )
    return Combined(chance_of_any(paths, graph.chances), exact=True, paths=tuple(ranked))


def strongest_alone(settled: Mapping[str, Settled], end: str) -> Combined:
    """Return what the strongest path to a number says, whatever others there may be."""
    if end not in settled:
        return Combined(0.0, exact=True, paths=())
    strength = settled[end].strength
    return Combined(strength, exact=False, paths=((claims_along(settled, end), strength),))


def _list_paths(graph: Graph, start: str, end: str) -> list[tuple[int, ...]] | None:
    """Return all paths, or None where there are too many."""
    paths: list[tuple[int, ...]] = []
    steps = 0
    for path in iter_simple_paths(graph, start, end):
        if path is None:
            steps += 1
        else:
            paths.append(path)
        if steps > MOST_STEPS or len(paths) > MOST_PATHS:
            return None
    return paths


def _disjoint_paths(graph: Graph, start: str, end: str) -> Iterable[tuple[tuple[int, ...], float]]:
    """Yield paths that share no claim, each the strongest that is left."""
    barred: set[int] = set()
    while end in (settled := settle(graph, start, end, barred)):
        path = claims_along(settled, end)
        yield path, settled[end].strength
        barred.update(path)


def chance_of_any(paths: Iterable[Iterable[int]], chances: Sequence[float]) -> float:
    """Return the exact probability that all events of at least one path happen.

    The work can double with each event that is in some paths and not in others.

    Args:
        paths: each as its events.
        chances: by event, its probability; events are independent.

    Examples:
        >>> round(chance_of_any([(0, 1), (2,)], [0.8, 0.9, 0.5]), 12)
        0.86
    """
    # Events that are in the same paths happen for them as one.
    where: dict[int, int] = {}
    for place, path in enumerate(paths):
        for event in path:
            where[event] = where.get(event, 0) | 1 << place
    together: dict[int, float] = {}
    for event, within in where.items():
        together[within] = together.get(within, 1.0) * chances[event]
    masks: Counter[int] = Counter()
    for bit, within in enumerate(together):
        for place in range(within.bit_length()):
            if within >> place & 1:
                masks[place] |= 1 << bit
    known: dict[frozenset[int], float] = {}
    return _factor(_shortest(masks.values()), tuple(together.values()), known)


def _factor(paths: frozenset[int], chances: tuple[float, ...], known: dict[frozenset[int], float]) -> float:
    """Return the probability for paths as bit masks of events, none of which contains another."""
    if len(paths) <= 1:
        return sum(_product(chances[bit] for bit in _bits(path)) for path in paths)
    if paths not in known:
        event, _ = Counter(bit for path in paths for bit in _bits(path)).most_common(1)[0]
        right = _shortest(path & ~(1 << event) for path in paths)
        wrong = frozenset(path for path in paths if not path >> event & 1)
        known[paths] = chances[event] * _factor(right, chances, known) + (1.0 - chances[event]) * _factor(
            wrong, chances, known
        )
    return known[paths]


def _shortest(paths: Iterable[int]) -> frozenset[int]:
    """Return the paths without those that hold only where another holds too."""
    kept: list[int] = []
    for path in sorted(set(paths), key=int.bit_count):
        if not any(shorter & path == shorter for shorter in kept):
            kept.append(path)
    return frozenset(kept)


def _bits(mask: int) -> list[int]:
    return [bit for bit in range(mask.bit_length()) if mask >> bit & 1]


def _product(factors: Iterable[float]) -> float:
    whole = 1.0
    for factor in factors:
        whole *= factor
    return whole
