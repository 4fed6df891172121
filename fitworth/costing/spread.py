"""The spread of what an option may really cost, by seeded simulation of its chain of attempts.

Each draw settles the removed part's design, which candidates fit and how often parts fail, once for all
options, so that options differ by what they are and not by luck. Means of the draws tend to the exact
expected costs.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitworth.costing.expected import Attempt, Chain, Wear
from fitworth.costing.fallback import Belief

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class SpreadModel:
    """Numbers that tune the simulation; own choices."""

    draws: int = 2000  # the ends of the middle 90 % are then sure to about 1.5 percentiles
    low: float = 0.05  # quantile that bounds the middle 90 % from below
    high: float = 0.95  # and from above
    many_lives: float = 40.0  # mean lives beyond which the count of renewals is drawn from its normal limit


MODEL = SpreadModel()


def simulate_costs(
    chains: Sequence[Chain],
    belief: Belief,
    stop_cost: float,
    rng: np.random.Generator,
    draws: int = MODEL.draws,
) -> FloatArray:
    """Return realised costs of chains, (n_chains, draws) [currency].

    Args:
        chains: of any length; an empty one costs `stop_cost`.
        belief: over the candidates that the attempts name.
        stop_cost: gain forgone by stopping [currency].
        rng: source of all chance.
        draws: columns of the result, 1 or more.
    """
    scene = _Scene(belief, rng, draws)
    costs = np.empty((len(chains), draws))
    for i, chain in enumerate(chains):
        costs[i] = _simulate_chain(chain, scene, stop_cost)
    return costs


def find_middle(costs: FloatArray) -> FloatArray:
    """Return the ends of the middle 90 % of each row, (n_rows, 2)."""
    return np.quantile(costs, (MODEL.low, MODEL.high), axis=1).T


def count_failures(wear: Wear, rng: np.random.Generator, draws: int) -> FloatArray:
    """Return how often one part failed over its horizon in each draw, dead arrivals included, (draws,).

    The rate is drawn from what is known of it, lives one after another from the Weibull distribution, dead
    arrivals before each install that works. Where very many lives are due, their number is drawn from its
    normal limit with mean t + (c2 - 1) / 2 and variance c2 t, t in mean lives.
    """
    shape = wear.reliability.weibull_shape
    rates = rng.gamma(wear.reliability.failure_rate.shape, 1 / wear.reliability.failure_rate.rate, draws)
    horizons = wear.horizon * rates ** (1 / shape)  # in scales of the life
    mean_life = math.gamma(1 + 1 / shape)
    renewals = np.zeros(draws, dtype=np.int64)
    ages = np.zeros(draws)
    active = np.flatnonzero(horizons <= MODEL.many_lives * mean_life)
    while active.size:
        ages[active] += rng.weibull(shape, active.size)
        active = active[ages[active] <= horizons[active]]
        renewals[active] += 1
    lives = horizons / mean_life
    squared_variation = math.gamma(1 + 2 / shape) / mean_life**2 - 1
    drawn = rng.normal(lives + (squared_variation - 1) / 2, np.sqrt(squared_variation * lives))
    many = lives > MODEL.many_lives
    renewals[many] = np.maximum(np.rint(drawn[many]), 0).astype(np.int64)
    dead = rng.negative_binomial(renewals + 1, 1 - wear.reliability.dead_on_arrival)
    return (renewals + dead).astype(np.float64)


class _Scene:
    """What one set of draws has settled for all options."""

    def __init__(self, belief: Belief, rng: np.random.Generator, draws: int) -> None:
        self.rng = rng
        self.draws = draws
        ends = np.cumsum(belief.weights)
        hypotheses = np.searchsorted(ends, rng.random(draws) * ends[-1], side="right")
        self._fits = rng.random((len(belief.fits_given), draws)) < belief.fits_given[:, hypotheses]
        self._work = rng.random(draws)
        self._failures: dict[Wear, FloatArray] = {}

    def draw_success(self, attempt: Attempt) -> BoolArray:
        """Return in which draws an attempt succeeds, given that those before it failed."""
        if attempt.candidate is not None:
            fits: BoolArray = self._fits[attempt.candidate]
            return fits
        return self.rng.random(self.draws) < attempt.chance

    def needs_work(self, attempt: Attempt) -> BoolArray:
        """Return in which draws a part that fits does so only after work."""
        return self._work < attempt.work_share

    def get_failures(self, wear: Wear) -> FloatArray:
        """Return the failures of each draw; parts that wear alike share their luck, those of a set too."""
        if wear not in self._failures:
            self._failures[wear] = wear.parts * count_failures(wear, self.rng, self.draws)
        return self._failures[wear]


def _simulate_chain(chain: Chain, scene: _Scene, stop_cost: float) -> FloatArray:
    costs = np.zeros(scene.draws)
    running = np.zeros(scene.draws, dtype=np.bool_)
    for attempt in chain:
        success = scene.draw_success(attempt)
        on_success = (
            scene.needs_work(attempt) * attempt.work_cost
            + attempt.labour
            + scene.get_failures(attempt.wear) * attempt.failure_cost
        )
        spent = attempt.paid_anyway + np.where(success, on_success, attempt.paid_on_failure)
        costs += np.where(running, 0.0, spent)
        running |= success
    return costs + np.where(running, 0.0, stop_cost)
