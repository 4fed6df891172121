"""How often a part is expected to be renewed: the renewal function, and its mean over an uncertain rate."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammainccinv, gammaincinv, gammaln, ndtr

from fitworth.errors import Fault, InvalidValueError, raise_faults

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class RenewalModel:
    """Numbers that tune the numeric solution; own choices, held by the published values in the tests."""

    horizon_means: float = (
        12.0  # [mean lives] end of the grid; beyond it the renewal rate is one per mean life
    )
    steps: int = 3000  # grid steps; the error falls as steps ** -(1 + shape) below shape 1, steps ** -2 above
    series_reach: float = 2.0  # [cumulative hazard] up to which the power series is summed instead
    series_terms: int = 60  # of it; the last is below 1e-15 there
    series_points: int = 400  # of the table in that part
    gamma_nodes: int = 160  # nodes of the quadrature over the rate
    score_reach: float = 7.5  # [standard deviations] of the normal score at its ends; 1e-13 lies outside
    least_shape: float = 0.3  # below it everything dies at once; the grid no longer follows
    greatest_shape: float = 10.0  # above it all die on one day


MODEL = RenewalModel()


@dataclass(frozen=True, slots=True)
class GammaRate:
    """What is known of a failure rate: a gamma distribution.

    For a Weibull life the rate is lambda = scale ** -shape: the expected failures of the first unit of time,
    were failed parts mended to the state they were in. For shape 1 it is the plain failure rate.

    Attributes:
        shape: the failures' worth of knowledge, above 0.
        rate: the exposure's worth of knowledge [unit of time ** Weibull shape], above 0.
    """

    shape: float
    rate: float

    def __post_init__(self) -> None:
        raise_faults(
            Fault(f"/{name}", f"the {name} of a failure rate must be a number above 0, not {value}")
            for name, value in (("shape", self.shape), ("rate", self.rate))
            if not (math.isfinite(value) and value > 0)
        )

    @property
    def mean(self) -> float:
        """The expected rate [1 / unit of time ** Weibull shape]."""
        return self.shape / self.rate


def solve_renewal(
    cdf: Callable[[FloatArray], FloatArray], horizon: float, steps: int
) -> tuple[FloatArray, FloatArray]:
    """Return the renewal function of any continuous life distribution on an even grid.

    Args:
        cdf: distribution function of one life, of times [any unit] as an array.
        horizon: end of the grid [same unit].
        steps: number of steps.

    Returns:
        Times and M at these times, both (steps + 1,): M(t) is the expected number of renewals in (0, t].

    Source: the Riemann-Stieltjes midpoint rule for M = F + M * dF of M. Xie, "On the solution of renewal-type
    integral equations", Communications in Statistics B 18 (1989), from memory; the tests check it.
    """
    step = horizon / steps
    times: FloatArray = np.arange(steps + 1, dtype=np.float64) * step
    at_steps = cdf(times)
    at_midpoints = cdf((np.arange(steps, dtype=np.float64) + 0.5) * step)
    renewals = np.zeros(steps + 1)
    increments = np.zeros(steps + 1)
    kept = 1.0 - at_midpoints[0]
    for i in range(1, steps + 1):
        earlier = increments[1:i] @ at_midpoints[i - 1 : 0 : -1]
        renewals[i] = (at_steps[i] + earlier - renewals[i - 1] * at_midpoints[0]) / kept
        increments[i] = renewals[i] - renewals[i - 1]
    return times, renewals


def _sum_series(hazards: FloatArray, shape: float) -> FloatArray:
    """Return M / x of a Weibull life at x = hazards, from 0 to about 2, by its power series.

    Source: Smith and Leadbetter, "On the renewal function for the Weibull distribution", Technometrics 5,
    1963, from memory: M = sum (-1)^(n-1) A_n x^n / gamma(1 + n shape), A_n = g_n - sum g_j A_(n-j), and
    g_n = gamma(1 + n shape) / n!. The terms are kept divided by gamma(1 + n shape), lest they overflow.
    """
    orders = np.arange(MODEL.series_terms + 1)
    log_gammas, log_factorials = gammaln(1 + orders * shape), gammaln(1 + orders)
    terms = np.zeros(MODEL.series_terms + 1)
    for n in range(1, MODEL.series_terms + 1):
        j = orders[1:n]
        ratios = np.exp(log_gammas[j] - log_factorials[j] + log_gammas[n - j] - log_gammas[n])
        terms[n] = math.exp(-log_factorials[n]) - ratios @ terms[n - j]
    signed = terms[1:] * (-1.0) ** orders[:-1]
    return np.asarray(np.polynomial.polynomial.polyval(hazards, signed), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class _Table:
    """M over x, the cumulative hazard: M/x is smooth in x and 1 at x = 0, so that straight lines serve."""

    hazards: FloatArray
    ratios: FloatArray
    end_time: float
    end_renewals: float
    mean_life: float


@lru_cache(maxsize=64)
def _tabulate_weibull(shape: float) -> _Table:
    """Return the table of one Weibull shape, scale 1; a pure function of the shape, so it is kept."""
    if not MODEL.least_shape <= shape <= MODEL.greatest_shape:
        raise InvalidValueError(
            f"the Weibull shape of a life must lie from {MODEL.least_shape:g} to {MODEL.greatest_shape:g}, "
            f"not {shape:g}"
        )
    mean_life = math.gamma(1 + 1 / shape)
    times, renewals = solve_renewal(
        lambda t: -np.expm1(-(t**shape)), MODEL.horizon_means * mean_life, MODEL.steps
    )
    near = np.linspace(0.0, MODEL.series_reach, MODEL.series_points)
    far = times**shape > MODEL.series_reach
    far_hazards = times[far] ** shape
    return _Table(
        hazards=np.concatenate((near, far_hazards)),
        ratios=np.concatenate((_sum_series(near, shape), renewals[far] / far_hazards)),
        end_time=float(times[-1]),
        end_renewals=float(renewals[-1]),
        mean_life=mean_life,
    )


def count_renewals(hazard: FloatArray, weibull_shape: float) -> FloatArray:
    """Return the expected renewals M while the cumulative hazard of a first life grows to `hazard`.

    Args:
        hazard: x = (time / scale) ** shape, any array of numbers from 0.
        weibull_shape: from 0.3 to 10.

    Returns:
        M of the same array shape, from 0; up to 12 mean lives within 1e-4 of the exact value (Weibull shapes
        below 0.6 and above 6: one part in 1000), beyond them grown by one renewal per mean life.

    Raises:
        InvalidValueError: the shape lies outside that range.
    """
    table = _tabulate_weibull(weibull_shape)
    inside = hazard * np.interp(hazard, table.hazards, table.ratios)
    past_end = (hazard ** (1 / weibull_shape) - table.end_time) / table.mean_life
    return np.where(past_end > 0, table.end_renewals + past_end, inside)


@lru_cache(maxsize=256)
def _find_gamma_nodes(shape: float) -> tuple[FloatArray, FloatArray]:
    """Return nodes and weights (summing to 1) for means over a gamma distribution of rate 1.

    Own choice: even steps in the normal score z of the rate. The integrand is smooth in z and dies away with
    the normal density at both ends, where the trapezoid rule is exact to many digits; Gauss-Laguerre nodes
    miss what small shapes and steep lives do near 0.
    """
    scores = np.linspace(-MODEL.score_reach, MODEL.score_reach, MODEL.gamma_nodes)
    lower, upper = scores[scores < 0], scores[scores >= 0]
    nodes = np.concatenate((gammaincinv(shape, ndtr(lower)), gammainccinv(shape, ndtr(-upper))))
    density = np.exp(-(scores**2) / 2)
    return nodes.astype(np.float64), density / density.sum()


def mean_renewals(failure_rate: GammaRate, weibull_shape: float, horizon: float) -> float:
    """Return the renewal function at the horizon, averaged over what is known of the rate.

    Args:
        failure_rate: gamma distribution of lambda = scale ** -shape.
        weibull_shape: from 0.3 to 10.
        horizon: [unit of time of the rate], from 0.

    Returns:
        The mean of M, from 0; within 1e-4 or one part in 10,000 of brute integration.

    Raises:
        InvalidValueError: the shape lies outside that range, or the horizon is negative.
    """
    if not (math.isfinite(horizon) and horizon >= 0):
        raise InvalidValueError(f"a planning horizon must be a number from 0, not {horizon}")
    nodes, weights = _find_gamma_nodes(failure_rate.shape)
    hazards = nodes / failure_rate.rate * horizon**weibull_shape
    return float(weights @ count_renewals(hazards, weibull_shape))
