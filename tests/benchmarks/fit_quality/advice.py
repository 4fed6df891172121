"""How many measurements it takes to be sure: following the program's advice, the family's order, or chance.

Each removed part starts with the same few readings; then one after the other is added, as somebody would read
it off the part, until the first candidate is certain enough or nothing is left to measure.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fitworth.matching.answer import FitAnswer
from fitworth.matching.fit import find_fits
from fitworth.matching.parameters import FitModel
from tests.benchmarks.fit_quality.recipes import UNMEASURED
from tests.benchmarks.fit_quality.worlds import Question, World

CERTAIN = 0.95  # fit confidence at which nobody measures on
GIVEN = 2  # readings to start with
FOLLOWED, IN_ORDER, AT_RANDOM = "measure_next", "family order", "random order"

Next = Callable[[FitAnswer, Sequence[str]], str]


@dataclass(frozen=True, slots=True)
class Course:
    """How it went on average under one way of choosing what to measure.

    Attributes:
        way: its name.
        measurements: mean number, those given included; all dimensions where certainty was never reached.
        certain: share of removed parts for which it was.
        right: share of those whose first candidate then truly fits.
    """

    way: str
    measurements: float
    certain: float
    right: float


def compare_courses(world: World, questions: Sequence[Question], model: FitModel) -> list[Course]:
    """Return how the three ways do on the removed parts that some part on file fits."""
    asked = [question for question in questions if question.truth.any()]
    keys = [one.key for one in world.family.dimensions if one.key in asked[0].readings]
    open_keys = [key for key in keys if key not in UNMEASURED]
    return [_course(way, world, asked, open_keys, model) for way in (FOLLOWED, IN_ORDER, AT_RANDOM)]


def _course(
    way: str, world: World, asked: Sequence[Question], keys: Sequence[str], model: FitModel
) -> Course:
    counts, certain, right = [], 0, 0
    for place, question in enumerate(asked):
        rng = np.random.default_rng([world.seed, place])
        shuffled = [str(key) for key in rng.permutation(keys)]
        choose = _advised if way == FOLLOWED else _first_open
        # What is left when the program has no more advice is measured in the family's order.
        order = shuffled if way == AT_RANDOM else keys
        count, answer = _measure(world, question, _given(question, shuffled), (order, choose), model)
        sure = answer.fits[0].fit_confidence >= CERTAIN
        counts.append(count if sure else len(keys))
        certain += sure
        right += sure and bool(question.truth[answer.fits[0].part_id - 1])
    return Course(way, float(np.mean(counts)), certain / len(asked), right / max(certain, 1))


def _given(question: Question, shuffled: Sequence[str]) -> list[str]:
    """Return the first readings: lengths that the question measures, the same for each way."""
    lengths = [key for key in shuffled if key in question.query.measured]
    return lengths[:GIVEN]


def _measure(
    world: World, question: Question, given: list[str], how: tuple[Sequence[str], Next], model: FitModel
) -> tuple[int, FitAnswer]:
    """Return how many readings were taken, and the last answer."""
    order, choose = how
    measured = list(given)
    answer = _ask(world, question, measured, model)
    while answer.fits[0].fit_confidence < CERTAIN and len(measured) < len(order):
        left = [key for key in order if key not in measured]
        measured.append(choose(answer, left))
        answer = _ask(world, question, measured, model)
    return len(measured), answer


def _ask(world: World, question: Question, measured: Sequence[str], model: FitModel) -> FitAnswer:
    readings = {key: question.readings[key] for key in measured}
    return find_fits(world.catalogue, replace(question.query, measured=readings, limit=1), model)


def _advised(answer: FitAnswer, left: Sequence[str]) -> str:
    advice: Iterator[str] = (one.key for one in answer.measure_next if one.key in left)
    return next(advice, left[0])


def _first_open(answer: FitAnswer, left: Sequence[str]) -> str:
    return left[0]
