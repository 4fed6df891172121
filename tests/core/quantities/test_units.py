"""Units, drills, uncertainty and fasteners."""

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitworth.errors import InvalidValueError
from fitworth.quantities.drills import DRILLS_MM, get_drill_mm
from fitworth.quantities.fasteners import (
    STUDS,
    fixed_tolerance_mm,
    floating_tolerance_mm,
    largest_standard_stud_mm,
)
from fitworth.quantities.uncertainty import Component, combine, rectangular, repeated
from fitworth.quantities.units import CANONICAL, SPANS, UNITS, find_unit, get_unit
from fitworth.vocabulary import NUMERIC_KINDS, Kind


@pytest.mark.parametrize(
    ("text", "kind", "reason"),
    [
        ("furlong", Kind.LENGTH, "not known; a length is written in mm, cm, m, µm, in or thou"),
        ("ohm", Kind.LENGTH, "unit of resistance, but this is a length"),
        ("mm", Kind.ANGLE, "an angle, written in “deg” or without a unit"),
        ("mohm", Kind.RESISTANCE, "not known"),
        ("mF", Kind.CAPACITANCE, "not known"),
        ("", Kind.LENGTH, "not known"),
    ],
)
def test_a_unit_of_another_kind_is_refused_and_the_right_ones_are_named(
    text: str, kind: Kind, reason: str
) -> None:
    with pytest.raises(InvalidValueError, match=reason):
        get_unit(text, kind)


@pytest.mark.parametrize("name", ["0", "81", "056", "f", "AA", ""])
def test_a_drill_that_does_not_exist_is_refused(name: str) -> None:
    with pytest.raises(InvalidValueError, match="no such drill"):
        get_drill_mm(name)


@pytest.mark.parametrize("hole_mm", [0.0, 1.0, 3.0, 18.6, 200.0, -1.0, math.nan])
def test_a_hole_that_belongs_to_no_standard_stud_is_refused(hole_mm: float) -> None:
    with pytest.raises(InvalidValueError, match="measure the stud itself"):
        largest_standard_stud_mm(hole_mm)


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: unit.symbol)
def test_every_way_to_write_a_unit_finds_it(unit: object) -> None:
    for known in UNITS:
        for spelling in (known.symbol, *known.aliases, *known.exact_aliases, f"{known.symbol}."):
            assert find_unit(spelling) is known


def test_case_matters_only_between_mega_and_milli() -> None:
    assert get_unit("MM", Kind.LENGTH).symbol == "mm"
    assert get_unit("KΩ", Kind.RESISTANCE).symbol == "kohm"
    assert get_unit("MΩ", Kind.RESISTANCE).factor == 10**6
    assert find_unit("mΩ") is None


def test_every_measured_kind_has_one_canonical_unit_and_a_span() -> None:
    assert set(CANONICAL) == set(SPANS) == NUMERIC_KINDS
    assert {unit.symbol for unit in CANONICAL.values()} == {"mm", "deg", "ohm", "uF", "1"}


def test_number_drills_shrink_with_the_number_and_letter_drills_grow_from_where_they_end() -> None:
    numbers = [DRILLS_MM[str(number)] for number in range(1, 81)]
    letters = [DRILLS_MM[letter] for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ"]
    assert numbers == sorted(numbers, reverse=True)
    assert letters == sorted(letters)
    assert numbers[0] < letters[0]
    assert len(set(numbers)) == 80
    assert len(DRILLS_MM) == 106


@pytest.mark.parametrize(
    ("hole_mm", "name"),
    [
        (6.3, "M6"),
        (6.5, "M6"),
        (6.6, "M6"),
        (6.746875, "1/4 in"),
        (7.1, "1/4 in"),
        (8.4, "M8"),
        (9.0, "M8"),
        (18.5, "M16"),
    ],
)
def test_the_largest_stud_that_a_hole_clears_is_assumed(hole_mm: float, name: str) -> None:
    assert largest_standard_stud_mm(hole_mm).name == name


@given(st.floats(3.2, 18.5))
def test_the_assumed_stud_passes_the_hole_and_no_larger_one_does(hole_mm: float) -> None:
    stud = largest_standard_stud_mm(hole_mm)
    assert floating_tolerance_mm(hole_mm, stud.diameter_mm) > 0
    assert all(other.close_mm > hole_mm for other in STUDS if other.diameter_mm > stud.diameter_mm)


def test_studs_stand_by_diameter_and_their_holes_widen() -> None:
    assert [stud.diameter_mm for stud in STUDS] == sorted(stud.diameter_mm for stud in STUDS)
    for stud in STUDS:
        assert stud.diameter_mm < stud.close_mm < stud.normal_mm < stud.loose_mm
    assert fixed_tolerance_mm(6.6, 6.0) == pytest.approx(0.3)


def test_nothing_combined_is_nothing() -> None:
    assert combine([]) == Component(0.0, math.inf)
    assert combine([rectangular(0.0)]) == Component(0.0, math.inf)


def test_one_reading_says_nothing_of_its_scatter() -> None:
    assert repeated([39.6]) == Component(0.0, math.inf)
    assert repeated([39.5, 39.7]).standard_uncertainty == pytest.approx(0.1)
    assert repeated([39.5, 39.6, 39.7]).degrees_of_freedom == 2


@given(
    st.lists(
        st.builds(Component, st.just(0.0) | st.floats(1e-12, 1e3), st.floats(1, 1e6)), min_size=1, max_size=6
    )
)
def test_a_combination_lies_between_its_largest_part_and_their_sum(parts: list[Component]) -> None:
    combined = combine(parts)
    sizes = [part.standard_uncertainty for part in parts]
    assert max(sizes) * (1 - 1e-12) <= combined.standard_uncertainty <= sum(sizes) * (1 + 1e-12)
    assert combined.degrees_of_freedom >= min(part.degrees_of_freedom for part in parts) * (1 - 1e-9)


def test_the_inch_is_exact() -> None:
    assert get_unit("in", Kind.LENGTH).factor == Fraction(254, 10)
