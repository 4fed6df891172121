"""Statements as paths from a number to what may stand in for it."""

import pytest

from fitworth.matching.interchange import Statement, find_stand_ins
from fitworth.vocabulary import Relation

OLD, NEW, COPY, OTHER = "70821A", "70821B", "BK208", "Q1942"


def state(
    number: int, stand_in: str, replaced: str, relation: Relation, confidence: float = 0.9
) -> Statement:
    return Statement(number, stand_in, replaced, relation, confidence)


def test_without_statements_nothing_stands_in() -> None:
    assert find_stand_ins(OLD, []) == ()


def test_the_new_number_stands_in_for_the_old_one_and_not_the_other_way_round() -> None:
    statements = [state(1, NEW, OLD, Relation.SUPERSEDES)]
    assert [found.number for found in find_stand_ins(OLD, statements)] == [NEW]
    assert find_stand_ins(NEW, statements) == ()


def test_the_same_goes_both_ways() -> None:
    statements = [state(1, NEW, COPY, Relation.SAME_AS)]
    assert [found.number for found in find_stand_ins(NEW, statements)] == [COPY]
    assert [found.number for found in find_stand_ins(COPY, statements)] == [NEW]


def test_strengths_multiply_along_a_path_and_changes_are_told() -> None:
    statements = [
        state(1, NEW, OLD, Relation.SUPERSEDES, 0.9),
        state(2, COPY, NEW, Relation.REPLACES_WITH_CHANGES, 0.5),
    ]
    first, second = find_stand_ins(OLD, statements)
    assert (first.number, first.with_changes) == (NEW, False)
    assert first.strength == pytest.approx(0.9)
    assert (second.number, second.with_changes) == (COPY, True)
    assert second.strength == pytest.approx(0.45)
    assert [step.statement_id for step in second.path] == [1, 2]


def test_the_strongest_path_counts_however_long() -> None:
    statements = [
        state(1, COPY, OLD, Relation.SAME_AS, 0.3),
        state(2, NEW, OLD, Relation.SUPERSEDES, 0.9),
        state(3, COPY, NEW, Relation.SAME_AS, 0.9),
    ]
    found = {stand_in.number: stand_in for stand_in in find_stand_ins(OLD, statements)}
    assert found[COPY].strength == pytest.approx(0.81)
    assert [step.statement_id for step in found[COPY].path] == [2, 3]


def test_a_ring_of_statements_ends_and_names_nobody_twice() -> None:
    ring = [state(1, OLD, NEW, Relation.SUPERSEDES), state(2, NEW, OLD, Relation.SUPERSEDES)]
    assert [found.number for found in find_stand_ins(OLD, ring)] == [NEW]


def test_a_statement_that_is_never_right_leads_nowhere() -> None:
    assert find_stand_ins(OLD, [state(1, NEW, OLD, Relation.SUPERSEDES, 0.0)]) == ()


def test_equal_strengths_stand_in_the_order_of_the_statements() -> None:
    statements = [state(1, COPY, OLD, Relation.SAME_AS), state(2, OTHER, OLD, Relation.SAME_AS)]
    assert [found.number for found in find_stand_ins(OLD, statements)] == [COPY, OTHER]
