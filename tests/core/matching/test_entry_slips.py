"""Wrong numbers as slips of what was meant."""

import doctest
from types import ModuleType

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from fitworth.matching import doubtful_entry, entry_slips, supposed
from fitworth.matching.entry_slips import (
    DoubtModel,
    Expected,
    likeliest_slip,
    neighbours_swapped,
    one_digit_off,
    share_of_others,
    slip_densities,
    typed,
)
from fitworth.vocabulary import EntrySlip, Kind

MM = 0.05  # [mm] scatter of the sizes below


def slip_of(entered: float, meant: float, kind: Kind = Kind.LENGTH, u: float = 0.003) -> EntrySlip | None:
    return likeliest_slip(slip_densities(kind, entered, u, Expected(meant, MM**2)), 0.002)


@pytest.mark.parametrize("module", [entry_slips, doubtful_entry, supposed])
def test_examples_in_the_documentation_hold(module: ModuleType) -> None:
    result = doctest.testmod(module)
    assert result.attempted > 0
    assert result.failed == 0


@pytest.mark.parametrize("entered", [15.3, 60.0, 33.33])
def test_a_number_that_is_no_usual_slip_is_given_no_name(entered: float) -> None:
    assert slip_of(entered, 42.8) is None


def test_a_fraction_of_an_inch_was_not_typed_digit_by_digit() -> None:
    assert typed(42.06875) == ""
    assert typed(1e12) == ""
    assert list(one_digit_off(42.06875)) == []
    assert list(neighbours_swapped(42.06875)) == []
    assert slip_of(42.06875, 32.06875) is None


@pytest.mark.parametrize(
    ("entered", "meant", "slip"),
    [
        (0.75, 19.05, EntrySlip.INCHES),
        (483.9, 19.05, EntrySlip.MILLIMETRES),
        (190.0, 19.0, EntrySlip.POINT),
        (0.19, 19.0, EntrySlip.POINT),
        (24.1, 14.1, EntrySlip.DIGITS),
        (41.2, 14.2, EntrySlip.DIGITS),
        (12.4, 14.2, EntrySlip.DIGITS),
    ],
)
def test_a_usual_slip_is_named(entered: float, meant: float, slip: EntrySlip) -> None:
    assert slip_of(entered, meant) is slip


def test_other_kinds_have_their_own_units() -> None:
    assert slip_of(8.2, 8200.0, Kind.RESISTANCE) is EntrySlip.UNIT
    in_nanofarads = slip_densities(Kind.CAPACITANCE, 180.0, 1.0, Expected(0.18, 0.009**2))
    assert likeliest_slip(in_nanofarads, 0.001) is EntrySlip.UNIT
    assert EntrySlip.UNIT not in slip_densities(Kind.COUNT, 2.0, 0.0, Expected(3.0, MM**2))
    assert share_of_others(Kind.COUNT) == pytest.approx(share_of_others(Kind.LENGTH) + 0.25)


def test_a_negative_angle_keeps_its_sign() -> None:
    assert all(number <= 0.0 for number in one_digit_off(-45.0))
    assert list(neighbours_swapped(-45.0)) == [-54.0]


def test_equal_neighbours_exchanged_are_no_slip() -> None:
    assert list(neighbours_swapped(22.0)) == []


def test_the_entries_that_a_wrong_unit_may_lead_to_add_up_to_its_share() -> None:
    def density(entered: float) -> float:
        return slip_densities(Kind.LENGTH, entered, 0.001, Expected(19.05, MM**2))[EntrySlip.INCHES]

    found, _ = quad(density, 0.70, 0.80, points=[0.75])
    assert found == pytest.approx(DoubtModel().unit_share / 2, rel=0.15)  # its uncertainty is per entry


@given(st.integers(1, 999), st.integers(0, 1))
def test_a_number_is_one_digit_off_those_that_are_one_digit_off_it(whole: int, decimals: int) -> None:
    number = whole / 10**decimals
    near = list(one_digit_off(number))
    assert number not in near
    assert len(set(near)) == len(near)
    for other in near:
        if len(typed(other)) == len(typed(number)):
            assert number in list(one_digit_off(other))
