"""Pairs of parts that agree in everything that both list."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from fitworth.families.model import Family
from fitworth.matching.alike import AlikeModel, find_alike
from fitworth.matching.catalogue import Catalogue
from fitworth.quantities.quantity import Quantity, Value
from fitworth.vocabulary import Kind

Filled = Callable[..., Catalogue]
Length = Callable[..., Quantity]
Design = Callable[..., dict[str, Value]]


@pytest.fixture
def design(mm: Length) -> Design:
    """A function that returns a sheet; each design differs from the others in every dimension."""

    def sheet(number: int, off_mm: float = 0.0, **changed: Value) -> dict[str, Value]:
        values: dict[str, Value] = {
            "throttle_bore": mm(15.0 + 3.0 * number + off_mm),
            "bolt_spacing": mm(38.0 + 4.0 * number + off_mm),
            "body_length": mm(52.0 + 5.0 * number + off_mm),
            "bowl_depth": mm(40.0 + 5.0 * number + off_mm),
            "choke_type": ("manual_lever", "manual_cable", "none")[number % 3],
        }
        return values | changed

    return sheet


def test_a_short_file_has_no_pairs(filled: Filled, design: Design) -> None:
    assert find_alike(filled()) == ()
    assert find_alike(filled(design(1))) == ()


def test_parts_without_a_number_in_any_dimension_are_not_compared(filled: Filled, family: Family) -> None:
    assert find_alike(filled({"choke_type": "none"}, {"choke_type": "none"})) == ()
    assert find_alike(filled({}, {})) == ()


def test_two_parts_of_one_design_are_found_with_the_dimensions_that_agree(
    filled: Filled, design: Design
) -> None:
    catalogue = filled(design(1), design(2), design(1, 0.1), design(3), design(4))
    (found,) = find_alike(catalogue)
    assert found.part_ids == (1, 3)
    assert found.agreeing == ("throttle_bore", "bolt_spacing", "body_length", "choke_type", "bowl_depth")
    assert found.differing == ()
    assert 0.5 < found.probability <= 0.9


def test_three_dimensions_are_too_few(filled: Filled, design: Design) -> None:
    few = {key: value for key, value in design(1).items() if key not in {"bowl_depth", "choke_type"}}
    assert find_alike(filled(design(1), few, design(2))) == ()
    found = find_alike(filled(design(1), few, design(2)), AlikeModel(least_dimensions=3))
    assert [one.part_ids for one in found] == [(1, 2)]


def test_one_dimension_that_differs_is_enough_against_a_pair(
    filled: Filled, design: Design, mm: Length
) -> None:
    for other in (
        design(1, body_length=mm(62.0)),
        design(1, choke_type="none"),
        design(1, bowl_depth=mm(55.0)),  # it would do one way: shallower is no harm
    ):
        assert find_alike(filled(design(1), other, design(2))) == ()


def test_what_one_sheet_does_not_list_is_passed_over(filled: Filled, design: Design) -> None:
    without = {key: value for key, value in design(1).items() if key != "body_length"}
    (found,) = find_alike(filled(design(1), without, design(2)))
    assert "body_length" not in found.agreeing


def test_flags_and_sets_agree_where_they_are_equal(filled: Filled, design: Design) -> None:
    vented, closed = design(1, vented=True), design(1, vented=False)
    assert [one.part_ids for one in find_alike(filled(vented, vented, closed))] == [(1, 2)]


def test_a_scale_of_one_maker_is_compared_within_it_only(filled: Filled, design: Design, mm: Length) -> None:
    hot, cold = (design(1, heat_range=mm(value, 0.0, "1")) for value in (9, 5))
    catalogue = filled(hot, cold, hot, makers=["Vennor", "Ostler", "Ostler"])
    assert [one.part_ids for one in find_alike(catalogue)] == [(1, 2), (1, 3)]
    agreeing = [one.agreeing for one in find_alike(filled(hot, hot, design(2)))]
    assert "heat_range" in agreeing[0]


def test_what_many_parts_share_makes_a_pair_less_probable(filled: Filled, design: Design) -> None:
    rare = find_alike(filled(*(design(n) for n in range(8)), design(3)))
    assert [one.part_ids for one in rare] == [(4, 9)]
    popular = find_alike(
        filled(*(design(n, choke_type="none") for n in range(8)), design(3, choke_type="none"))
    )
    assert popular[0].probability < rare[0].probability


def test_only_neighbours_are_compared_and_only_the_most_probable_kept(filled: Filled, design: Design) -> None:
    catalogue = filled(*[design(1)] * 6)
    assert len(find_alike(catalogue)) == 15
    assert len(find_alike(catalogue, AlikeModel(neighbours=1))) == 5
    kept = find_alike(catalogue, replace(AlikeModel(), most_found=4))
    assert [one.part_ids for one in kept] == [(1, 2), (1, 3), (1, 4), (1, 5)]


def test_no_pair_stands_twice_and_the_lower_id_comes_first(filled: Filled, design: Design) -> None:
    found = find_alike(filled(design(1), design(2), design(1), design(2), design(1)))
    pairs = [one.part_ids for one in found]
    assert len(set(pairs)) == len(pairs) == 4
    assert all(first < second for first, second in pairs)


def test_a_family_of_words_alone_has_no_order(family: Family) -> None:
    words = replace(
        family, dimensions=tuple(one for one in family.dimensions if one.kind in {Kind.CHOICE, Kind.FLAG})
    )
    catalogue = Catalogue(words)
    row = catalogue.layout.pack({"choke_type": "none", "vented": True})
    catalogue.upsert([1, 2], [row, row], ["Vennor"] * 2, [()] * 2)
    assert find_alike(catalogue) == ()
