"""Statements as paths from a number to what may stand in for it."""

from collections.abc import Sequence
from itertools import combinations

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitworth.matching.interchange import (
    Statement,
    find_stand_ins,
    list_claims,
    strengths_of_parts,
    ties_of_parts,
)
from fitworth.vocabulary import Relation

OLD, NEW, COPY, OTHER = "70821A", "70821B", "BK208", "Q1942"
SAME, NEWER, CHANGED = Relation.SAME_AS, Relation.SUPERSEDES, Relation.REPLACES_WITH_CHANGES


def state(
    number: int,
    stand_in: str,
    replaced: str,
    relation: Relation,
    confidence: float = 0.9,
    source: str = "own bench",
) -> Statement:
    return Statement(number, stand_in, replaced, relation, confidence, source)


def test_without_statements_nothing_stands_in() -> None:
    assert find_stand_ins(OLD, []) == ()


def test_the_new_number_stands_in_for_the_old_one_and_not_the_other_way_round() -> None:
    statements = [state(1, NEW, OLD, NEWER)]
    assert [found.number for found in find_stand_ins(OLD, statements)] == [NEW]
    assert find_stand_ins(NEW, statements) == ()


def test_the_same_goes_both_ways() -> None:
    statements = [state(1, NEW, COPY, SAME)]
    assert [found.number for found in find_stand_ins(NEW, statements)] == [COPY]
    assert [found.number for found in find_stand_ins(COPY, statements)] == [NEW]


def test_strengths_multiply_along_a_path_and_changes_are_told() -> None:
    statements = [state(1, NEW, OLD, NEWER, 0.9), state(2, COPY, NEW, CHANGED, 0.5)]
    first, second = find_stand_ins(OLD, statements)
    assert (first.number, first.with_changes, first.path.with_changes) == (NEW, False, False)
    assert first.strength == first.unchanged_strength == pytest.approx(0.9)
    assert (second.number, second.with_changes, second.path.with_changes) == (COPY, True, True)
    assert second.strength == pytest.approx(0.45)
    assert second.unchanged_strength == 0.0
    assert [claim.statements[0].statement_id for claim in second.path.claims] == [1, 2]


def test_two_independent_paths_are_stronger_than_either() -> None:
    # 1 - (1 - 0.8 * 0.9) (1 - 0.5) = 0.86, by hand
    statements = [
        state(1, NEW, OLD, NEWER, 0.8),
        state(2, COPY, NEW, SAME, 0.9),
        state(3, COPY, OLD, CHANGED, 0.5),
    ]
    copy = next(found for found in find_stand_ins(OLD, statements) if found.number == COPY)
    assert copy.strength == pytest.approx(0.86)
    assert copy.exact
    assert [round(path.strength, 9) for path in copy.paths] == [0.72, 0.5]
    assert [path.with_changes for path in copy.paths] == [False, True]
    assert not copy.with_changes
    assert copy.unchanged_strength == pytest.approx(0.72)


def test_the_strongest_path_comes_first_however_long() -> None:
    statements = [
        state(1, COPY, OLD, SAME, 0.3),
        state(2, NEW, OLD, NEWER, 0.9),
        state(3, COPY, NEW, SAME, 0.9),
    ]
    copy = next(found for found in find_stand_ins(OLD, statements) if found.number == COPY)
    assert copy.path.strength == pytest.approx(0.81)
    assert copy.strength == pytest.approx(1 - (1 - 0.81) * (1 - 0.3))
    assert [claim.statements[0].statement_id for claim in copy.path.claims] == [2, 3]


def test_a_ring_of_statements_ends_and_names_nobody_twice() -> None:
    ring = [state(1, OLD, NEW, NEWER), state(2, NEW, OLD, NEWER)]
    assert [found.number for found in find_stand_ins(OLD, ring)] == [NEW]


def test_a_statement_that_is_never_right_leads_nowhere() -> None:
    assert find_stand_ins(OLD, [state(1, NEW, OLD, NEWER, 0.0)]) == ()


def test_equal_strengths_stand_in_the_order_of_the_statements() -> None:
    statements = [state(1, COPY, OLD, SAME), state(2, OTHER, OLD, SAME)]
    assert [found.number for found in find_stand_ins(OLD, statements)] == [COPY, OTHER]


def test_one_source_that_says_it_twice_is_one_witness() -> None:
    statements = [
        state(1, NEW, OLD, NEWER, 0.6, "A list"),
        state(2, NEW, OLD, NEWER, 0.8, " a  LIST "),
    ]
    (found,) = find_stand_ins(OLD, statements)
    assert found.strength == 0.8
    assert [one.statement_id for one in found.path.claims[0].statements] == [2, 1]


def test_two_sources_are_right_unless_both_are_wrong() -> None:
    statements = [
        state(1, NEW, COPY, SAME, 0.6, "a list"),
        state(2, COPY, NEW, SAME, 0.8, "the old box"),
        state(3, COPY, NEW, SAME, 0.7, "the old box"),
    ]
    (claim,) = list_claims(statements)
    assert claim.confidence == pytest.approx(1 - 0.4 * 0.2)
    assert (claim.from_number, claim.to_number) == (COPY, NEW)
    assert find_stand_ins(NEW, statements)[0].strength == pytest.approx(0.92)


def test_other_relations_and_directions_are_other_claims() -> None:
    statements = [state(1, NEW, OLD, NEWER), state(2, OLD, NEW, NEWER), state(3, NEW, OLD, CHANGED)]
    assert len(list_claims(statements)) == 3


def test_where_everything_is_said_of_everything_the_strength_is_a_lower_bound() -> None:
    numbers = [OLD, NEW, COPY, OTHER, "V77", "H206", "H389"]
    statements = [
        state(place, one, other, SAME) for place, (one, other) in enumerate(combinations(numbers, 2))
    ]
    found = find_stand_ins(OLD, statements)
    assert [one.exact for one in found] == [False] * 6
    # The direct statement and five detours over one number each: they share nothing.
    assert found[0].strength == pytest.approx(1 - 0.1 * (1 - 0.81) ** 5)
    assert [len(one.paths) for one in found] == [6] * 6


def test_far_away_on_a_long_file_the_strongest_path_stands_alone() -> None:
    chain = [state(place, f"N{place + 1}", f"N{place}", NEWER, 0.99) for place in range(150)]
    changed = state(150, "X1", "N149", CHANGED, 0.5)
    found = {one.number: one for one in find_stand_ins("N0", [*chain, changed])}
    assert len(found) == 151
    assert found["N100"].exact
    assert found["N100"].strength == pytest.approx(0.99**100)
    assert not found["N150"].exact
    assert found["N150"].strength == pytest.approx(0.99**150)
    assert found["X1"].with_changes
    assert found["X1"].strength == pytest.approx(0.5 * 0.99**149)


NUMBERS = st.sampled_from(["A", "B", "C", "D", "E", "F"])
STATEMENTS = st.lists(
    st.builds(
        Statement,
        st.integers(1, 10**6),
        NUMBERS,
        NUMBERS,
        st.sampled_from(list(Relation)),
        st.floats(0.05, 1.0),
        st.sampled_from(["own bench", "a list", ""]),
    ),
    max_size=14,
)


def as_networkx(statements: Sequence[Statement]) -> "nx.DiGraph[str]":
    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_node("A")
    for one in statements:
        graph.add_edge(one.to_number, one.from_number)
        if one.relation is SAME:
            graph.add_edge(one.from_number, one.to_number)
    return graph


@given(STATEMENTS)
def test_what_is_reached_is_what_a_graph_library_reaches(statements: list[Statement]) -> None:
    found = {one.number: one for one in find_stand_ins("A", statements)}
    assert set(found) == nx.descendants(as_networkx(statements), "A")
    unchanged = [one for one in statements if one.relation is not CHANGED]
    plain = nx.descendants(as_networkx(unchanged), "A")
    assert {number for number, one in found.items() if not one.with_changes} == plain


@given(STATEMENTS)
def test_the_strength_lies_between_the_strongest_path_and_the_sum_of_all(statements: list[Statement]) -> None:
    for found in find_stand_ins("A", statements):
        most = min(1.0, sum(path.strength for path in found.paths))
        assert found.path.strength - 1e-9 <= found.strength <= most + 1e-9
        assert found.unchanged_strength <= found.strength + 1e-9


@given(STATEMENTS, st.floats(0.05, 1.0))
def test_one_more_statement_weakens_nothing(statements: list[Statement], confidence: float) -> None:
    before = find_stand_ins("A", statements)
    more = [*statements, Statement(0, "B", "A", NEWER, confidence, "a letter")]
    after = {one.number: one for one in find_stand_ins("A", more)}
    for one in before:
        if one.exact and after[one.number].exact:
            assert after[one.number].strength >= one.strength - 1e-9


def test_a_part_stands_in_by_its_surest_number_and_changes_count_in_part() -> None:
    stand_ins = find_stand_ins(
        OLD,
        [state(1, NEW, OLD, NEWER, 0.8), state(2, COPY, OLD, CHANGED, 0.6), state(3, OTHER, OLD, SAME, 0.5)],
    )
    bearers = {NEW: [7], COPY: [8, 9], OTHER: [7, 9], "V77": [5]}
    strengths = strengths_of_parts(stand_ins, bearers, 0.5)
    assert strengths == {7: 0.8, 8: pytest.approx(0.3), 9: 0.5}


def test_statements_tie_the_parts_that_bear_their_numbers() -> None:
    statements = [
        state(1, NEW, OLD, NEWER, 0.8),
        state(2, COPY, OLD, CHANGED, 0.9),  # no copy: it goes on after changes
        state(3, OTHER, COPY, SAME, 0.5),
        state(4, OLD, OTHER, SAME, 0.6),
        state(5, NEW, "V77", NEWER, 0.0),
    ]
    bearers = {NEW: [7], OLD: [3, 9], COPY: [8], OTHER: [9], "V77": [2]}
    ties = ties_of_parts(statements, bearers, 0.9)
    # Part 9 bears both numbers of the fourth statement.
    expected = [(3, 7, 0.72), (3, 9, 0.54), (7, 9, 0.72), (8, 9, 0.45)]
    assert [tie[:2] for tie in ties] == [tie[:2] for tie in expected]
    assert [tie[2] for tie in ties] == pytest.approx([tie[2] for tie in expected])


def test_of_two_claims_about_a_pair_the_surest_ties_it_and_sources_add_up() -> None:
    both = [state(1, NEW, OLD, NEWER, 0.5), state(2, OLD, NEW, SAME, 0.8)]
    bearers = {NEW: [1], OLD: [2]}
    assert ties_of_parts(both, bearers, 1.0) == ((1, 2, 0.8),)
    twice = [Statement(place, NEW, OLD, NEWER, 0.5, source) for place, source in enumerate("ab")]
    assert ties_of_parts(twice, bearers, 1.0) == ((1, 2, 0.75),)
    assert ties_of_parts(both, {}, 1.0) == ()


def test_a_number_that_very_many_parts_bear_ties_some_of_them() -> None:
    ties = ties_of_parts([state(1, NEW, OLD, SAME, 0.9)], {NEW: range(50), OLD: range(50, 100)}, 1.0)
    assert len(ties) == 100
