"""How far the fit confidence can be relied on: what was said, what happened, and what that has taught."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from api.services import assumptions
from api.services.call import Call
from api.services.fit_learning import learn_family, list_trials
from api.services.numbers import check_family
from fitworth.matching.parameters import FitModel
from fitworth.matching.recalibration import (
    DEFAULT_PRIORS,
    FIRST_STATEMENT,
    NOTHING_TO_MEND,
    SHIFT,
    SLOPE,
    STATEMENTS,
    FitForecast,
    Recalibration,
    learn,
    shifted,
)
from fitworth.matching.track_record import Bin, Scores, foresee_each, list_bins, score, share_interval
from fitworth.vocabulary import Grade

MISFIT = "unlisted_misfit"
MIDDLE_SDS = 1.6448536269514722
"""Standard deviations either side that hold the middle 90 % of a normal distribution."""

Body = dict[str, Any]


def show_reliability(call: Call, family: str | None, grade: Grade | None) -> Body:
    """Return the record of the fit confidence, of one family or of all, and of one grade or of all.

    What was learned is the family's, whatever the grade: grades fit or fail by the same dimensions.
    """
    check_family(call, family)
    trials = [trial for trial in list_trials(call) if trial.said > 0.0]
    learned = learn(trials) if family is None else learn_family(trials, family)
    own = [trial for trial in trials if family in {None, trial.family}]
    others = [trial for trial in trials if family not in {None, trial.family}]
    wanted = np.array([grade in {None, trial.grade} for trial in own], np.bool_)
    shown = [trial for trial, is_wanted in zip(own, wanted, strict=True) if is_wanted]
    said, fitted = (
        np.array([getattr(one, name) for one in shown], np.float64) for name in ("said", "fitted")
    )
    body: Body = {
        "outcomes": len(shown),
        "fitted": int(fitted.sum()),
        "recalibration": {
            "outcomes": learned.outcomes,
            "borrowed": learned.borrowed,
            "shift": figure_body(learned, SHIFT),
            "slope": figure_body(learned, SLOPE),
            MISFIT: misfit_body(call, learned),
        },
        "statements": [statement_body(learned, kind, own) for kind in STATEMENTS],
        "bins": [bin_body(one) for one in list_bins(said, fitted)],
    }
    if shown:
        after = foresee_each(own, others)[wanted]
        body["scores"] = {
            "before": scores_body(score(said, fitted)),
            "after": scores_body(score(after, fitted)),
        }
    return {name: value for name, value in (("family", family), ("grade", grade)) if value} | body


def figure_body(learned: Recalibration, place: int) -> Body:
    """Return one figure of a recalibration with its uncertainty, beside what was believed before."""
    return {
        "value": rounded(learned.figures[place]),
        "standard_uncertainty": rounded(learned.sds[place]),
        "prior": {
            "value": rounded(NOTHING_TO_MEND[place]),
            "standard_uncertainty": rounded(DEFAULT_PRIORS.sds[place]),
        },
    }


def misfit_body(call: Call, learned: Recalibration) -> Body:
    """Return the share of misfits where everything agrees: as assumed, and as the outcomes have it."""
    assumed = assumptions.current(call).value(MISFIT)
    return {"prior": assumed, "value": rounded(learned.learned_misfit(assumed))}


def statement_body(learned: Recalibration, kind: str, trials: Sequence[FitForecast]) -> Body:
    """Return how far one kind of statement proved true, in the terms of the parameter that says so."""
    place = FIRST_STATEMENT + list(STATEMENTS).index(kind)
    prior = float(getattr(FitModel(), STATEMENTS[kind]))
    # As the match takes it: over the slope, which multiplies it again afterwards.
    change, reach = (
        number / float(learned.figures[SLOPE])
        for number in (learned.change_of(kind), MIDDLE_SDS * float(learned.sds[place]))
    )
    spoke_for = [trial for trial in trials if trial.leaning.get(kind, 0.0) > 0.0]
    low, high = share_interval(sum(trial.fitted for trial in spoke_for), len(spoke_for))
    return {
        "kind": kind,
        "parameter": STATEMENTS[kind],
        "prior": prior,
        "value": rounded(shifted(prior, change)),
        "interval_90": [rounded(shifted(prior, change + by)) for by in (-reach, reach)],
        "spoke_for": len(spoke_for),
        "fitted": sum(trial.fitted for trial in spoke_for),
        "fitted_90": [rounded(low), rounded(high)],
    }


def bin_body(one: Bin) -> Body:
    """Return one range of confidences: what was said, and what happened."""
    return {
        "from": one.low,
        "to": one.high,
        "count": one.count,
        "said": rounded(one.said),
        "happened": rounded(one.happened),
        "happened_90": [rounded(end) for end in one.interval],
    }


def scores_body(scores: Scores) -> Body:
    """Return two scores; of both, less is better."""
    return {"brier": rounded(scores.brier), "log_loss": rounded(scores.log_loss)}


def rounded(number: float) -> float:
    """Return a number with the digits that mean something: six decimals."""
    return round(float(number), 6)
