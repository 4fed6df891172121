"""Renewals: refused shapes and horizons, the limits that are known in closed form, brute integration."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import gamma

from fitworth.costing.renewal import GammaRate, count_renewals, mean_renewals, solve_renewal
from fitworth.errors import InvalidValueError

SHAPES = st.floats(0.5, 4.0)


@pytest.mark.parametrize("shape", [0.2, 10.5, math.nan, -1.0])
def test_a_weibull_shape_that_no_life_has_is_refused_with_the_range(shape: float) -> None:
    with pytest.raises(InvalidValueError, match=r"from 0\.3 to 10"):
        count_renewals(np.array([1.0]), shape)


@pytest.mark.parametrize("horizon", [-1.0, math.inf, math.nan])
def test_a_horizon_that_is_no_time_is_refused(horizon: float) -> None:
    with pytest.raises(InvalidValueError, match="horizon"):
        mean_renewals(GammaRate(2, 20), 1.0, horizon)


def test_a_rate_without_positive_shape_and_rate_is_refused_with_both_faults() -> None:
    with pytest.raises(InvalidValueError) as refusal:
        GammaRate(0, math.nan)
    assert [fault.where for fault in refusal.value.faults] == ["/shape", "/rate"]


def test_a_steady_rate_renews_by_rate_times_time() -> None:
    hazards = np.array([0.0, 1e-9, 0.3, 1.9, 2.1, 7.0, 11.9, 12.1, 40.0])
    assert count_renewals(hazards, 1.0) == pytest.approx(hazards, abs=5e-5, rel=1e-6)


@pytest.mark.parametrize("shape", [0.3, 0.6, 1.2, 2.0, 6.0, 10.0])
def test_series_and_grid_meet_where_one_hands_over_to_the_other(shape: float) -> None:
    before, at, after = count_renewals(np.array([1.9, 2.0, 2.1]), shape)
    kink = (after - 2 * at + before) / 0.1
    # A jump of 3e-3 between the two would show as a kink of 0.03 beyond the curve's own bend.
    smooth = count_renewals(np.array([1.7, 1.8, 1.9]), shape)
    assert kink == pytest.approx((smooth[2] - 2 * smooth[1] + smooth[0]) / 0.1, abs=0.03)


@given(shape=SHAPES, hazard=st.floats(0, 1))
def test_renewals_lie_between_the_chance_of_one_and_the_hazard_bounds(shape: float, hazard: float) -> None:
    found = float(count_renewals(np.array([hazard]), shape)[0])
    chance = -math.expm1(-hazard)
    most = chance / (1 - chance)
    assert chance - 1e-6 <= found <= most + 1e-6


@given(shape=SHAPES, hazards=st.lists(st.floats(0, 1e5), min_size=2, max_size=8))
def test_renewals_never_fall_as_time_goes_on(shape: float, hazards: list[float]) -> None:
    found = count_renewals(np.array(sorted(hazards)), shape)
    assert np.all(np.diff(found) >= -1e-4)


def test_the_general_method_solves_a_gamma_life_of_three_stages() -> None:
    times, renewals = solve_renewal(lambda t: np.asarray(gamma.cdf(t, 3.0)), 30.0, 1500)
    # Erlang-3, stage rate 1: t/3 - 1/3 plus terms that die away as exp(-3t/2).
    assert renewals[-1] == pytest.approx(times[-1] / 3 - 1 / 3, abs=1e-4)


@settings(max_examples=12, deadline=None)
@given(
    shape=st.floats(0.5, 30),
    mean_hazard=st.floats(0.01, 3),
    weibull_shape=st.floats(0.6, 3),
    horizon=st.floats(0.5, 8),
)
def test_the_mean_over_the_rate_equals_brute_integration(
    shape: float, mean_hazard: float, weibull_shape: float, horizon: float
) -> None:
    rate = GammaRate(shape, shape / mean_hazard)
    quantiles = (np.arange(20_000) + 0.5) / 20_000
    rates = gamma.ppf(quantiles, rate.shape, scale=1 / rate.rate)
    brute = float(count_renewals(rates * horizon**weibull_shape, weibull_shape).mean())
    assert mean_renewals(rate, weibull_shape, horizon) == pytest.approx(brute, abs=2e-4, rel=1e-3)
    assert rate.mean == pytest.approx(mean_hazard)


def test_a_huge_gamma_shape_is_the_rate_known_for_sure() -> None:
    sure = mean_renewals(GammaRate(1e7, 1e8), 1.5, 4.0)
    assert sure == pytest.approx(float(count_renewals(np.array([0.1 * 4.0**1.5]), 1.5)[0]), abs=1e-4)
