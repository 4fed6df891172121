"""What outcomes teach about the fit confidence: a recalibration, and how far statements proved true.

Each outcome answers a forecast: the fit confidence p that was said of the part tried, before anything was
learned. With it goes how far p leaned on each kind of statement (a number, a listed engine): by how much its
log odds fall where those of the statement fall by one. Learned is, in log odds,

    logit p' = shift + slope logit p + sum over kinds of leaning * change of that kind

After Platt's scaling of classifier outputs (J. Platt, 1999, from memory), here as a Bayesian logistic
regression: Gaussian priors around "nothing to mend" keep it gentle with few outcomes and the identity with
none; the peak of the posterior is what is used, Laplace's normal approximation at it is how sure that is.

One regression for everything, so that no outcome is counted twice: the misfit of a part whose confidence did
not lean on its number is laid to the shift, that of one that did is shared between the shift and the number.
For the same reason `unlisted_misfit` is not learned beside it. It is the share of misfits where everything
agrees, and the shift moves just that; `learned_misfit` says what has become of it.

A family borrows from the others: the prior of its figures is what the others' outcomes say (its own are not
among them), widened by how far families differ.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

import numpy as np
from scipy.special import expit, logit

from fitworth.matching.answer import Floats
from fitworth.matching.parameters import FitModel
from fitworth.vocabulary import Grade, OutcomeKind

SAYS_FIT: Mapping[OutcomeKind, bool] = MappingProxyType(
    {
        OutcomeKind.FITTED: True,
        OutcomeKind.DID_NOT_FIT: False,
        # What died, failed or runs had been fitted; a return alone says nothing of the fit.
        OutcomeKind.DEAD_ON_ARRIVAL: True,
        OutcomeKind.FAILED: True,
        OutcomeKind.STILL_RUNNING: True,
    }
)
STATEMENTS: Mapping[str, str] = MappingProxyType(
    {"number": "number_carried", "interchange": "interchange_truth", "engine": "engine_stated"}
)
"""Kind of statement to the parameter of the match that says how far such are taken to be true."""
STATEMENT_OF: Mapping[str, str] = MappingProxyType(
    {"marking": "number", "known_number": "number", "interchange": "interchange", "engine": "engine"}
)
"""Kind of evidence in an answer to the kind of statement behind it."""

SHIFT, SLOPE, FIRST_STATEMENT = 0, 1, 2  # places of the figures
STEP_ENDS = 1e-10  # [log odds] own choice, far below what could show


@dataclass(frozen=True, slots=True)
class LearningPriors:
    """What is believed before outcomes, and how firmly. All are own choices.

    Attributes:
        shift_sd: [log odds] how far the fit confidence may be off as a whole: at 0.80, from 0.74 to 0.85.
        slope_sd: [1] how far it may be too bold (slope below 1) or too timid.
        statement_sd: [log odds] how far each kind of statement may be truer or less true than assumed.
        shared: [share] of these variances that all families have in common.
        least_slope: [1] the slope is held above 0, so that what was likelier stays likelier.
        least_said: [probability] a forecast nearer to 0 or 1 counts as this near, so that no single outcome
            outweighs all others.
    """

    shift_sd: float = 0.35
    slope_sd: float = 0.15
    statement_sd: float = 0.3
    shared: float = 0.5
    least_slope: float = 0.2
    least_said: float = 0.01

    @property
    def sds(self) -> Floats:
        """The standard deviations of all figures, in their order."""
        return np.array([self.shift_sd, self.slope_sd, *(self.statement_sd for _ in STATEMENTS)])


DEFAULT_PRIORS = LearningPriors()
NOTHING_TO_MEND = np.array([0.0, 1.0, *(0.0 for _ in STATEMENTS)])


@dataclass(frozen=True, slots=True)
class FitForecast:
    """What was said of a part before it was tried, and what happened.

    Attributes:
        family: its key.
        grade: of the part.
        said: fit confidence before anything was learned, above 0 to 1. A 0 is a rule's veto, no forecast.
        leaning: by kind of statement, how far the log odds of `said` follow those of the statement, -1 to 1;
            below 0 where it spoke against the part.
        fitted: whether it did the job.
    """

    family: str
    grade: Grade
    said: float
    leaning: Mapping[str, float]
    fitted: bool


@dataclass(frozen=True, slots=True, eq=False)
class Recalibration:
    """What the outcomes of one family, and those of the others, have taught.

    Attributes:
        outcomes: how many of the family counted.
        borrowed: how many of other families stood behind its prior.
        figures: shift, slope, then the change of each kind of statement [log odds; the slope is 1].
        covariance: of the figures, by Laplace's approximation; its slope's row is 0 where the slope is held.
    """

    outcomes: int
    borrowed: int
    figures: Floats
    covariance: Floats

    @property
    def is_identity(self) -> bool:
        """Whether nothing was learned."""
        return not self.outcomes + self.borrowed

    @property
    def sds(self) -> Floats:
        """The standard deviations of the figures."""
        return np.sqrt(np.diag(self.covariance))

    def change_of(self, kind: str) -> float:
        """Return how much truer a kind of statement is than assumed [log odds]."""
        return float(self.figures[FIRST_STATEMENT + list(STATEMENTS).index(kind)])

    def confidence(self, said: Floats) -> Floats:
        """Return recalibrated probabilities, (n,); 0 stays 0, 1 stays 1, and none overtakes another.

        Args:
            said: (n,) fit confidences of a match with `taught` parameters.
        """
        if self.is_identity:
            return said
        return np.asarray(expit(self.figures[SHIFT] + self.figures[SLOPE] * logit(said)), np.float64)

    def foresee(self, forecasts: Sequence[FitForecast], priors: LearningPriors = DEFAULT_PRIORS) -> Floats:
        """Return for each forecast the confidence that these figures would have put in its place, (n,)."""
        return np.asarray(expit(_covariates(forecasts, priors) @ self.figures), np.float64)

    def taught(self, model: FitModel) -> FitModel:
        """Return the match's parameters with each kind of statement as true as it proved to be.

        In the match, the odds of a part that a statement names against one that it does not are those of the
        parameter times what does not change; so a change of log odds goes to the parameter as it is. It is
        divided by the slope, which multiplies it again afterwards.
        """
        if self.is_identity:
            return model
        changed: dict[str, Any] = {
            name: shifted(getattr(model, name), self.change_of(kind) / float(self.figures[SLOPE]))
            for kind, name in STATEMENTS.items()
        }
        return replace(model, **changed)

    def learned_misfit(self, assumed: float) -> float:
        """Return the share of misfits where every dimension agrees, 0..1, in place of the assumed share."""
        return 1.0 - float(self.confidence(np.array([1.0 - assumed]))[0])


def shifted(probability: float, by: float) -> float:
    """Return a probability with its log odds shifted [log odds].

    >>> round(shifted(0.5, 1.0), 4)
    0.7311
    """
    return float(expit(logit(probability) + by))


def find_leaning(
    confidence_under: Callable[[FitModel], float], kinds: Iterable[str], model: FitModel
) -> tuple[float, dict[str, float]]:
    """Return the fit confidence of a part, and how far it leans on each kind of statement.

    Args:
        confidence_under: gives the part's fit confidence under other parameters.
        kinds: the kinds of statement that were weighed.
        model: the parameters.

    Returns:
        The confidence, 0..1, and by kind the fall of its log odds where the statement's fall by one, -1 to 1;
        none of a confidence of 0 or 1, which leans on nothing.
    """
    said = confidence_under(model)
    if not 0.0 < said < 1.0:
        return said, {}
    leaning = {}
    for kind in kinds:
        name = STATEMENTS[kind]
        doubted: dict[str, Any] = {name: shifted(getattr(model, name), -1.0)}
        fall = logit(said) - logit(confidence_under(replace(model, **doubted)))
        leaning[kind] = float(np.clip(fall, -1.0, 1.0))
    return said, leaning


def learn(
    own: Sequence[FitForecast], others: Sequence[FitForecast] = (), priors: LearningPriors = DEFAULT_PRIORS
) -> Recalibration:
    """Return what outcomes teach about a family.

    Args:
        own: the family's forecasts with what happened.
        others: those of the other families.
        priors: what is believed before them.
    """
    own, others = ([one for one in some if one.said > 0.0] for some in (own, others))
    spread = np.diag(priors.sds**2)
    common, sure = _peak(others, NOTHING_TO_MEND, priors.shared * spread, priors)
    figures, covariance = _peak(own, common, sure + (1.0 - priors.shared) * spread, priors)
    return Recalibration(len(own), len(others), figures, covariance)


def _covariates(forecasts: Sequence[FitForecast], priors: LearningPriors) -> Floats:
    """Return what the figures multiply, (n, n_figures)."""
    said = np.clip([one.said for one in forecasts], priors.least_said, 1.0 - priors.least_said)
    leanings = [[one.leaning.get(kind, 0.0) for kind in STATEMENTS] for one in forecasts]
    return np.column_stack(
        (np.ones(len(forecasts)), logit(said), np.reshape(leanings, (-1, len(STATEMENTS))))
    )


def _peak(
    forecasts: Sequence[FitForecast], mean: Floats, covariance: Floats, priors: LearningPriors
) -> tuple[Floats, Floats]:
    """Return the peak of the posterior and its covariance, the slope held where it would fall too low."""
    if not forecasts:
        return mean, covariance
    x = _covariates(forecasts, priors)
    fitted = np.array([one.fitted for one in forecasts], np.float64)
    figures, sure = _newton(x, fitted, np.zeros(len(x)), (mean, covariance))
    if figures[SLOPE] >= priors.least_slope:
        return figures, sure
    # The objective is convex: where its lowest point lies beyond the bound, the lowest allowed is on it.
    rest = np.arange(len(mean)) != SLOPE
    along = covariance[rest, SLOPE] / covariance[SLOPE, SLOPE]
    given_slope = (
        mean[rest] + along * (priors.least_slope - mean[SLOPE]),
        covariance[np.ix_(rest, rest)] - np.outer(along, covariance[SLOPE, rest]),
    )
    figures, sure = np.full(len(mean), priors.least_slope), np.zeros_like(covariance)
    figures[rest], sure[np.ix_(rest, rest)] = _newton(
        x[:, rest], fitted, x[:, SLOPE] * priors.least_slope, given_slope
    )
    return figures, sure


def _newton(x: Floats, fitted: Floats, offset: Floats, prior: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
    """Return the peak of a logistic regression with a normal prior, and the covariance there.

    Newton's method with halved steps: the objective is strictly convex, so that it ends at the one peak.
    """
    mean, precision = prior[0], np.linalg.inv(prior[1])

    def height(figures: Floats) -> float:
        odds = offset + x @ figures
        away = figures - mean
        return float((np.logaddexp(0.0, odds) - fitted * odds).sum() + away @ precision @ away / 2.0)

    figures = mean
    while True:
        chance = expit(offset + x @ figures)
        slope = x.T @ (chance - fitted) + precision @ (figures - mean)
        curvature = (x.T * (chance * (1.0 - chance))) @ x + precision
        step = np.linalg.solve(curvature, slope)
        if np.abs(step).max() < STEP_ENDS:
            return figures, np.linalg.inv(curvature)
        while height(figures - step) > height(figures) + STEP_ENDS:
            step = step / 2.0
        figures = figures - step
