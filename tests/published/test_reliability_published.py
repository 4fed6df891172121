"""Published and recomputed figures of reliability, each with its source."""

import math

import numpy as np
import pytest
from scipy.stats import beta, gamma

from fitworth.costing.renewal import GammaRate, count_renewals, solve_renewal

# Tijms, A First Course in Stochastic Models (2003), Table 8.1.1: Weibull lives of mean 1; printed decimals.
TIJMS = [
    (2.1013490947, 0.2, 0.0261, 1e-4),
    (2.1013490947, 0.4, 0.1087, 1e-4),
    (2.1013490947, 0.6, 0.2422, 1e-4),
    (2.1013490947, 1.0, 0.6091, 1e-4),
    (2.1013490947, 1.2, 0.8143, 1e-4),
    (2.1013490947, 1.5, 1.124, 6e-4),
    (2.1013490947, 2.0, 1.627, 6e-4),
    (2.1013490947, 2.5, 2.125, 6e-4),
    (0.7209047424, 0.5, 0.7785, 1e-4),
    (0.7209047424, 1.0, 1.357, 6e-4),
    (0.7209047424, 2.0, 2.428, 6e-4),
    (0.7209047424, 3.0, 3.460, 6e-4),
    (0.7209047424, 5.0, 5.485, 6e-4),
    (0.7209047424, 7.5, 7.995, 6e-4),
]


@pytest.mark.parametrize(("shape", "mean_lives", "printed", "tolerance"), TIJMS)
def test_the_weibull_renewal_function_is_that_of_tijms_table_8_1_1(
    shape: float, mean_lives: float, printed: float, tolerance: float
) -> None:
    hazard = (mean_lives * math.gamma(1 + 1 / shape)) ** shape
    assert float(count_renewals(np.array([hazard]), shape)[0]) == pytest.approx(printed, abs=tolerance)


@pytest.mark.parametrize(("shape", "squared_variation"), [(2.1013490947, 0.25), (0.7209047424, 2.0)])
@pytest.mark.parametrize("mean_lives", [11.0, 13.0, 20.0])
def test_far_out_renewals_follow_the_asymptote(
    shape: float, squared_variation: float, mean_lives: float
) -> None:
    # Tijms (2003), section 8.1: M(t) tends to t + (c2 - 1) / 2 in mean lives; at 11 within 2e-3.
    hazard = (mean_lives * math.gamma(1 + 1 / shape)) ** shape
    asymptote = mean_lives + (squared_variation - 1) / 2
    assert float(count_renewals(np.array([hazard]), shape)[0]) == pytest.approx(asymptote, abs=2e-3)


@pytest.mark.parametrize(("time", "renewals"), [(1.0, 0.7545789097), (3.0, 2.7500015361)])
def test_the_general_method_gives_erlang_2_with_stage_rate_2(time: float, renewals: float) -> None:
    # Closed form t - 1/4 + exp(-4t)/4, recomputed.
    _, found = solve_renewal(lambda t: np.asarray(gamma.cdf(t, 2.0, scale=0.5)), time, 2000)
    assert found[-1] == pytest.approx(renewals, abs=1e-5)


def test_the_general_method_gives_rate_times_time_for_exponential_lives() -> None:
    times, found = solve_renewal(lambda t: -np.expm1(-0.4 * t), 10.0, 2000)
    assert found == pytest.approx(0.4 * times, abs=1e-5)


def test_a_gamma_prior_adds_failures_and_exposure() -> None:
    # NIST/SEMATECH e-Handbook 8.4.6: a' = a + r, b' = b + T; a' 4, b' 3309 gives an MTBF of median 901.13 and
    # bounds 600.00 (80 %) and 495.30 (90 %).
    known = GammaRate(4.0, 3309.0)
    lives = [1 / gamma.ppf(p, known.shape, scale=1 / known.rate) for p in (0.5, 0.8, 0.9)]
    assert lives == pytest.approx([901.13, 600.00, 495.30], abs=0.01)
    assert known.mean == pytest.approx(4 / 3309)


def test_beta_after_four_of_five() -> None:
    # Beta(1,1) after 4 of 5 successes: mean 5/7, middle 90 % from 0.41820 to 0.93715 (recomputed with SciPy).
    after = beta(5, 2)
    assert after.mean() == pytest.approx(5 / 7)
    assert after.ppf([0.05, 0.95]) == pytest.approx([0.41820, 0.93715], abs=5e-6)


def test_the_first_life_of_a_weibull_part() -> None:
    # Weibull shape 1.5, scale 5000 at 1000: F 0.085559356 (NIST e-Handbook 8.1.6.2, from memory). A first
    # life ends at most once, and renewals count later lives too, so M lies just above F.
    hazard = (1000 / 5000) ** 1.5
    chance = -math.expm1(-hazard)
    assert chance == pytest.approx(0.085559356, abs=1e-9)
    renewals = float(count_renewals(np.array([hazard]), 1.5)[0])
    assert chance < renewals < chance + chance**2
