"""The interchange groups of a catalogue as they are shown."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from fitworth.matching.catalogue import Catalogue
from fitworth.matching.groups.estimate import groups_of
from fitworth.matching.groups.partition import settle
from fitworth.matching.interchange_groups import (
    InterchangeGroup,
    interchange_groups_of,
    iter_interchange_groups,
)
from fitworth.matching.parameters import FitModel
from fitworth.quantities.quantity import Quantity, Value

Filled = Callable[..., Catalogue]
Length = Callable[..., Quantity]


def members(found: tuple[InterchangeGroup, ...]) -> list[list[int]]:
    return [[member.part_id for member in group.members] for group in found]


def page(catalogue: Catalogue, after_id: int = 0, limit: int = 10) -> tuple[InterchangeGroup, ...]:
    """Return a page of the groups that the catalogue was made of, whatever is estimated."""
    designs = np.array([15 if part == 16 else (part - 1) % 3 for part in catalogue.ids.tolist()])
    labels = np.unique(designs, return_inverse=True)[1]
    groups = groups_of(catalogue, FitModel())
    partition = settle(groups.cells, labels, groups.partition.learned)
    made = replace(
        groups,
        partition=partition,
        member=labels[:, None],
        member_share=np.full((len(labels), 1), 0.9),
        exists=np.ones(len(partition.size)),
        origin=np.arange(len(partition.size)),
    )
    return tuple(iter_interchange_groups(catalogue, made, after_id=after_id, limit=limit))


@pytest.fixture
def catalogue(filled: Filled, mm: Length) -> Catalogue:
    """Sixteen parts: three groups of five, one of which has a slip, and one part by itself."""

    def sheet(design: int, **changed: Value) -> dict[str, Value]:
        return {
            "throttle_bore": mm(15.0 + 3.0 * design),
            "bolt_spacing": mm(38.0 + 4.0 * design),
            "body_length": mm(52.0 + 5.0 * design),
            "pole_radius": mm(80.0 + 4.0 * design),
            "throttle_link_hole_radius": mm(18.0 + 2.0 * design),
            "choke_type": ("manual_lever", "manual_cable", "none")[design % 3],
            **changed,
        }

    slip = sheet(1, body_length=mm(75.0), ports=frozenset({"vent"}))
    parts = [sheet(number % 3) for number in range(15)]
    parts[7] = slip
    return filled(*parts, sheet(7))


def test_a_file_that_lists_nothing_has_no_groups(filled: Filled) -> None:
    assert interchange_groups_of(filled(), after_id=0, limit=10) == ()
    assert interchange_groups_of(filled({}, {}), after_id=0, limit=10) == ()


def test_groups_come_by_their_lowest_ids_and_lone_parts_in_none(catalogue: Catalogue) -> None:
    assert members(page(catalogue)) == [[1, 4, 7, 10, 13], [2, 5, 8, 11, 14], [3, 6, 9, 12, 15]]
    assert {member.probability for group in page(catalogue) for member in group.members} == {0.9}


def test_the_groups_of_a_catalogue_are_those_that_are_estimated(catalogue: Catalogue) -> None:
    found = interchange_groups_of(catalogue, after_id=1, limit=2)
    assert [group[:2] for group in members(found)] == [[2, 5], [3, 6]]


def test_a_page_goes_on_after_the_lowest_id_of_the_last(catalogue: Catalogue) -> None:
    assert members(page(catalogue, limit=1)) == [[1, 4, 7, 10, 13]]
    assert members(page(catalogue, after_id=1, limit=1)) == [[2, 5, 8, 11, 14]]
    assert members(page(catalogue, after_id=3)) == []


def test_a_group_says_what_its_design_is(catalogue: Catalogue) -> None:
    figures = {figure.key: figure for figure in page(catalogue)[1].figures}
    bore, length = figures["throttle_bore"], figures["body_length"]
    assert isinstance(bore.value, Quantity)
    assert (bore.value.as_entered, bore.say_so) == ("18 mm", 5)
    assert isinstance(length.value, Quantity)
    assert (length.value.value, length.say_so) == (57.0, 4)  # the slip says another
    assert length.probability < bore.probability
    assert figures["choke_type"].value == "manual_cable"
    assert figures["ports"].value == frozenset({"vent"})
    assert figures["ports"].say_so == 1
    assert "bowl_depth" not in figures


def test_parts_move_into_the_gaps_that_removed_ones_leave(catalogue: Catalogue) -> None:
    catalogue.remove([1, 5])
    assert members(page(catalogue)) == [[2, 8, 11, 14], [3, 6, 9, 12, 15], [4, 7, 10, 13]]
