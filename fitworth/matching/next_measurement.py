"""Which further measurement would tell most about what fits, and whether measuring more still pays.

The hypotheses are sorted by which of the leading candidates would run under each. The gain of measuring a
dimension is the mutual information between that and the reading: the entropy of the reading less the entropy
that is left once the sort of the hypothesis is known, in bits. Readings are told apart as far as the
instrument and the makers' scatter allow. A design whose figure nobody listed reads like any other.

Information is not yet a better choice: a reading pays only where it may turn which candidate to take. So the
answer also says how much the confidence in the best candidate is expected to rise, which is nothing where one
candidate is the best whatever is read.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from fitworth.matching.allowances import Rule
from fitworth.matching.answer import Floats, Ints, MeasureNext
from fitworth.matching.groups.candidates import Question
from fitworth.matching.groups.centres import Centres
from fitworth.matching.groups.learned import Learned
from fitworth.matching.groups.likeness import FAINT
from fitworth.matching.instruments import limit_component
from fitworth.matching.parameters import FitModel
from fitworth.matching.sides import LEAST_U
from fitworth.vocabulary import Role

LEADING = 10  # candidates whose fit is asked about
LEAST_SHARE = 1e-300  # keeps the logarithm of nothing finite
APART = 2.0  # standard uncertainties by which two sizes must differ to be told apart
LIKELY = 0.5  # own choice: a candidate counts as running where that is likelier than not


@dataclass(frozen=True, slots=True)
class Outlook:
    """What is believed before a further measurement.

    Attributes:
        weights: (n,) of the hypotheses, "on no file" first.
        leading: (n_leading, n) probability that the leading candidates run under each.
    """

    weights: Floats
    leading: Floats


@dataclass(frozen=True, slots=True)
class Advice:
    """What to measure next.

    Attributes:
        steps: the dimensions worth measuring, the most telling first.
        enough: whether measuring any more would hardly change which part to take; never while a matter of
            safety that is listed was not measured.
    """

    steps: tuple[MeasureNext, ...]
    enough: bool


def advise(question: Question, outlook: Outlook) -> Advice:
    """Return what to measure next, and whether that still pays.

    Args:
        question: the query with its hypotheses.
        outlook: what is believed so far.
    """
    model, learned = question.model, question.groups.partition.learned
    designs = question.groups.partition.filled.of(question.hypotheses.groups)
    measured = {reading.dim for reading in question.readings}
    sorts = _sorts(outlook)
    found: list[MeasureNext] = []
    highest = 0.0
    for dim, rule in enumerate(question.rules):
        if dim in measured:
            continue
        table = readings_under(rule, dim, designs, learned, model)
        if table is None:
            continue
        gain, rise = gain_bits(table, sorts, outlook), best_rises(table, outlook)
        highest = max(highest, rise)
        if gain >= model.least_gain_bits:
            found.append(MeasureNext(rule.dimension.key, gain, rule.dimension.how, rise))
    found.sort(key=lambda one: -one.gain_bits)
    unproved = any(
        rule.dimension.role is Role.SAFE and dim not in measured for dim, rule in enumerate(question.rules)
    )
    return Advice(tuple(found[: model.most_measurements]), highest < model.least_rise and not unproved)


def _sorts(outlook: Outlook) -> Ints:
    """Return the sort of each hypothesis by which leading candidates likely run."""
    runs = outlook.leading[:LEADING] > LIKELY
    place = np.zeros(runs.shape[1], np.int64)
    for row in runs:
        place = 2 * place + row
    return np.asarray(np.unique(place, return_inverse=True)[1].ravel(), np.int64)


def gain_bits(readings: Floats, sorts: Ints, outlook: Outlook) -> float:
    """Return the expected information of one measurement about the sort of the hypothesis [bit].

    Args:
        readings: (n, n_readings) how likely each reading is under each hypothesis.
        sorts: (n,) of the hypotheses.
        outlook: what is believed so far.
    """
    member = (np.arange(int(sorts.max()) + 1)[:, None] == sorts) * outlook.weights
    table = member @ readings
    return max(0.0, _entropy(table.sum(axis=0)) + _entropy(member.sum(axis=1)) - _entropy(table))


def best_rises(readings: Floats, outlook: Outlook) -> float:
    """Return how much the confidence in the best candidate is expected to rise with one measurement.

    The expectation over readings of the then best, less the confidence in the best now.

    Args:
        readings: (n, n_readings) how likely each reading is under each hypothesis.
        outlook: what is believed so far.
    """
    leading = outlook.leading[:LEADING] * outlook.weights
    then = (leading @ readings).max(axis=0).sum()
    return max(0.0, float(then - leading.sum(axis=1).max()))


def readings_under(
    rule: Rule, dim: int, designs: Centres, learned: Learned, model: FitModel
) -> Floats | None:
    """Return how likely each reading is under "on no file" and each hypothesis, (1 + n_h, n_readings).

    None where no hypothesis knows the dimension.

    Args:
        rule: of the dimension.
        dim: its place.
        designs: (n_h, n_dims, 2) of the hypotheses.
        learned: the scatter.
        model: the shares of wrong readings.
    """
    value, variance, share = (part[:, dim] for part in (designs.value, designs.variance, designs.share))
    known = share > FAINT
    if not known.any():
        return None
    if rule.dimension.kind.is_numeric:
        sizes = np.sort(value[known])
        middle = float(sizes[len(sizes) // 2])
        limit = limit_component(rule.dimension.instrument, rule.dimension.kind, middle).standard_uncertainty
        u = np.sqrt(variance + (limit**2 + learned.scatter[dim] ** 2 + LEAST_U**2))
        apart = np.flatnonzero(np.diff(sizes) > APART * float(u[known].mean()))
        edges = (sizes[apart] + sizes[apart + 1]) / 2.0
        below = ndtr((edges - value[..., None]) / u[..., None])
        each = np.diff(below, axis=-1, prepend=0.0, append=1.0)
        wrong = model.gross_error_share
    else:
        words = np.unique(value[known])
        each = (value[..., None] == words).astype(np.float64)
        wrong = model.choice_error_share
    told = (each * share[..., None]).sum(axis=1)
    anywhere = told.sum(axis=0) / max(float(told.sum()), LEAST_SHARE)
    expected = told + (1.0 - share.sum(axis=1))[:, None] * anywhere
    expected = (1.0 - wrong) * expected + wrong * anywhere
    return np.concatenate((anywhere[None], expected))


def _entropy(shares: Floats) -> float:
    """Return the entropy of probabilities of any shape [bit]."""
    return -float((shares * np.log2(np.maximum(shares, LEAST_SHARE))).sum())
