"""The probability that some path holds, against values computed by hand and by counting all cases."""

from itertools import product

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitworth.matching.interchange_graph import Graph, between, iter_simple_paths
from fitworth.matching.interchange_strength import MOST_PATHS, chance_of_any, combine

BRIDGE = ((0, 1), (2, 3), (0, 4, 3), (2, 4, 1))  # of the bridge network below

EVENTS = st.lists(st.floats(0.0, 1.0), min_size=7, max_size=7)
PATHS = st.lists(st.lists(st.integers(0, 6), min_size=1, max_size=4, unique=True), max_size=8)


def count_cases(paths: list[list[int]], chances: list[float]) -> float:
    """Return the probability by going through every combination of right and wrong."""
    whole = 0.0
    for right in product((False, True), repeat=len(chances)):
        if any(all(right[event] for event in path) for path in paths):
            case = 1.0
            for happens, chance in zip(right, chances, strict=True):
                case *= chance if happens else 1.0 - chance
            whole += case
    return whole


def undirected(edges: list[tuple[str, str]], chance: float = 0.9) -> Graph:
    arcs: dict[str, list[tuple[str, int]]] = {}
    for place, (one, other) in enumerate(edges):
        arcs.setdefault(one, []).append((other, place))
        arcs.setdefault(other, []).append((one, place))
    return Graph(arcs, (chance,) * len(edges))


def test_without_a_path_nothing_holds() -> None:
    assert chance_of_any([], []) == 0.0
    assert combine(Graph({}, ()), "s", "t").strength == 0.0


def test_independent_paths_fail_together_only_if_each_fails() -> None:
    assert chance_of_any([(0, 1), (2,)], [0.8, 0.9, 0.5]) == pytest.approx(1 - (1 - 0.72) * 0.5)


def test_a_claim_that_two_paths_share_counts_once() -> None:
    # 0.8 * (1 - 0.1 * 0.4), by hand
    assert chance_of_any([(0, 1), (0, 2)], [0.8, 0.9, 0.6]) == pytest.approx(0.768)


@pytest.mark.parametrize(("p", "exact"), [(0.5, 0.5), (0.9, 0.97848), (0.8, 0.91136)])
def test_the_bridge_network_has_its_exact_value(p: float, exact: float) -> None:
    # 2 p^2 + 2 p^3 - 5 p^4 + 2 p^5 for five like elements; recomputed by hand.
    assert exact == pytest.approx(2 * p**2 + 2 * p**3 - 5 * p**4 + 2 * p**5)
    assert chance_of_any(BRIDGE, [p] * 5) == pytest.approx(exact)
    edges = [("s", "a"), ("a", "t"), ("s", "b"), ("b", "t"), ("a", "b")]
    combined = combine(undirected(edges, p), "s", "t")
    assert combined.strength == pytest.approx(exact)
    assert (combined.exact, len(combined.paths)) == (True, 4)


@given(PATHS, EVENTS)
def test_factoring_agrees_with_counting_every_case(paths: list[list[int]], chances: list[float]) -> None:
    assert chance_of_any(paths, chances) == pytest.approx(count_cases(paths, chances), abs=1e-12)


@given(st.lists(st.tuples(st.sampled_from("stabcd"), st.sampled_from("stabcd")), max_size=12))
def test_the_paths_are_those_that_a_graph_library_lists(edges: list[tuple[str, str]]) -> None:
    graph = undirected(edges)
    library: nx.MultiGraph[str] = nx.MultiGraph()
    library.add_nodes_from("st")
    for place, (one, other) in enumerate(edges):
        library.add_edge(one, other, key=place)
    ours = sorted(path for path in iter_simple_paths(graph, "s", "t") if path is not None)
    theirs = {tuple(edge[2] for edge in path) for path in nx.all_simple_edge_paths(library, "s", "t")}
    assert len(ours) == len(set(ours))
    # An edge from a number to itself is in no simple path; the library has each path once as well.
    assert set(ours) == theirs


def test_dead_ends_and_what_leads_nowhere_lie_between_nothing() -> None:
    edges = [("s", "a"), ("a", "t"), ("a", "x"), ("x", "y"), ("t", "z"), ("v", "w")]
    assert between(undirected(edges), "s", "t") == {"s", "a", "t"}
    assert between(undirected(edges), "s", "v") == set()
    one_way = Graph({"s": [("a", 0), ("b", 1)], "a": [("t", 2)], "b": [("c", 3)]}, (0.9,) * 4)
    assert between(one_way, "s", "t") == {"s", "a", "t"}


def test_too_many_paths_give_a_lower_bound_from_those_that_share_nothing() -> None:
    rungs = [(f"a{n}", f"b{n}") for n in range(8)]
    rails = [(f"{side}{n}", f"{side}{n + 1}") for side in "ab" for n in range(7)]
    graph = undirected(rungs + rails)
    combined = combine(graph, "a0", "b7")
    assert not combined.exact
    assert 0 < len(combined.paths) <= MOST_PATHS
    used = [claim for claims, _ in combined.paths for claim in claims]
    assert len(used) == len(set(used))
    assert combined.strength == pytest.approx(1 - (1 - 0.9**8) ** 2)


def test_a_tangle_with_few_paths_to_find_is_given_up_in_time() -> None:
    numbers = [f"n{n}" for n in range(9)]
    tangle = [(one, other) for place, one in enumerate(numbers) for other in numbers[:place]]
    combined = combine(undirected([*tangle, ("n8", "t"), ("n7", "t")]), "n0", "t")
    assert not combined.exact
    assert combined.strength > 0.9
