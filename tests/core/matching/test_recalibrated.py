"""Answers of the match after what outcomes taught."""

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from fitworth.matching.answer import FitAnswer, FitQuery
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.fit import find_fits
from fitworth.matching.parameters import FitModel
from fitworth.matching.recalibrated import OUTCOMES, recalibrated
from fitworth.matching.recalibration import FitForecast, Recalibration, learn
from fitworth.vocabulary import Grade, Verdict

MODEL = FitModel()
Filled = Callable[..., Catalogue]


def taught(said: float, *, fitted: bool, count: int = 40) -> Recalibration:
    return learn([FitForecast("carburetor", Grade.OEM, said, {}, fitted)] * count)


BOLD, TIMID = taught(0.9, fitted=False, count=12), taught(0.5, fitted=True)


@pytest.fixture
def answer(new_world: Callable[[int], Any]) -> FitAnswer:
    """Return the fits of a removed part among some forty designs."""
    world = new_world(7)
    catalogue = world.fill(40, 4)
    query, _ = world.ask(["throttle_bore", "bolt_spacing", "body_length", "choke_type"])
    return find_fits(catalogue, replace(query, limit=40), MODEL)


def test_without_outcomes_an_answer_stays_as_it_is(answer: FitAnswer) -> None:
    assert recalibrated(answer, learn([]), MODEL) is answer


@pytest.mark.parametrize("learned", [BOLD, TIMID], ids=["bold", "timid"])
def test_probabilities_belief_and_order_stay_together(answer: FitAnswer, learned: Recalibration) -> None:
    found = recalibrated(answer, learned, MODEL)
    said = np.array([fit.fit_confidence for fit in answer.fits])
    now = np.array([fit.fit_confidence for fit in found.fits])
    assert [fit.part_id for fit in found.fits] == [fit.part_id for fit in answer.fits]
    assert now == pytest.approx(learned.confidence(said))
    assert found.fits_given @ found.weights == pytest.approx(now)
    assert np.all((found.fits_given >= 0.0) & (found.fits_given <= 1.0))
    for before, fit in zip(answer.fits, found.fits, strict=True):
        assert 0.0 <= fit.with_work.probability <= fit.fit_confidence
        assert fit.with_work.items == before.with_work.items
    assert 1.0 - found.nothing_on_file_fits >= now.max() - 1e-12
    assert (found.nothing_on_file_fits > answer.nothing_on_file_fits) is (learned is BOLD)


def test_the_shift_is_evidence_of_its_own_and_adds_up(answer: FitAnswer) -> None:
    for before, fit in zip(answer.fits, recalibrated(answer, BOLD, MODEL).fits, strict=True):
        *others, last = fit.evidence
        assert tuple(others) == before.evidence
        assert (last.kind, last.similarity) == (OUTCOMES, 1.0)
        odds = before.fit_confidence / (1.0 - before.fit_confidence) * 2.0**last.weight
        assert odds / (1.0 + odds) == pytest.approx(fit.fit_confidence)
        assert math.isfinite(last.weight)


def test_verdicts_follow_the_new_probabilities(filled: Filled, mm: Callable[..., Any]) -> None:
    sizes = {
        "throttle_bore": mm(19.0),
        "bolt_spacing": mm(42.0),
        "body_length": mm(62.0),
        "throttle_link_hole_radius": mm(21.0),
    }
    others = {key: mm(value.value + 9.0) for key, value in sizes.items()}
    answer = find_fits(filled(sizes, others), FitQuery(sizes), MODEL)
    assert [fit.verdict for fit in answer.fits] == [Verdict.BOLTS_ON, Verdict.DOES_NOT_FIT]
    found = recalibrated(answer, taught(0.9, fitted=False, count=30), MODEL)
    assert [fit.verdict for fit in found.fits] == [Verdict.UNCERTAIN, Verdict.DOES_NOT_FIT]


def test_a_vetoed_part_never_comes_to_fit_and_has_no_shift_to_show(
    filled: Filled, mm: Callable[..., Any]
) -> None:
    sizes = {"throttle_bore": mm(19.0), "throttle_link_hole_radius": mm(21.0)}
    answer = find_fits(
        filled(sizes, sizes | {"throttle_link_hole_radius": mm(27.0)}), FitQuery(sizes), MODEL, part_ids=[2]
    )
    found = recalibrated(answer, TIMID, MODEL)
    assert found.fits[1] == answer.fits[1]
    assert found.fits[1].vetoed
    assert found.fits[1].fit_confidence == 0.0
    assert found.fits_given[1].tolist() == answer.fits_given[1].tolist()


def test_a_certainty_stays_one(answer: FitAnswer) -> None:
    sure = replace(
        answer,
        fits=(replace(answer.fits[0], fit_confidence=1.0),),
        fits_given=np.ones((1, len(answer.weights))),
        nothing_on_file_fits=0.0,
    )
    for learned in (BOLD, TIMID):
        found = recalibrated(sure, learned, MODEL)
        assert found.fits[0].fit_confidence == 1.0
        assert found.fits[0].evidence == answer.fits[0].evidence
        assert found.fits_given @ found.weights == pytest.approx([1.0])
        assert found.nothing_on_file_fits == 0.0
