"""Measurements of a removed part that stand against everything else that is known of it.

Under each hypothesis "it is of this group's design" a reading is wrong with some probability, more where it
is a slip of the design's figure (entry_slips.py); under "on no file" with its prior one. The average over the
hypotheses, weighed by all readings, numbers and engines, is the probability that it is wrong.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

import numpy as np

from fitworth.matching.answer import Floats
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.doubtful_entry import QUESTIONS, say_value
from fitworth.matching.entry_slips import (
    DEFAULT_DOUBTS,
    MOST_DECIMALS,
    DoubtModel,
    Expected,
    likeliest_slip,
    share_of_others,
    slip_densities,
)
from fitworth.matching.groups.candidates import Question
from fitworth.matching.groups.centres import Centres
from fitworth.matching.groups.query import Reading, chance_astray
from fitworth.matching.supposed import LIKELY, figure_value
from fitworth.vocabulary import EntrySlip

if TYPE_CHECKING:
    from fitworth.quantities.quantity import Value

FAINT = 1e-6  # hypotheses less likely than this are not looked at closely
NEAR = 3.0  # standard uncertainties within which two designs have one figure; own choice


def list_doubtful_readings(
    catalogue: Catalogue, question: Question, doubts: DoubtModel = DEFAULT_DOUBTS
) -> tuple[str, ...]:
    """Return a sentence for each reading that is likelier wrong than not, in the family's order.

    Args:
        catalogue: the parts.
        question: what is known of the removed part, weighed against their groups.
        doubts: by which readings are doubted.
    """
    return tuple(_list_sentences(catalogue, question, doubts))


def _list_sentences(catalogue: Catalogue, question: Question, doubts: DoubtModel) -> Iterator[str]:
    for reading in question.readings:
        told = _weigh(question, reading, doubts)
        if told.wrong.sum() + told.away >= doubts.reading_probability:
            yield _say(catalogue, question, reading, told)


@dataclass(frozen=True, slots=True)
class _Told:
    """What the hypotheses say of one reading.

    Attributes:
        designs: (n_h, 2) their figures in its dimension.
        wrong: (n_h,) probability of each together with the reading being wrong.
        away: probability of "on no file" together with it.
        slips: (n_h,) what the reading looks like under each.
    """

    designs: Centres
    wrong: Floats
    away: float
    slips: tuple[EntrySlip | None, ...]


def _weigh(question: Question, reading: Reading, doubts: DoubtModel) -> _Told:
    partition, hypotheses = question.groups.partition, question.hypotheses
    centres = partition.gathered.centres.of(hypotheses.groups)
    astray = chance_astray(centres, reading, partition.learned)
    designs = centres.within(reading.dim)
    factors = np.ones(len(astray))
    slips: list[EntrySlip | None] = [None] * len(astray)
    for place in np.flatnonzero(hypotheses.weights * astray > FAINT).tolist():
        factors[place], slips[place] = _gross(question, reading, designs, place, doubts)
    sound = hypotheses.weights * (1.0 - astray)
    wrong = hypotheses.weights * astray * factors
    whole = float((sound + wrong).sum()) + hypotheses.away
    return _Told(designs, wrong / whole, hypotheses.away * reading.error / whole, tuple(slips))


def _gross(
    question: Question, reading: Reading, designs: Centres, place: int, doubts: DoubtModel
) -> tuple[float, EntrySlip | None]:
    """Return how much likelier a wrong reading is where a design's figure was meant, and its slip."""
    learned, dim = question.groups.partition.learned, reading.dim
    if not learned.numeric[dim]:
        return 1.0, None
    kind, scatter = question.rules[dim].dimension.kind, float(learned.scatter[dim])
    gross = float(learned.spreads[dim].gross(reading.value, np.hypot(reading.u, scatter)))
    value, variance, share = (
        float(part[place, 0]) for part in (designs.value, designs.variance, designs.share)
    )
    expected = Expected(value, variance + scatter**2)
    slips = slip_densities(kind, round(reading.value, MOST_DECIMALS), reading.u, expected, doubts)
    anyhow = gross * share_of_others(kind, doubts)
    density = share * (anyhow + sum(slips.values())) + (1.0 - share) * gross
    return density / gross, likeliest_slip(slips, anyhow)


def _say(catalogue: Catalogue, question: Question, reading: Reading, told: _Told) -> str:
    rule = question.rules[reading.dim]
    number = rule.number
    if number is None:
        word = cast("Value", rule.measured)  # there is no reading of what was not measured
        seen, again = f"{say_value(word)} was seen", "Look again."
    else:
        seen, again = f"{number.as_entered or say_value(number)} was measured", "Measure it again."
    figures = told.wrong * told.designs.share[:, 0]
    best = int(figures.argmax())
    off = np.abs(told.designs.value[:, 0] - told.designs.value[best, 0])
    u2 = told.designs.variance[:, 0] + told.designs.variance[best, 0]
    u2 = u2 + 2.0 * question.groups.partition.learned.scatter[reading.dim] ** 2
    if figures[off <= NEAR * np.sqrt(u2)].sum() < LIKELY * (told.wrong.sum() + told.away):
        return f"{rule.dimension.label}: {seen}, which goes with nothing else that is known. {again}"
    group = int(question.hypotheses.groups[best])
    supposed = figure_value(catalogue, question.groups, reading.dim, group, 0)
    slip = told.slips[best]
    asks = "" if slip is None else f" {QUESTIONS[slip][:1].upper()}{QUESTIONS[slip][1:]}"
    return f"{rule.dimension.label}: {seen}, but all else says {say_value(supposed)}.{asks} {again}"
