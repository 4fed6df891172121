"""Dimensions that speak against a statement."""

import math
from collections.abc import Callable, Mapping
from dataclasses import replace

import pytest

from fitworth.families.model import Family, Interval
from fitworth.matching.interchange_dimensions import Irreconcilable, Listing, list_irreconcilable
from fitworth.quantities.quantity import Quantity, Value
from fitworth.vocabulary import Relation

SAME, NEWER, CHANGED = Relation.SAME_AS, Relation.SUPERSEDES, Relation.REPLACES_WITH_CHANGES

Length = Callable[..., Quantity]
Against = Callable[..., tuple[Irreconcilable, ...]]


@pytest.fixture
def against(family: Family) -> Against:
    """A function that says what two sheets have against a statement about them."""

    def check(
        relation: Relation,
        new: Mapping[str, Value],
        old: Mapping[str, Value],
        makers: tuple[str, str] = ("Quillon", "Harrowmere"),
    ) -> tuple[Irreconcilable, ...]:
        return list_irreconcilable(
            family, relation, Listing(2, "Q19-42", makers[0], new), Listing(1, "708-21B", makers[1], old)
        )

    return check


def test_what_either_sheet_does_not_list_speaks_against_nothing(against: Against, mm: Length) -> None:
    assert against(NEWER, {}, {"body_length": mm(62.0)}) == ()
    assert against(NEWER, {"body_length": mm(62.0)}, {}) == ()


def test_a_length_outside_its_allowance_is_told_in_a_sentence(against: Against, mm: Length) -> None:
    (found,) = against(NEWER, {"body_length": mm(62.0)}, {"body_length": mm(56.0)})
    assert found.says == (
        "Q19-42 supersedes 708-21B, but body length 62 mm against 56 mm is outside -0.5 to +0.5 mm."
    )
    assert (found.key, found.difference, found.allowance) == ("body_length", 6.0, (-0.5, 0.5))
    assert (found.stand_in_id, found.replaced_id) == (2, 1)


@pytest.mark.parametrize(("new_mm", "agrees"), [(56.5, True), (56.6, True), (56.75, False)])
def test_what_the_uncertainties_may_explain_is_no_mismatch(
    against: Against, mm: Length, new_mm: float, agrees: bool
) -> None:
    # Three of sqrt(0.03^2 + 0.03^2 + 0.05^2) = 0.066 mm beyond the half millimetre.
    found = against(NEWER, {"body_length": mm(new_mm)}, {"body_length": mm(56.0)})
    assert (found == ()) is agrees


def test_the_same_must_do_for_each_other_both_ways(against: Against, mm: Length) -> None:
    shallow, deep = {"bowl_depth": mm(40.0)}, {"bowl_depth": mm(47.0)}
    assert against(NEWER, shallow, deep) == ()
    (found,) = against(SAME, shallow, deep)
    assert (found.stand_in_id, found.replaced_id) == (1, 2)
    assert found.says == (
        "708-21B is the same as Q19-42, but bowl depth 47 mm against 40 mm is larger by more than 2 mm."
    )
    both = against(SAME, {"body_length": mm(62.0)}, {"body_length": mm(56.0)})
    assert [(one.stand_in_id, one.replaced_id) for one in both] == [(2, 1)]


def test_what_a_cure_bridges_is_expected_where_changes_are_told(against: Against, mm: Length) -> None:
    old: dict[str, Value] = {"body_length": mm(56.0), "choke_type": "none", "throttle_bore": mm(19.0)}
    new: dict[str, Value] = {"body_length": mm(62.0), "choke_type": "manual_lever", "throttle_bore": mm(19.0)}
    assert [one.key for one in against(NEWER, new, old)] == ["body_length", "choke_type"]
    assert against(CHANGED, new, old) == ()
    (found,) = against(CHANGED, new | {"body_length": mm(72.0)}, old)
    assert found.says == (
        "Q19-42 replaces 708-21B with changes, but body length 72 mm against 56 mm is outside -6 to +10 mm."
    )
    bore = against(CHANGED, new | {"throttle_bore": mm(24.0)}, old)
    assert [one.key for one in bore] == ["throttle_bore"]


def test_words_that_do_not_do_the_same_job_are_told(against: Against) -> None:
    old: dict[str, Value] = {"choke_type": "none", "vented": True, "ports": frozenset({"vent", "pulse"})}
    new: dict[str, Value] = {"choke_type": "manual_lever", "vented": False, "ports": frozenset()}
    assert [one.says.partition(", but ")[2] for one in against(NEWER, new, old)] == [
        "choke type manual lever against none does not do the same job.",
        "vented no against yes does not do the same job.",
        "ports none against pulse, vent does not do the same job.",
    ]
    assert all(one.difference is None and one.allowance is None for one in against(NEWER, new, old))


def test_a_choice_that_is_accepted_for_another_agrees_one_way(against: Against) -> None:
    resistor, plain = {"resistor": "resistor"}, {"resistor": "plain"}
    assert against(NEWER, resistor, plain) == ()
    assert [one.key for one in against(NEWER, plain, resistor)] == ["resistor"]
    assert [one.key for one in against(SAME, resistor, plain)] == ["resistor"]


def test_a_clock_face_goes_the_shorter_way_round(against: Against, mm: Length) -> None:
    def hour(value: float) -> dict[str, Value]:
        return {"fuel_inlet_hour": mm(value, 0.0, "1")}

    assert against(NEWER, hour(12), hour(1)) == ()
    (found,) = against(NEWER, hour(10), hour(1))
    assert found.difference == -3.0
    assert found.says.endswith("but fuel inlet hour 10 against 1 is outside -1 to +1.")


def test_a_maker_s_own_scale_is_not_compared_with_another_s(against: Against, mm: Length) -> None:
    new, old = {"heat_range": mm(9, 0.0, "1")}, {"heat_range": mm(5, 0.0, "1")}
    assert against(NEWER, new, old) == ()
    assert [one.key for one in against(NEWER, new, old, ("Ostler", "Ostler"))] == ["heat_range"]


def test_notes_never_count_and_the_studs_give_the_play(against: Against, mm: Length) -> None:
    assert (
        against(NEWER, {"coil_resistance": mm(9, 0.1, "ohm")}, {"coil_resistance": mm(3, 0.1, "ohm")}) == ()
    )
    old: dict[str, Value] = {
        "bolt_spacing": mm(42.0),
        "bolt_hole_diameter": mm(6.6),
        "stud_diameter": mm(6.0),
    }
    assert against(NEWER, {"bolt_spacing": mm(42.7)}, old) == ()
    assert [one.key for one in against(NEWER, {"bolt_spacing": mm(43.0)}, old)] == ["bolt_spacing"]


def test_where_a_part_may_be_larger_only_being_smaller_is_told(mm: Length, family: Family) -> None:
    deep = replace(family.by_key["bowl_depth"], allowance=Interval(-1.0, math.inf))
    only = replace(family, dimensions=(deep,))
    new, old = (
        Listing(place, str(place), "Vennor", {"bowl_depth": mm(x)}) for place, x in ((2, 40.0), (1, 47.0))
    )
    (found,) = list_irreconcilable(only, NEWER, new, old)
    assert found.says == "2 supersedes 1, but bowl depth 40 mm against 47 mm is smaller by more than 1 mm."
    assert list_irreconcilable(only, NEWER, old, new) == ()


def test_an_abbreviation_keeps_its_capitals(mm: Length, family: Family) -> None:
    stem = replace(family.by_key["throttle_bore"], label="ID of the stem")
    only = replace(family, dimensions=(stem,))
    new, old = (
        Listing(place, str(place), "Vennor", {"throttle_bore": mm(x)}) for place, x in ((2, 4.0), (1, 9.0))
    )
    assert ", but ID of the stem 4 mm" in list_irreconcilable(only, NEWER, new, old)[0].says
