"""Which further measurement would tell most about what fits.

The hypotheses are sorted by which of the leading candidates would run under each. The gain of measuring a
dimension is the mutual information between that and the reading: the entropy of the reading less the entropy
that is left once the sort of the hypothesis is known, in bits. Readings are told apart as far as the
instrument and the makers' scatter allow. A design that does not list the dimension is expected to read like
its likely kin.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fitworth.matching.allowances import Rule, scatter_u
from fitworth.matching.answer import Floats, Ints, MeasureNext
from fitworth.matching.instruments import limit_component
from fitworth.matching.pairs import normal_below
from fitworth.matching.parameters import FitModel
from fitworth.matching.sides import LEAST_U, Mask, Side

LEADING = 10  # candidates whose fit is asked about
FAINT_VOICE = 1e-3  # how far a design of no kinship at all still tells what to expect
QUIET = 1e-9  # below it, kin say nothing and any listed size is expected
MOST_VOICES = 64  # of the likeliest designs; the others hardly count
LEAST_SHARE = 1e-300  # keeps the logarithm of nothing finite
APART = 2.0  # standard uncertainties by which two sizes must differ to be told apart


@dataclass(frozen=True, slots=True)
class Outlook:
    """What is believed before a further measurement.

    Attributes:
        weights: (n_h,) of the hypotheses on file; the rest is the one "not on file".
        leading: (n_leading, n_h) probability that the leading candidates run under each.
        kin: (n_h, n_h) how far the part of a row runs in place of the part of a column.
    """

    weights: Floats
    leading: Floats
    kin: Floats


def propose(
    rules: tuple[Rule, ...], designs: tuple[Side, ...], outlook: Outlook, model: FitModel
) -> tuple[MeasureNext, ...]:
    """Return the dimensions worth measuring, the most telling first.

    Args:
        rules: the dimensions that count for fit.
        designs: for each, what the parts of the hypotheses list.
        outlook: what is believed so far.
        model: the least gain and how many are wanted.
    """
    open_ones = [
        (rule.dimension, side, _readings(rule, side, model))
        for rule, side in zip(rules, designs, strict=True)
        if rule.measured is None and side.known.any()
    ]
    if not open_ones:
        return ()
    tables = [table for _, _, table in open_ones]
    gains = gains_bits([side.known for _, side, _ in open_ones], tables, outlook)
    worth = sorted(
        (
            MeasureNext(dimension.key, gain, dimension.how)
            for (dimension, _, _), gain in zip(open_ones, gains, strict=True)
            if gain >= model.least_gain_bits
        ),
        key=lambda one: -one.gain_bits,
    )
    return tuple(worth[: model.most_measurements])


def _sorts(outlook: Outlook) -> Ints:
    """Return the sort of each hypothesis by which leading candidates likely run; 0 is "none of them"."""
    runs = outlook.leading[:LEADING] > 0.5  # noqa: PLR2004  # rather than not
    place = np.zeros(runs.shape[1], np.int64)
    for row in runs:
        place = 2 * place + row
    return np.unique(np.append(0, place), return_inverse=True)[1][1:]


def gains_bits(known: Sequence[Mask], readings: Sequence[Floats], outlook: Outlook) -> list[float]:
    """Return the expected information of measuring each of some dimensions [bit].

    Args:
        known: for each dimension, (n_h,) whether the hypothesis's part lists it.
        readings: for each, (n_h, n_readings) how likely each reading is where it is listed.
        outlook: what is believed so far.
    """
    sorts = _sorts(outlook)
    member = (np.arange(int(sorts.max()) + 1)[:, None] == sorts) * outlook.weights
    away = max(0.0, 1.0 - float(outlook.weights.sum()))
    sort_shares = member.sum(axis=1)
    sort_shares[0] += away
    # Small products: larger ones are shared out among threads that then wait for each other.
    voices = (outlook.kin[:MOST_VOICES] + FAINT_VOICE).T * outlook.weights[:MOST_VOICES]
    gains = []
    for listed, outcomes in zip(known, readings, strict=True):
        # A design on no file reads like any listed one; a missing cell is expected to read like its kin.
        anywhere = outcomes[listed].mean(axis=0)
        heard = voices * listed[:MOST_VOICES]
        loud = heard.sum(axis=1, keepdims=True)
        expected = (heard @ outcomes[:MOST_VOICES] + QUIET * anywhere) / (loud + QUIET)
        table = member @ np.where(listed[:, None], outcomes, expected)
        table[0] += away * anywhere
        gains.append(max(0.0, _entropy(table.sum(axis=0)) + _entropy(sort_shares) - _entropy(table)))
    return gains


def _readings(rule: Rule, side: Side, model: FitModel) -> Floats:
    """Return how likely each reading is under each hypothesis, (n_h, n_readings)."""
    if not rule.dimension.kind.is_numeric:
        words, place = np.unique(side.value[side.known], return_inverse=True)
        outcomes = np.zeros((len(side.value), len(words)))
        outcomes[np.flatnonzero(side.known), place] = 1.0
        return _with_errors(outcomes, side.known, model.choice_error_share)
    sizes = np.sort(side.value[side.known])
    middle = float(sizes[len(sizes) // 2])
    instrument = limit_component(rule.dimension.instrument, rule.dimension.kind, middle).standard_uncertainty
    scatter = float(scatter_u(rule, np.array([middle]), model)[0])
    u = np.sqrt(side.u**2 + (instrument**2 + scatter**2 + LEAST_U**2))
    apart = np.flatnonzero(sizes[1:] - sizes[:-1] > APART * float(u[side.known].mean()))
    edges = (sizes[apart] + sizes[apart + 1]) / 2.0
    below = np.ones((len(u), len(edges) + 1))
    below[:, :-1] = normal_below((edges - side.value[:, None]) / u[:, None])
    below[:, 1:] -= below[:, :-1].copy()
    return _with_errors(below, side.known, model.gross_error_share)


def _with_errors(outcomes: Floats, known: Mask, share: float) -> Floats:
    """Let a share of the readings be wrong: like any listed one."""
    return np.asarray(
        (1.0 - share) * outcomes + (share / np.count_nonzero(known)) * outcomes[known].sum(axis=0)
    )


def _entropy(shares: Floats) -> float:
    """Return the entropy of probabilities of any shape [bit]."""
    return -float((shares * np.log2(np.maximum(shares, LEAST_SHARE))).sum())
