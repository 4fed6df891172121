"""What outcomes have taught about the fit confidence: rows as forecasts of the core, and what they teach."""

from collections.abc import Sequence

from api.services.call import Call
from db import forecasts
from db.forecasts import Tried
from fitworth.matching.recalibration import SAYS_FIT, FitForecast, Recalibration, learn


def list_trials(call: Call) -> list[FitForecast]:
    """List what was said of each part that was tried in a job, with whether it fitted, oldest first.

    A part fits a job or does not, whatever happens to it later: several outcomes of one part in one job count
    once. What was said first counts, before any of them was known, and what happened last, which corrects.
    """
    trials: dict[tuple[int, int], list[Tried]] = {}
    for tried in forecasts.list_tried(call.session):
        if tried.what in SAYS_FIT:
            trials.setdefault((tried.job_id, tried.part_id), []).append(tried)
    return [trial_of(outcomes) for outcomes in trials.values()]


def trial_of(outcomes: Sequence[Tried]) -> FitForecast:
    """Return one forecast for the outcomes of one part in one job, given in the order of their entry."""
    first = outcomes[0]
    last = max(outcomes, key=lambda tried: (str(tried.on or ""), tried.outcome_id))
    return FitForecast(first.family, first.grade, first.said, first.leaning, SAYS_FIT[last.what])


def learn_family(trials: Sequence[FitForecast], family: str) -> Recalibration:
    """Return what a family has learned from its own trials and, where it has few, from the others'."""
    own = [trial for trial in trials if trial.family == family]
    return learn(own, [trial for trial in trials if trial.family != family])


class FitLearning:
    """Keeps what was learned until an outcome changes. Its keeper lets one call in at a time."""

    def __init__(self) -> None:
        self._revision = -1
        self._trials: list[FitForecast] = []
        self._learned: dict[str, Recalibration] = {}

    def learned(self, call: Call, family: str) -> Recalibration:
        """Return what the outcomes that a call sees have taught about a family."""
        revision = forecasts.get_last_revision(call.session)
        if revision != self._revision:
            self._trials, self._learned, self._revision = list_trials(call), {}, revision
        if family not in self._learned:
            self._learned[family] = learn_family(self._trials, family)
        return self._learned[family]
