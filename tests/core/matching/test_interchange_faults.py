"""Statements that cannot all be right."""

from collections import defaultdict

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitworth.matching.interchange import Statement
from fitworth.matching.interchange_faults import StatementFault, list_statement_faults
from fitworth.vocabulary import Objection, Relation

SAME, NEWER, CHANGED = Relation.SAME_AS, Relation.SUPERSEDES, Relation.REPLACES_WITH_CHANGES
SHOWN = {"A": "708-21A", "B": "708-21B", "C": "708-21C", "D": "708-21D", "E": "BK-208"}


def faults_of(*said: tuple[str, Relation, str]) -> tuple[StatementFault, ...]:
    statements = [
        Statement(place, one, other, relation, 0.9) for place, (one, relation, other) in enumerate(said, 1)
    ]
    return list_statement_faults(statements, SHOWN)


def test_without_statements_there_is_no_fault() -> None:
    assert faults_of() == ()


def test_two_numbers_that_supersede_each_other_contradict() -> None:
    (fault,) = faults_of(("B", NEWER, "A"), ("C", NEWER, "B"), ("A", NEWER, "B"))
    assert fault.kind is Objection.CONTRADICTION
    assert fault.statement_ids == (1, 3)
    assert fault.numbers == ("B", "A")
    assert fault.says == (
        "708-21B supersedes 708-21A, and 708-21A supersedes 708-21B: only one of them can be the newer."
    )


@pytest.mark.parametrize("other", [("B", SAME, "A"), ("A", SAME, "B")])
def test_the_same_contradicts_superseding_and_changes_whichever_way_round(
    other: tuple[str, Relation, str],
) -> None:
    (newer,) = faults_of(("B", NEWER, "A"), other)
    assert "both ways, or one way only" in newer.says
    (changed,) = faults_of(("B", CHANGED, "A"), other)
    assert changed.kind is Objection.CONTRADICTION
    assert changed.says.startswith("708-21B replaces 708-21A with changes, and 708-21")
    assert changed.says.endswith("either it takes changes, or it does not.")


def test_with_and_without_changes_contradict_one_way_but_not_crosswise() -> None:
    (fault,) = faults_of(("B", NEWER, "A"), ("B", CHANGED, "A"))
    assert fault.statement_ids == (1, 2)
    assert faults_of(("B", NEWER, "A"), ("A", CHANGED, "B")) == ()
    assert faults_of(("B", CHANGED, "A"), ("A", CHANGED, "B")) == ()


def test_every_statement_of_a_claim_is_named() -> None:
    (fault,) = faults_of(("B", NEWER, "A"), ("B", NEWER, "A"), ("A", NEWER, "B"))
    assert fault.statement_ids == (1, 2, 3)


def test_a_statement_that_is_never_right_contradicts_nothing() -> None:
    statements = [Statement(1, "B", "A", NEWER, 0.0), Statement(2, "A", "B", NEWER, 0.9)]
    assert list_statement_faults(statements, SHOWN) == ()


def test_numbers_that_supersede_each_other_in_a_ring_are_told_once() -> None:
    (fault,) = faults_of(("B", NEWER, "A"), ("C", NEWER, "B"), ("A", NEWER, "C"), ("D", NEWER, "C"))
    assert fault.kind is Objection.RING
    assert fault.statement_ids == (1, 2, 3)
    assert fault.says == (
        "708-21B supersedes 708-21A, which supersedes 708-21C, which supersedes 708-21B: "
        "in a ring, each would be newer than itself."
    )


def test_a_ring_can_pass_numbers_that_are_the_same() -> None:
    (fault,) = faults_of(("B", NEWER, "A"), ("E", SAME, "A"), ("E", SAME, "B"))
    assert fault.says.startswith("708-21B supersedes 708-21A, which is the same as BK-208, which is the same")
    assert faults_of(("A", SAME, "B"), ("B", SAME, "C"), ("C", SAME, "A")) == ()


def test_changes_make_no_ring() -> None:
    assert faults_of(("B", NEWER, "A"), ("C", NEWER, "B"), ("A", CHANGED, "C")) == ()


def test_a_number_that_is_said_to_supersede_itself_in_another_spelling_is_no_ring() -> None:
    assert faults_of(("A", NEWER, "A")) == ()


def test_faults_stand_in_the_order_of_the_latest_statement() -> None:
    found = faults_of(
        ("B", NEWER, "A"), ("C", NEWER, "D"), ("D", NEWER, "C"), ("A", NEWER, "B"), ("B", SAME, "A")
    )
    assert [fault.statement_ids for fault in found] == [(2, 3), (1, 4), (1, 5), (4, 5)]


@given(
    st.lists(st.tuples(st.sampled_from("ABCDE"), st.sampled_from([NEWER, SAME]), st.sampled_from("ABCDE")))
)
def test_a_fault_is_found_wherever_a_graph_library_finds_a_ring(
    said: list[tuple[str, Relation, str]],
) -> None:
    said = [one for one in said if one[0] != one[2]]
    graph: nx.DiGraph[str] = nx.DiGraph()
    for one, relation, other in said:
        graph.add_edge(one, other)
        if relation is SAME:
            graph.add_edge(other, one)
    component = {
        number: place
        for place, numbers in enumerate(nx.strongly_connected_components(graph))
        for number in numbers
    }
    wrong = {
        place
        for place, (one, relation, other) in enumerate(said, 1)
        if relation is NEWER and component[one] == component[other]
    }
    involved: dict[int, int] = defaultdict(int)
    for fault in faults_of(*said):
        for statement_id in fault.statement_ids:
            involved[statement_id] += 1
    assert wrong <= set(involved)
    assert bool(wrong) == bool(involved)
