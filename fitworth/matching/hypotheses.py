"""The hypotheses of one query: whose design the removed part is, with the weight of each.

Hypothesis j says "it is of part j's design", hypothesis 0 "its design is not on file". Their weights are
prior times likelihoods. A design on no file is rarely like none: it is a relative of some part that differs
in a share of its dimensions, so its likelihood is the average over all parts of the product over measured
dimensions of (1 - differs) * ratio of that part + differs * ratio of the wide density.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fitworth.matching.answer import Floats, Ints
from fitworth.matching.catalogue import Singles
from fitworth.matching.evidence import EvidenceRatio
from fitworth.matching.likelihood import DimensionLikelihood
from fitworth.matching.parameters import FitModel


@dataclass(frozen=True, slots=True)
class Hypotheses:
    """The likely hypotheses, heaviest first, and how heavy "not on file" is.

    Attributes:
        rows: (n_h,) rows of the catalogue.
        weights: (n_h,) probabilities; those of sampled rows carry the parts that they stand for.
        own_weights: (n_h,) probabilities of the rows themselves.
        not_on_file: probability; with `weights` it adds up to 1.
    """

    rows: Ints
    weights: Floats
    own_weights: Floats
    not_on_file: float


def weigh(
    count: int, likelihoods: Sequence[DimensionLikelihood], evidence: Sequence[EvidenceRatio], model: FitModel
) -> Hypotheses:
    """Return the hypotheses of a query.

    Args:
        count: how many parts are on file, at least 1.
        likelihoods: of the measured dimensions.
        evidence: numbers and engines.
        model: the prior, and how many hypotheses are kept.
    """
    on_file, relatives = np.zeros(count, np.float32), np.zeros(count, np.float32)
    differs = np.float32(model.relative_differs)
    for likelihood in likelihoods:
        on_file += np.log(likelihood.ratio)
        relatives += np.log(
            likelihood.ratio * (np.float32(1.0) - differs) + differs * np.float32(likelihood.elsewhere)
        )
    for piece in evidence:
        on_file += np.log(piece.ratio)
    top = max(float(on_file.max()), float(relatives.max()))
    weights = np.exp(on_file - np.float32(top)) * np.float32((1.0 - model.not_on_file) / count)
    away = model.not_on_file * float(np.exp(relatives - np.float32(top)).mean(dtype=np.float64))
    whole = float(weights.sum(dtype=np.float64)) + away
    return _shorten(weights / np.float32(whole), away / whole, model)


def _shorten(own: Singles, away: float, model: FitModel) -> Hypotheses:
    """Keep the heaviest one by one; let an even sample of the others, by weight, stand for the rest."""
    if len(own) <= model.likely_hypotheses + model.sampled_hypotheses:
        rows = np.argsort(-own, kind="stable")
        weights = own[rows].astype(np.float64)
        weights *= (1.0 - away) / weights.sum()
        return Hypotheses(rows, weights, weights, away)
    likely = np.argpartition(-own, model.likely_hypotheses)[: model.likely_hypotheses]
    rest = own.copy()
    rest[likely] = 0.0
    reached = np.cumsum(rest, dtype=np.float64)
    points = (np.arange(model.sampled_hypotheses) + 0.5) / model.sampled_hypotheses * reached[-1]
    sampled, times = np.unique(np.searchsorted(reached, points), return_counts=True)
    if reached[-1] == 0.0:  # nothing is left for them to stand for
        sampled, times = sampled[:0], times[:0]
    rows = np.concatenate((likely, sampled))
    weights = np.concatenate((own[likely].astype(np.float64), times * reached[-1] / model.sampled_hypotheses))
    weights *= (1.0 - away) / weights.sum()
    order = np.lexsort((rows, -weights))
    return Hypotheses(rows[order], weights[order], own[rows[order]].astype(np.float64), away)
