"""Failures over a horizon: refused figures, the chance of dead arrivals, the use of a machine."""

import math

import pytest

from fitworth.costing.reliability import Reliability, Use, believe_rate, expect_failures
from fitworth.costing.renewal import GammaRate
from fitworth.errors import InvalidValueError
from fitworth.vocabulary import LifeClock


@pytest.mark.parametrize("chance", [1.0, -0.1, math.nan])
def test_a_part_that_is_always_dead_on_arrival_is_refused(chance: float) -> None:
    with pytest.raises(InvalidValueError, match="below 1"):
        Reliability(chance, GammaRate(2, 20), 1.0)


def test_a_use_that_no_machine_sees_is_refused_with_every_fault() -> None:
    with pytest.raises(InvalidValueError) as refusal:
        Use(-1, math.inf, 1.0, 0.0)
    assert [fault.where for fault in refusal.value.faults] == [
        "/seasons",
        "/hours_per_season",
        "/retired_a_year",
        "/reference_hours_a_year",
    ]


@pytest.mark.parametrize("failures", [0.0, -1.0, math.nan])
def test_a_failure_rate_of_nothing_is_refused(failures: float) -> None:
    with pytest.raises(InvalidValueError, match="above 0"):
        believe_rate(failures, 2.0)


def test_with_no_time_to_fail_only_dead_arrivals_count() -> None:
    assert expect_failures(Reliability(0.2, GammaRate(2, 20), 1.3), 0.0) == pytest.approx(0.25)


def test_a_steady_rate_and_dead_arrivals_multiply() -> None:
    part = Reliability(0.09, believe_rate(0.11, 2.0), 1.0)
    assert expect_failures(part, 4.0) == pytest.approx((1 + 0.44) / 0.91 - 1, abs=1e-6)


def test_the_belief_has_the_mean_it_was_given() -> None:
    rate = believe_rate(0.05, 3.0)
    assert [rate.shape, rate.rate, rate.mean] == pytest.approx([3.0, 60.0, 0.05])


def test_seasons_in_use_count_the_chance_of_going_out_of_use() -> None:
    use = Use(4.0, 17.0, 0.2, 25.0)
    assert use.seasons_in_use == pytest.approx(1 + 0.8 + 0.64 + 0.512)
    assert use.horizon(LifeClock.CALENDAR) == use.seasons_in_use
    assert use.horizon(LifeClock.HOURS) == pytest.approx(use.seasons_in_use * 17 / 25)


def test_a_machine_that_never_goes_out_of_use_sees_all_its_seasons() -> None:
    assert Use(7.0, 10.0, 0.0, 25.0).seasons_in_use == 7.0


@pytest.mark.parametrize("retired_a_year", [0.0, 0.06, 0.2, 0.9])
def test_a_machine_is_never_in_use_for_longer_than_planned(retired_a_year: float) -> None:
    for seasons in (0.1, 0.5, 1.0, 1.5, 4.0):
        assert Use(seasons, 10.0, retired_a_year, 25.0).seasons_in_use <= seasons * (1 + 1e-12)


def test_half_a_season_more_counts_by_half_of_those_still_in_use() -> None:
    assert Use(0.5, 10.0, 0.2, 25.0).seasons_in_use == 0.5
    assert Use(2.5, 10.0, 0.2, 25.0).seasons_in_use == pytest.approx(1 + 0.8 + 0.5 * 0.64)
    assert Use(1e9, 10.0, 0.2, 25.0).seasons_in_use == pytest.approx(5.0)
