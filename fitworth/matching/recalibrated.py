"""An answer of the match after what outcomes taught: probabilities, joint belief and verdicts together."""

import math
from dataclasses import replace

import numpy as np
from scipy.special import logit

from fitworth.matching.answer import CandidateFit, Evidence, FitAnswer, Floats
from fitworth.matching.parameters import FitModel
from fitworth.matching.recalibration import Recalibration
from fitworth.matching.verdicts import Standing, are_safe_known, does_sheet_agree, verdict_of

OUTCOMES = "outcomes"


def recalibrated(answer: FitAnswer, learned: Recalibration, model: FitModel) -> FitAnswer:
    """Return an answer with every probability as the outcomes have taught; as it is where there were none.

    The order of the candidates stays, for the map is increasing; a vetoed one stays at 0. Each candidate's
    row of `fits_given` moves so that its product with `weights` is the new confidence: all chances of a fit
    shrink alike, or all chances of a misfit do. `nothing_on_file_fits` goes through the same map, as the
    complement of "something fits", so that it never contradicts the best candidate. The shift is shown as
    evidence of its own, so that the weights of a candidate go on adding up.

    Args:
        answer: of the match with the `taught` parameters.
        learned: of the family.
        model: the limits of the verdicts.
    """
    if learned.is_identity:
        return answer
    said = np.array([fit.fit_confidence for fit in answer.fits])
    confidence = learned.confidence(said)
    something = learned.confidence(np.clip([1.0 - answer.nothing_on_file_fits], 0.0, 1.0))
    return replace(
        answer,
        fits=tuple(
            _recalibrate(fit, new, model) for fit, new in zip(answer.fits, confidence.tolist(), strict=True)
        ),
        nothing_on_file_fits=1.0 - float(something[0]),
        fits_given=_rescale(answer.fits_given, answer.weights, confidence),
    )


def _recalibrate(fit: CandidateFit, confidence: float, model: FitModel) -> CandidateFit:
    if fit.fit_confidence <= 0.0:
        return fit
    with_work = min(fit.with_work.probability * confidence / fit.fit_confidence, confidence)
    standing = Standing(
        fit_confidence=confidence,
        as_it_comes=confidence - with_work,
        vetoed=fit.vetoed,
        safe_known=are_safe_known(fit.dimensions),
        sheet_agrees=does_sheet_agree(fit.dimensions),
    )
    return replace(
        fit,
        fit_confidence=confidence,
        verdict=verdict_of(standing, model),
        with_work=replace(fit.with_work, probability=with_work),
        evidence=(*fit.evidence, *_show_shift(fit.fit_confidence, confidence)),
    )


def _show_shift(said: float, confidence: float) -> tuple[Evidence, ...]:
    """Return what the outcomes add to the odds of the fit [bit]; they speak of every part alike."""
    if said >= 1.0:
        return ()
    return (Evidence(OUTCOMES, 1.0, float(logit(confidence) - logit(said)) / math.log(2.0)),)


def _rescale(fits_given: Floats, weights: Floats, confidence: Floats) -> Floats:
    """Return the rows moved so that their products with the weights are the confidences."""
    said = fits_given @ weights
    less = confidence <= said
    shrunk = (
        fits_given * np.divide(confidence, said, out=np.ones_like(said), where=less & (said > 0.0))[:, None]
    )
    misfits = np.divide(1.0 - confidence, 1.0 - said, out=np.ones_like(said), where=~less & (said < 1.0))
    grown = 1.0 - (1.0 - fits_given) * misfits[:, None]
    return np.clip(np.where(less[:, None], shrunk, grown), 0.0, 1.0)
