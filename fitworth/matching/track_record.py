"""How good the fit confidence has been: what was said against what happened."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import xlogy
from scipy.stats import beta

from fitworth.matching.answer import Floats
from fitworth.matching.recalibration import DEFAULT_PRIORS, FitForecast, LearningPriors, learn

BINS = 10  # own choice: tenths are what people think in
FOLDS = 10  # own choice, the usual number
MIDDLE = 0.90  # of an interval
LEAST_CHANCE = 1e-6  # own choice: keeps the logarithm of a chance of 0 finite


@dataclass(frozen=True, slots=True)
class Bin:
    """The forecasts whose confidence lay in one range.

    Attributes:
        low: of the range, which it belongs to.
        high: of the range, which it does not belong to, except 1.
        count: of forecasts, at least 1.
        said: their mean confidence.
        happened: share that fitted.
        interval: (low, high) the middle 90 % of what the true share may be.
    """

    low: float
    high: float
    count: int
    said: float
    happened: float
    interval: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Scores:
    """How far confidences were from what happened; of both, less is better.

    Attributes:
        brier: mean squared difference, 0..1.
        log_loss: mean of minus the logarithm of the chance given to what happened [nat].
    """

    brier: float
    log_loss: float


def score(said: Floats, fitted: Floats) -> Scores:
    """Return the scores of some confidences.

    Source: Brier, Monthly Weather Review 78 (1950), in the form for two classes (from memory).

    >>> round(score(np.array([0.1, 0.9, 0.8, 0.3]), np.array([0.0, 1.0, 1.0, 0.0])).brier, 6)
    0.0375
    """
    kept = np.clip(said, LEAST_CHANCE, 1.0 - LEAST_CHANCE)
    told = xlogy(fitted, kept) + xlogy(1.0 - fitted, 1.0 - kept)
    return Scores(float(((said - fitted) ** 2).mean()), -float(told.mean()))


def share_interval(count: int, of: int) -> tuple[float, float]:
    """Return the middle 90 % of what a share may be, seen `count` times of `of`.

    Source: Jeffreys' prior, Beta(1/2, 1/2) (from memory); near 0 and 1 it does better than the normal
    approximation.
    """
    belief = beta(count + 0.5, of - count + 0.5)
    return float(belief.ppf((1.0 - MIDDLE) / 2.0)), float(belief.ppf((1.0 + MIDDLE) / 2.0))


def list_bins(said: Floats, fitted: Floats, bins: int = BINS) -> list[Bin]:
    """List the equal ranges of confidence that forecasts lie in, the lowest first; empty ones left out."""
    edges = np.linspace(0.0, 1.0, bins + 1)
    places = np.minimum(np.searchsorted(edges, said, side="right") - 1, bins - 1)
    return [
        _fill(edges[place : place + 2], said[places == place], fitted[places == place])
        for place in np.unique(places)
    ]


def _fill(edges: Floats, said: Floats, fitted: Floats) -> Bin:
    low, high = edges.tolist()
    return Bin(
        low=round(low, 12),
        high=round(high, 12),
        count=len(said),
        said=float(said.mean()),
        happened=float(fitted.mean()),
        interval=share_interval(int(fitted.sum()), len(fitted)),
    )


def foresee_each(
    own: Sequence[FitForecast], others: Sequence[FitForecast], priors: LearningPriors = DEFAULT_PRIORS
) -> Floats:
    """Return for each forecast the recalibrated confidence, (n,), learned without its own outcome.

    Every tenth is set aside in turn, and judged by what the rest and the other families taught: judged by
    what its own outcome helped to teach, a recalibration would always look good.
    """
    found = np.empty(len(own))
    turn = np.arange(len(own)) % FOLDS
    for aside in np.unique(turn):
        kept = [one for one, place in zip(own, turn, strict=True) if place != aside]
        judged = [one for one, place in zip(own, turn, strict=True) if place == aside]
        found[turn == aside] = learn(kept, others, priors).foresee(judged, priors)
    return found
