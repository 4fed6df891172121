"""The reasons given with every candidate: their weights add up to its confidence."""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fitworth.families.model import Family
from fitworth.matching.answer import CandidateFit, FitAnswer, FitQuery
from fitworth.matching.breakdown import SUREST, odds_bits
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.evidence import NumberEvidence
from fitworth.matching.explain import BEFORE, HELD_BACK
from fitworth.matching.fit import find_fits
from fitworth.matching.numbers import NumberMatch
from fitworth.matching.parameters import FitModel
from fitworth.quantities.quantity import Quantity, Value
from fitworth.vocabulary import Role, Status, Verdict

Filled = Callable[..., Catalogue]
Mm = Callable[..., Quantity]


def bits_of(fit: CandidateFit) -> float:
    """Return what all weights of a candidate add up to [bit]."""
    return math.fsum([one.weight for one in fit.dimensions] + [piece.weight for piece in fit.evidence])


def said_bits(fit: CandidateFit) -> float:
    chance = min(max(fit.fit_confidence, SUREST), 1.0 - SUREST)
    return math.log2(chance / (1.0 - chance))


def fit_of(answer: FitAnswer, part: int) -> CandidateFit:
    return next(fit for fit in answer.fits if fit.part_id == part)


def weights_of(fit: CandidateFit) -> dict[str, float]:
    return {piece.kind: piece.weight for piece in fit.evidence}


sizes = st.sampled_from((16.0, 19.0, 19.1, 22.0)).map(lambda size: Quantity(size, "mm", 0.03, ""))
sheets = st.fixed_dictionaries(
    {},
    optional={
        "throttle_bore": sizes,
        "bowl_depth": sizes,
        "body_length": sizes,
        "throttle_link_hole_radius": sizes,
        "choke_type": st.sampled_from(["manual_lever", "none"]),
        "pattern": st.sampled_from(["a", "b"]),
    },
)
evidence = st.lists(
    st.builds(
        lambda kind, part, alike: NumberEvidence(kind, {part: NumberMatch("708-21B", alike)}),
        st.sampled_from(["marking", "known_number"]),
        st.integers(1, 2),
        st.sampled_from([0.7, 0.9, 1.0]),
    ),
    max_size=2,
)


@settings(
    deadline=None,
    max_examples=25,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(
    parts=st.lists(sheets, min_size=2, max_size=7),
    seen=sheets,
    numbers=evidence,
    engine=st.sampled_from([None, "Harrowmere H206"]),
    asked=st.sets(st.integers(1, 2)),
)
def test_the_weights_of_every_candidate_add_up_to_its_confidence(
    filled: Filled,
    parts: list[dict[str, Value]],
    seen: dict[str, Value],
    numbers: list[NumberEvidence],
    engine: str | None,
    asked: set[int],
) -> None:
    stated = [["Harrowmere H206"], ["Vennor V88"]] + [[]] * (len(parts) - 2)
    query = FitQuery(seen, engine=engine, marking="7?8" if not seen else None, limit=2)
    answer = find_fits(filled(*parts, stated=stated), query, number_evidence=numbers, part_ids=asked)
    for fit in answer.fits:
        kinds = [piece.kind for piece in fit.evidence]
        assert kinds == [BEFORE, *(one.kind for one in numbers), *(["engine"] if engine else []), HELD_BACK]
        assert bits_of(fit) == pytest.approx(said_bits(fit), abs=1e-6)
        assert all(one.weight == 0.0 for one in fit.dimensions if one.status is Status.NOT_MEASURED)


def test_odds_are_bounded_where_a_confidence_is_nothing_or_all() -> None:
    assert odds_bits(np.array([0.0, 0.5, 1.0])) == pytest.approx(np.array([-29.897, 0.0, 29.897]), abs=1e-3)


@pytest.fixture
def shelf(filled: Filled, mm: Mm) -> Catalogue:
    """Return 1 to 3 of one design, 4 to 6 of another, 7 of a third and 8 silent but for its bore."""
    first = {
        "throttle_bore": mm(19.0),
        "bolt_spacing": mm(42.0),
        "bowl_depth": mm(47.0),
        "body_length": mm(62.0),
    }
    second = {
        "throttle_bore": mm(24.0),
        "bolt_spacing": mm(48.0),
        "bowl_depth": mm(40.0),
        "body_length": mm(52.0),
    }
    third = {
        "throttle_bore": mm(16.0),
        "bolt_spacing": mm(38.0),
        "bowl_depth": mm(55.0),
        "body_length": mm(72.0),
    }
    stated = [["Harrowmere H206"], [], [], ["Vennor V88"], [], [], ["Ostler 163"], []]
    return filled(*[first] * 3, *[second] * 3, third, {"throttle_bore": mm(19.0)}, stated=stated)


def test_a_measurement_that_agrees_speaks_for_a_candidate_and_one_that_differs_against_it(
    shelf: Catalogue, mm: Mm
) -> None:
    answer = find_fits(
        shelf, FitQuery({"throttle_bore": mm(19.0), "bolt_spacing": mm(42.0)}), part_ids=[1, 4]
    )
    bits = {part: {one.key: one.weight for one in fit_of(answer, part).dimensions} for part in (1, 4)}
    assert min(bits[1]["throttle_bore"], bits[1]["bolt_spacing"]) > 0.3
    assert max(bits[4]["throttle_bore"], bits[4]["bolt_spacing"]) < -0.3
    assert bits[1]["bowl_depth"] == bits[4]["bowl_depth"] == 0.0


def test_what_is_not_recorded_is_held_back_of_a_candidate_that_is_all_but_sure(
    shelf: Catalogue, mm: Mm
) -> None:
    known = {
        "throttle_bore": mm(19.0),
        "bolt_spacing": mm(42.0),
        "bowl_depth": mm(47.0),
        "body_length": mm(62.0),
    }
    sure = fit_of(find_fits(shelf, FitQuery(known)), 1)
    assert weights_of(sure)[HELD_BACK] < -2.0
    none_held = find_fits(shelf, FitQuery(known), replace(FitModel(), unlisted_misfit=0.0))
    assert weights_of(fit_of(none_held, 1))[HELD_BACK] == pytest.approx(0.0, abs=0.01)


def test_an_engine_speaks_for_the_design_that_is_listed_for_it_and_against_others(
    shelf: Catalogue, mm: Mm
) -> None:
    query = FitQuery({"body_length": mm(62.0)}, engine="Harrowmere H206", limit=8)
    answer = find_fits(shelf, query)
    # 2 names no engine, but it is of the design of 1, which does.
    assert min(weights_of(fit_of(answer, part))["engine"] for part in (1, 2)) > 0.0
    assert weights_of(fit_of(answer, 4))["engine"] < 0.0


def test_a_silent_member_is_told_what_its_design_has(shelf: Catalogue, mm: Mm, filled: Filled) -> None:
    full = {
        "throttle_bore": mm(19.0),
        "bolt_spacing": mm(42.0),
        "bowl_depth": mm(47.0),
        "body_length": mm(62.0),
    }
    partly = {key: value for key, value in full.items() if key != "bowl_depth"}
    far = {
        "throttle_bore": mm(24.0),
        "bolt_spacing": mm(48.0),
        "bowl_depth": mm(40.0),
        "body_length": mm(52.0),
    }
    answer = find_fits(
        filled(*[full] * 4, partly, *[far] * 3), FitQuery({"bowl_depth": mm(47.0), "body_length": mm(62.0)})
    )
    depth = next(one for one in fit_of(answer, 5).dimensions if one.key == "bowl_depth")
    assert (depth.status, depth.listed) == (Status.NOT_LISTED, None)
    assert isinstance(depth.supposed, Quantity)
    assert depth.supposed.value == pytest.approx(47.0, abs=0.05)
    assert depth.probability is not None
    assert depth.probability > 0.9


def test_a_safe_mismatch_on_the_own_sheet_is_shown_though_all_others_of_the_design_agree(
    filled: Filled, mm: Mm
) -> None:
    right = {
        "throttle_bore": mm(19.0),
        "bolt_spacing": mm(42.0),
        "bowl_depth": mm(47.0),
        "throttle_link_hole_radius": mm(21.0),
    }
    catalogue = filled(*[right] * 6, right | {"throttle_link_hole_radius": mm(27.0)})
    wrong = fit_of(find_fits(catalogue, FitQuery(right), part_ids=[7]), 7)
    radius = next(one for one in wrong.dimensions if one.role is Role.SAFE)
    assert (radius.status, radius.consequence) == (Status.DIFFERS, "wrong throttle link hole radius")
    assert (wrong.vetoed, wrong.fit_confidence, wrong.verdict) == (True, 0.0, Verdict.DOES_NOT_FIT)


def test_work_is_told_of_a_family_without_cures_only_where_it_is_asked_for(family: Family, mm: Mm) -> None:
    bare = Catalogue(replace(family, dimensions=family.dimensions[:1], ratios=()))
    bare.upsert([1], [bare.layout.pack({"throttle_bore": mm(19.0)})], ["Quillon"], [()])
    answer = find_fits(
        bare, FitQuery({"throttle_bore": mm(19.0)}), replace(FitModel(), work_worth_telling=0.0)
    )
    assert (answer.fits[0].with_work.items, answer.fits[0].with_work.minutes) == ((), 0.0)
