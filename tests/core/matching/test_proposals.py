"""Parts of one group as proposals, and which of these still wait for an answer."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from fitworth.matching.catalogue import Catalogue
from fitworth.matching.groups.estimate import groups_of
from fitworth.matching.groups.membership import Groups
from fitworth.matching.groups.partition import settle
from fitworth.matching.interchange import Statement
from fitworth.matching.parameters import FitModel
from fitworth.matching.proposals import (
    Proposal,
    ProposalModel,
    find_proposals,
    open_proposals,
    proposals_of,
)
from fitworth.quantities.quantity import Quantity, Value
from fitworth.vocabulary import Relation

Filled = Callable[..., Catalogue]
Length = Callable[..., Quantity]
Design = Callable[..., dict[str, Value]]

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


def test_the_most_probable_come_first_then_those_that_list_most_then_by_their_parts() -> None:
    found = [propose(2, 3, 0.5), propose(1, 3), propose(1, 2), replace(propose(2, 6), differing=("style",))]
    assert open_ids(found) == [(2, 6), (1, 2), (1, 3), (2, 3)]
    assert open_ids([propose(1, 3, 0.80000001), propose(1, 2, 0.8)]) == [(1, 2), (1, 3)]


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


@pytest.fixture
def design(mm: Length) -> Design:
    """A function that returns a sheet; each design differs from the others in every dimension."""

    def sheet(number: int, without: tuple[str, ...] = (), **changed: Value) -> dict[str, Value]:
        values: dict[str, Value] = {
            "throttle_bore": mm(15.0 + 3.0 * number),
            "bolt_spacing": mm(38.0 + 4.0 * number),
            "body_length": mm(52.0 + 5.0 * number),
            "bowl_depth": mm(40.0 + 5.0 * number),
            "choke_type": ("manual_lever", "manual_cable", "none")[number % 3],
            "vented": number % 2 == 0,
        }
        return {key: value for key, value in (values | changed).items() if key not in without}

    return sheet


def grouped(catalogue: Catalogue, *labels: int, share: float = 0.95) -> Groups:
    """Return groups of a catalogue's parts as given, each part a member with one probability."""
    groups, labelled = groups_of(catalogue, FitModel()), np.array(labels)
    partition = settle(groups.cells, labelled, groups.partition.learned)
    return replace(
        groups,
        partition=partition,
        member=labelled[:, None],
        member_share=np.full((len(labels), 1), share),
        alone=np.full(len(labels), 1.0 - share),
        exists=np.ones(len(partition.size)),
        origin=np.arange(len(partition.size)),
    )


def pairs(found: tuple[Proposal, ...]) -> list[tuple[int, int]]:
    return [one.part_ids for one in found]


def test_parts_that_list_nothing_are_not_proposed(filled: Filled) -> None:
    assert proposals_of(filled()) == ()
    assert proposals_of(filled({}, {})) == ()


def test_a_part_without_another_of_its_design_is_not_proposed(filled: Filled, design: Design) -> None:
    catalogue = filled(*(design(number) for number in range(4)))
    assert find_proposals(catalogue, grouped(catalogue, 0, 1, 2, 3)) == ()


def test_members_are_proposed_with_the_one_that_lists_most(filled: Filled, design: Design) -> None:
    less = design(1, without=("throttle_bore", "vented"))
    catalogue = filled(design(0), less, design(2), design(1), less)
    found = find_proposals(catalogue, grouped(catalogue, 0, 1, 2, 1, 1))
    assert pairs(found) == [(2, 4), (4, 5)]
    assert [one.probability for one in found] == pytest.approx([0.95**2] * 2)
    assert {one.group for one in found} == {(2, 4, 5)}
    assert found[0].agreeing == ("bolt_spacing", "body_length", "choke_type", "bowl_depth")
    assert found[0].differing == ()


def test_what_strays_from_the_design_is_not_known_of_it(filled: Filled, design: Design, mm: Length) -> None:
    less = design(1, without=("vented",))
    stray = design(1, bowl_depth=mm(75.0), bolt_spacing=mm(57.0))
    catalogue = filled(stray, less, less, less, design(3))
    assert pairs(find_proposals(catalogue, grouped(catalogue, 0, 0, 0, 0, 1))) == [(1, 2), (2, 3), (2, 4)]


def test_the_probability_is_the_sum_over_groups_of_both_memberships(filled: Filled, design: Design) -> None:
    catalogue = filled(*(design(number // 2) for number in range(4)))
    groups = grouped(catalogue, 0, 0, 1, 1)
    soft = replace(
        groups,
        member=np.array([[0, 1], [1, 0], [1, 0], [0, 1]]),
        member_share=np.array([[0.9, 0.1], [0.2, 0.8], [1.0, 0.0], [0.1, 0.9]]),
    )
    found = find_proposals(catalogue, soft, ProposalModel(least_probability=0.74))
    assert pairs(found) == [(3, 4), (1, 2)]
    assert [one.probability for one in found] == pytest.approx([0.9, 0.9 * 0.8 + 0.1 * 0.2])
    assert pairs(find_proposals(catalogue, soft)) == [(3, 4)]
    assert len(find_proposals(catalogue, soft, ProposalModel(least_probability=0.0, most_found=1))) == 1


def test_the_members_of_a_group_in_doubt_fall_together(filled: Filled, design: Design) -> None:
    catalogue = filled(*(design(number // 4) for number in range(5)))
    groups = grouped(catalogue, 0, 0, 1, 1, 2)
    for doubt, shown, expected in (
        (0.1, {(1, 2), (3, 4)}, {(1, 2): 1.0, (3, 4): 1.0}),
        (0.9, {(1, 2, 3, 4)}, {(1, 2): 1.0, (1, 3): 0.9, (1, 4): 0.9}),
    ):
        lent = replace(
            groups,
            member=np.array([[0, 0], [0, 0], [1, 0], [1, 0], [2, 2]]),
            member_share=np.array([[1.0, 0.0], [1.0, 0.0], *[[1.0 - doubt, doubt]] * 2, [1.0, 0.0]]),
            exists=np.array([1.0, 1.0 - doubt, 1.0]),
            origin=np.array([0, 0, 2]),
        )
        found = find_proposals(catalogue, lent)
        assert {one.part_ids: one.probability for one in found} == pytest.approx(expected)
        assert {one.group for one in found} == shown


def test_one_that_hardly_belongs_to_a_group_is_not_what_others_are_held_to(
    filled: Filled, design: Design
) -> None:
    less = design(1, without=("vented",))
    catalogue = filled(design(1), less, less, design(2))
    groups = grouped(catalogue, 0, 0, 0, 1)
    share = np.array([[0.5], [0.95], [0.95], [0.95]])
    assert pairs(find_proposals(catalogue, replace(groups, member_share=share))) == [(2, 3)]


def test_a_part_without_a_number_is_paired_only_where_no_other_has_one(
    filled: Filled, design: Design
) -> None:
    catalogue = filled(*(design(number // 3) for number in range(6)))
    groups = grouped(catalogue, 0, 0, 0, 1, 1, 1)
    assert pairs(find_proposals(catalogue, groups)) == [(1, 2), (1, 3), (4, 5), (4, 6)]
    found = find_proposals(catalogue, groups, unnumbered=(1, 4, 5, 6))
    assert pairs(found) == [(1, 2), (2, 3), (4, 5), (4, 6)]


def test_what_differs_in_a_pair_is_told(filled: Filled, design: Design, mm: Length) -> None:
    # Shallower is no harm, deeper is; so they do not agree both ways.
    slip = design(1, bowl_depth=mm(54.0), vented=True)
    catalogue = filled(design(1), slip, design(2))
    (found,) = find_proposals(catalogue, grouped(catalogue, 0, 0, 1))
    assert found.agreeing == ("throttle_bore", "bolt_spacing", "body_length", "choke_type")
    assert found.differing == ("bowl_depth", "vented")


def test_a_scale_of_one_maker_is_compared_within_it_only(filled: Filled, design: Design, mm: Length) -> None:
    parts = [design(1, heat_range=mm(heat, 0.0, "1")) for heat in (5, 5, 9, 9)]
    catalogue = filled(*parts, makers=["Vennor", "Vennor", "Vennor", "Ostler"])
    same, other, apart = find_proposals(catalogue, grouped(catalogue, 0, 0, 0, 0))
    assert pairs((same, other, apart)) == [(1, 2), (1, 3), (1, 4)]
    assert "heat_range" in same.agreeing
    assert other.differing == ("heat_range",)
    assert "heat_range" not in apart.agreeing + apart.differing


def test_proposals_are_kept_until_parts_change(filled: Filled, design: Design) -> None:
    catalogue = filled(*(design(number // 4) for number in range(16)))
    asked: list[int] = []
    sure = ProposalModel(least_probability=0.5)

    def list_unnumbered() -> list[int]:
        asked.append(1)
        return []

    first = proposals_of(catalogue, list_unnumbered, sure)
    assert len(first) == 12
    assert proposals_of(catalogue, list_unnumbered, sure) is first
    assert len(asked) == 1
    catalogue.remove([2])
    assert len(proposals_of(catalogue, list_unnumbered, sure)) == 11
