"""Which proposals still wait for an answer."""

from fitworth.matching.interchange import Statement
from fitworth.matching.proposals import Proposal, open_proposals
from fitworth.vocabulary import Relation

NUMBERS = {1: ["A"], 2: ["B", "B2"], 3: ["C"], 4: [], 5: ["C", "E"]}
NEWER, SAME = Relation.SUPERSEDES, Relation.SAME_AS


def propose(first: int, second: int, probability: float = 0.8) -> Proposal:
    return Proposal((first, second), probability, ("throttle_bore", "bolt_spacing"))


def open_ids(
    found: list[Proposal], *statements: Statement, decided: tuple[tuple[int, int], ...] = ()
) -> list[tuple[int, int]]:
    return [one.part_ids for one in open_proposals(found, NUMBERS, statements, decided)]


def test_without_proposals_nothing_is_open() -> None:
    assert open_ids([]) == []


def test_the_most_probable_come_first_and_equal_ones_by_their_parts() -> None:
    found = [propose(2, 3, 0.5), propose(1, 3), propose(1, 2)]
    assert open_ids(found) == [(1, 2), (1, 3), (2, 3)]


def test_what_was_decided_does_not_come_back() -> None:
    assert open_ids([propose(1, 2), propose(1, 3)], decided=((1, 2),)) == [(1, 3)]


def test_what_is_stated_either_way_and_however_far_is_not_proposed() -> None:
    found = [propose(1, 2), propose(1, 3), propose(2, 3)]
    to_b = Statement(1, "B2", "A", NEWER, 0.9)
    assert open_ids(found, to_b) == [(1, 3), (2, 3)]
    # From A on to B2, not from B2 on: C supersedes another number of the same part.
    assert open_ids(found, to_b, Statement(2, "C", "B", NEWER, 0.9)) == [(1, 3)]
    assert open_ids(found, to_b, Statement(2, "C", "B2", NEWER, 0.9)) == []
    assert open_ids(found, Statement(1, "A", "C", SAME, 0.2)) == [(1, 2), (2, 3)]


def test_a_statement_that_is_never_right_states_nothing() -> None:
    assert open_ids([propose(1, 2)], Statement(1, "B", "A", NEWER, 0.0)) == [(1, 2)]


def test_parts_of_one_number_are_not_proposed_and_parts_without_one_are() -> None:
    assert open_ids([propose(3, 5), propose(3, 4), propose(4, 6)]) == [(3, 4), (4, 6)]
