"""How good probabilities are: log loss, Brier, calibration, the first candidate, telling apart.

A method's candidates are those it ranks first itself. Since a poor ranking makes for easy candidates, its log
loss is compared with the oracle's on the very same candidates too.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import rankdata

from tests.benchmarks.fit_quality.windows import Floats, Ints, Mask

CLIP = 1e-4  # no probability counts as nearer to 0 or 1 than this
BINS = 10


@dataclass(frozen=True, slots=True)
class Ranked:
    """A method's answer to one question.

    Attributes:
        rows: (n,) rows of its candidates, the likeliest first.
        confidence: (n,) probability that each fits.
        nothing_fits: that no part on file does.
        as_it_comes: (n,) that each fits without work; empty where the method does not say.
        ms: time spent [ms]; 0 where it is not told one by one.
    """

    rows: Ints
    confidence: Floats
    nothing_fits: float
    as_it_comes: Floats
    ms: float = 0.0


@dataclass(frozen=True, slots=True)
class Asked:
    """What is true of one question, and what the oracle knows.

    Attributes:
        truth: (n_parts,) whether each part fits.
        as_it_comes: (n_parts,) whether it does without work.
        not_on_file: whether the removed part's design is on no file.
        known: (n_parts,) the oracle's probabilities.
    """

    truth: Mask
    as_it_comes: Mask
    not_on_file: bool
    known: Floats


@dataclass(frozen=True, slots=True)
class Score:
    """How a method did over many questions; shares and probabilities are 0..1.

    Attributes:
        log_loss: mean over its candidates [nat].
        known_log_loss: the oracle's on the same candidates [nat].
        brier: mean squared difference.
        ece: expected calibration error over ten equal bins.
        top_1: share of questions whose first candidate fits, of those that some part fits.
        as_it_comes_ece: the same error for fitting without work; not-a-number where the method does not say.
        nothing_brier: Brier score of "nothing on file fits".
        nothing_ece: its calibration error.
        auc_not_on_file: area under the curve by which "nothing fits" tells designs that are not on file.
        auc_nothing: by which it tells questions that no part fits.
        ms: median time [ms].
        late_ms: 95th percentile of the time [ms].
    """

    log_loss: float
    known_log_loss: float
    brier: float
    ece: float
    top_1: float
    as_it_comes_ece: float
    nothing_brier: float
    nothing_ece: float
    auc_not_on_file: float
    auc_nothing: float
    ms: float
    late_ms: float

    @property
    def ratio(self) -> float:
        """How many times the oracle's log loss on the same candidates this is."""
        return self.log_loss / self.known_log_loss


def score(answers: Sequence[Ranked], asked: Sequence[Asked]) -> Score:
    """Return how a method did."""
    pairs = list(zip(answers, asked, strict=True))
    said = np.concatenate([answer.confidence for answer, _ in pairs])
    true = np.concatenate([one.truth[answer.rows] for answer, one in pairs]).astype(np.float64)
    known = np.concatenate([one.known[answer.rows] for answer, one in pairs])
    comes = np.concatenate([answer.as_it_comes for answer, _ in pairs])
    comes_true = np.concatenate([one.as_it_comes[answer.rows] for answer, one in pairs]).astype(np.float64)
    nothing = np.array([answer.nothing_fits for answer in answers])
    none = np.array([not one.truth.any() for one in asked], np.float64)
    away = np.array([one.not_on_file for one in asked], np.float64)
    spent = [answer.ms for answer in answers]
    first = [one.truth[answer.rows[0]] for answer, one in pairs if one.truth.any()]
    return Score(
        log_loss=log_loss(said, true),
        known_log_loss=log_loss(known, true),
        brier=brier(said, true),
        ece=calibration_error(said, true),
        top_1=float(np.mean(first)),
        as_it_comes_ece=calibration_error(comes, comes_true) if len(comes) == len(said) else np.nan,
        nothing_brier=brier(nothing, none),
        nothing_ece=calibration_error(nothing, none),
        auc_not_on_file=area_under_curve(nothing, away),
        auc_nothing=area_under_curve(nothing, none),
        ms=float(np.median(spent)),
        late_ms=float(np.quantile(spent, 0.95)),
    )


def log_loss(said: Floats, true: Floats) -> float:
    """Return the mean of -ln of the probability given to what is true, clipped [nat]."""
    said = np.clip(said, CLIP, 1.0 - CLIP)
    return float(-np.mean(true * np.log(said) + (1.0 - true) * np.log(1.0 - said)))


def brier(said: Floats, true: Floats) -> float:
    """Return the mean squared difference."""
    return float(np.mean((said - true) ** 2))


def calibration_error(said: Floats, true: Floats) -> float:
    """Return the expected calibration error over ten equal bins."""
    place = np.minimum((said * BINS).astype(np.int64), BINS - 1)
    return float(np.abs(np.bincount(place, said - true, BINS)).sum() / len(said))


def area_under_curve(said: Floats, true: Floats) -> float:
    """Return the chance that a true case is given more than a false one; not-a-number without both kinds."""
    hits = int(true.sum())
    if not 0 < hits < len(true):
        return float("nan")
    ranks = rankdata(said)[true > 0].sum()
    return float((ranks - hits * (hits + 1) / 2.0) / (hits * (len(true) - hits)))
