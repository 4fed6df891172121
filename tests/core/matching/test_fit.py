"""The whole query: what is refused, and what is answered."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from fitworth.errors import InvalidValueError, NotComputableError
from fitworth.families.model import Family, Interval
from fitworth.matching.answer import NOT_ON_FILE, CandidateFit, ComparedDimension, FitAnswer, FitQuery
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.evidence import NumberEvidence
from fitworth.matching.explain import BEFORE, HELD_BACK
from fitworth.matching.fit import find_fits
from fitworth.matching.numbers import NumberMatch
from fitworth.matching.parameters import FitModel
from fitworth.matching.verdicts import Standing, verdict_of
from fitworth.quantities.quantity import Quantity, Value
from fitworth.vocabulary import Status, Verdict

Filled = Callable[..., Catalogue]
Mm = Callable[..., Quantity]

SIZES = {
    "throttle_bore": 19.0,
    "bolt_spacing": 42.0,
    "bolt_hole_diameter": 6.5,
    "body_length": 62.0,
    "fuel_inlet_diameter": 6.2,
    "throttle_link_hole_radius": 21.0,
    "bowl_depth": 47.0,
}


@pytest.fixture
def tiller(mm: Mm) -> Callable[..., dict[str, Value]]:
    """Return the spec sheet of the tiller's carburetor, with changes; None leaves a dimension out."""

    def sheet(**changes: float | str | None) -> dict[str, Value]:
        listed = SIZES | {"choke_type": "manual_lever"} | changes
        return {k: mm(v) if isinstance(v, float) else v for k, v in listed.items() if v is not None}

    return sheet


Sheet = Callable[..., dict[str, Value]]


@pytest.fixture
def shelf(filled: Filled, tiller: Sheet, mm: Mm) -> Catalogue:
    """Return 1 and 2 right, 3 with a wrong governor, 4 that fits with work, 5 too large, and strangers."""
    strangers = [
        tiller(
            throttle_bore=13.0 + place,
            bolt_spacing=34.0 + 2.5 * place,
            body_length=45.0 + 4.0 * place,
            throttle_link_hole_radius=15.0 + 2.0 * place,
            fuel_inlet_diameter=4.5 + 0.5 * place,
            bowl_depth=36.0 + 2.0 * place,
            choke_type="manual_cable",
        )
        for place in (0, 1, 2, 8, 9, 10, 11, 12)
    ]
    return filled(
        tiller(),
        tiller(bowl_depth=None, fuel_inlet_diameter=None),
        tiller(throttle_link_hole_radius=27.0),
        tiller(body_length=56.5, fuel_inlet_diameter=7.9),
        tiller(throttle_bore=22.0, body_length=66.0),
        *strangers,
        stated=[["Harrowmere H206"]] * 2
        + [["Harrowmere H206"], ["Vennor V206"], ["Harrowmere H270"]]
        + [[]] * 8,
    )


def fit_of(answer: FitAnswer, part: int) -> CandidateFit:
    return next(fit for fit in answer.fits if fit.part_id == part)


def compared(fit: CandidateFit, key: str) -> ComparedDimension:
    return next(dimension for dimension in fit.dimensions if dimension.key == key)


def test_a_catalogue_without_parts_is_no_answer(filled: Filled, mm: Mm) -> None:
    with pytest.raises(
        NotComputableError, match="No part of the family Carburetor is on file: enter or import"
    ):
        find_fits(filled(), FitQuery({"throttle_bore": mm(19.0)}))


def test_nothing_measured_is_no_answer(shelf: Catalogue) -> None:
    with pytest.raises(
        NotComputableError, match="Nothing was measured: measure Throttle bore, Bolt spacing"
    ) as refused:
        find_fits(shelf, FitQuery({}))
    assert refused.value.faults[0].where == "/measured"


def test_notes_alone_are_no_answer(shelf: Catalogue) -> None:
    ohms = Quantity(5000.0, "ohm", 50.0, "5 kohm")
    with pytest.raises(NotComputableError, match="says nothing of fit"):
        find_fits(shelf, FitQuery({"coil_resistance": ohms, "air_connection": "rigid_base"}))


def test_every_fault_of_a_query_is_told_at_once(shelf: Catalogue, mm: Mm) -> None:
    with pytest.raises(InvalidValueError) as refused:
        find_fits(
            shelf,
            FitQuery({"colour": "red", "choke_type": mm(1.0), "throttle_bore": mm(19)}),
            part_ids=[1, 99],
        )
    assert [fault.where for fault in refused.value.faults] == [
        "/measured/colour",
        "/measured/choke_type",
        "/part_ids/1",
    ]


@pytest.mark.parametrize(
    "known", [{"marking": "7?8"}, {"known_number": "708"}, {"engine": "Harrowmere H206"}]
)
def test_a_number_or_an_engine_is_enough_to_ask(shelf: Catalogue, known: dict[str, str]) -> None:
    answer = find_fits(shelf, FitQuery({}, **known))  # type: ignore[arg-type]
    assert answer.fits


def test_the_right_part_bolts_on_once_all_safe_dimensions_are_measured(
    shelf: Catalogue, tiller: Sheet
) -> None:
    answer = find_fits(shelf, FitQuery(tiller()))
    # 2 lists less, and nothing that differs; so it may be of the same design or not, and runs as likely.
    assert {fit.part_id for fit in answer.fits[:2]} == {1, 2}
    best = fit_of(answer, 1)
    assert (best.verdict, best.vetoed) == (Verdict.BOLTS_ON, False)
    assert best.fit_confidence > 0.85
    assert best.with_work.probability < 0.06
    bore = compared(best, "throttle_bore")
    assert (bore.difference, bore.allowance, bore.status) == (0.0, (-1.0, 1.0), Status.AGREES)
    assert bore.consequence is None
    assert bore.weight > 0.5


def test_an_unmeasured_safe_dimension_caps_the_verdict(filled: Filled, tiller: Sheet) -> None:
    catalogue = filled(*[tiller()] * 3, tiller(throttle_bore=24.0, bolt_spacing=48.0, bowl_depth=52.0))
    best = find_fits(catalogue, FitQuery(tiller(throttle_link_hole_radius=None))).fits[0]
    assert best.fit_confidence > 0.8
    assert best.verdict is Verdict.UNCERTAIN
    assert compared(best, "throttle_link_hole_radius").status is Status.NOT_MEASURED


def test_a_safe_mismatch_removes_a_candidate_whatever_else_agrees(shelf: Catalogue, tiller: Sheet) -> None:
    answer = find_fits(shelf, FitQuery(tiller(), limit=20))
    wrong = fit_of(answer, 3)
    assert (wrong.verdict, wrong.vetoed, wrong.fit_confidence) == (Verdict.DOES_NOT_FIT, True, 0.0)
    radius = compared(wrong, "throttle_link_hole_radius")
    assert (radius.status, radius.consequence) == (Status.DIFFERS, "wrong throttle link hole radius")
    places = [fit.vetoed for fit in answer.fits]
    assert places == sorted(places)


def test_a_curable_mismatch_goes_on_after_its_work(shelf: Catalogue, tiller: Sheet) -> None:
    spacer = fit_of(find_fits(shelf, FitQuery(tiller()), part_ids=[4]), 4)
    assert spacer.with_work.probability <= spacer.fit_confidence
    assert set(spacer.with_work.items) == {"spacer", "fuel_hose"}
    assert (spacer.with_work.minutes, spacer.with_work.cost) == (30.0, 7.0)
    assert spacer.with_work.probability > 0.7 * spacer.fit_confidence


def test_a_part_too_large_by_its_own_sheet_is_uncertain_though_its_design_would_do(
    shelf: Catalogue, tiller: Sheet
) -> None:
    answer = find_fits(shelf, FitQuery(tiller()), part_ids=[5, 13])
    large = fit_of(answer, 5)
    assert large.fit_confidence < 0.9 * fit_of(answer, 4).fit_confidence
    assert large.verdict not in {Verdict.BOLTS_ON, Verdict.FITS_WITH_WORK}
    assert not large.vetoed
    assert compared(large, "throttle_bore").difference == 3.0
    stranger = fit_of(answer, 13)
    assert stranger.vetoed or stranger.verdict is Verdict.DOES_NOT_FIT


def test_a_jet_as_measured_agrees_though_its_allowance_is_tiny(family: Family, mm: Mm) -> None:
    jet = replace(family.by_key["throttle_bore"], key="main_jet", allowance=Interval(-0.02, 0.02))
    catalogue = Catalogue(replace(family, dimensions=(jet,), ratios=()))
    rows = [catalogue.layout.pack({"main_jet": mm(size, 0.003)}) for size in (0.70, 0.66)]
    catalogue.upsert([1, 2], rows, ["Quillon"] * 2, [()] * 2)
    right, lean = find_fits(catalogue, FitQuery({"main_jet": mm(0.70, 0.003)})).fits
    assert compared(right, "main_jet").status is Status.AGREES
    assert compared(lean, "main_jet").status is Status.DIFFERS


def test_a_key_may_be_shorter_and_an_equal_one_agrees(family: Family, mm: Mm) -> None:
    key = replace(family.by_key["throttle_bore"], key="length", allowance=Interval(-1.0, 0.0))
    catalogue = Catalogue(replace(family, dimensions=(key,), ratios=()))
    rows = [catalogue.layout.pack({"length": mm(size)}) for size in (16.0, 15.4, 16.6)]
    catalogue.upsert([1, 2, 3], rows, ["Ostler"] * 3, [()] * 3)
    answer = find_fits(catalogue, FitQuery({"length": mm(16.0)}))
    statuses = [compared(fit_of(answer, part), "length").status for part in (1, 2, 3)]
    assert statuses == [Status.AGREES, Status.AGREES, Status.DIFFERS]


def test_parts_asked_for_are_shown_beyond_the_limit(shelf: Catalogue, tiller: Sheet) -> None:
    answer = find_fits(shelf, FitQuery(tiller(), limit=1), part_ids=[5, 3, 5])
    assert answer.fits[0].part_id in {1, 2}
    assert [fit.part_id for fit in answer.fits[1:]] == [5, 3]


def test_the_hypotheses_add_up_and_carry_the_confidence(shelf: Catalogue, tiller: Sheet) -> None:
    answer = find_fits(shelf, FitQuery(tiller(bowl_depth=None), limit=20))
    assert answer.hypotheses[0] == NOT_ON_FILE
    assert 1 < len(answer.hypotheses) == len(answer.weights) <= len(shelf) + 1
    assert answer.weights.sum() == pytest.approx(1.0)
    assert answer.fits_given.shape == (len(answer.fits), len(answer.weights))
    assert [fit.fit_confidence for fit in answer.fits] == pytest.approx(
        (answer.fits_given @ answer.weights).tolist()
    )
    assert ((answer.fits_given >= 0.0) & (answer.fits_given <= 1.0)).all()


def test_a_part_like_nothing_on_file_is_said_to_be_so(shelf: Catalogue, tiller: Sheet) -> None:
    known = find_fits(shelf, FitQuery(tiller())).nothing_on_file_fits
    odd = tiller(throttle_bore=31.0, bolt_spacing=80.0, body_length=120.0, bowl_depth=90.0)
    unknown = find_fits(shelf, FitQuery(odd)).nothing_on_file_fits
    assert known < 0.15
    assert unknown > 0.8


def test_a_worn_marking_raises_the_part_that_bears_the_number(shelf: Catalogue, mm: Mm) -> None:
    query = FitQuery({"throttle_bore": mm(19.0)}, marking="7?8-21B")
    without = find_fits(shelf, query, part_ids=[2])
    marked = NumberEvidence("marking", {2: NumberMatch("708-21B", 0.97)})
    with_it = find_fits(shelf, query, number_evidence=[marked], part_ids=[2])
    assert fit_of(with_it, 2).fit_confidence > fit_of(without, 2).fit_confidence
    found = {piece.kind: piece for piece in fit_of(with_it, 2).evidence}
    assert list(found) == [BEFORE, "marking", HELD_BACK]
    assert found["marking"].similarity == pytest.approx(0.97)
    assert found["marking"].weight > 1.0
    assert [piece.kind for piece in fit_of(without, 2).evidence] == [BEFORE, HELD_BACK]


def test_a_number_read_in_full_leaves_less_to_what_no_dimension_lists(
    shelf: Catalogue, tiller: Sheet
) -> None:
    query = FitQuery(tiller())
    named = NumberEvidence("known_number", {1: NumberMatch("708-21B", 1.0)})
    assert find_fits(shelf, query).fits[0].fit_confidence < 0.94
    assert find_fits(shelf, query, number_evidence=[named]).fits[0].fit_confidence > 0.94


def test_a_stated_engine_is_evidence(filled: Filled, mm: Mm) -> None:
    stated = [["Harrowmere H206"], ["Vennor V88"], []] + [[f"Ostler {place}63"] for place in range(1, 8)]
    bores = [15.0 + 3.0 * place for place in range(10)]
    catalogue = filled(
        *({"bolt_spacing": mm(42.0), "throttle_bore": mm(bore)} for bore in bores), stated=stated
    )
    query = FitQuery({"bolt_spacing": mm(42.0)}, limit=20)
    plain = find_fits(catalogue, query)
    named = find_fits(catalogue, replace(query, engine="Harrowmere H206"))
    before, after = (
        dict(zip(answer.hypotheses.tolist(), answer.weights.tolist(), strict=True))
        for answer in (plain, named)
    )
    assert before[1] == pytest.approx(before[2], rel=0.01)
    assert after[1] > 3.0 * after[3] > 3.0 * after[2]
    engine = [
        next(piece.weight for piece in fit_of(named, part).evidence if piece.kind == "engine")
        for part in (1, 2, 3)
    ]
    assert engine[0] > 1.0 > engine[2] > engine[1]
    assert fit_of(named, 1).fit_confidence > fit_of(plain, 1).fit_confidence


def test_what_is_worth_measuring_tells_two_governors_apart(filled: Filled, tiller: Sheet) -> None:
    catalogue = filled(*[tiller()] * 3, *[tiller(throttle_link_hole_radius=27.0)] * 3)
    answer = find_fits(catalogue, FitQuery(tiller(throttle_link_hole_radius=None, body_length=None)))
    governor = answer.measure_next[0]
    assert governor.key == "throttle_link_hole_radius"
    assert governor.gain_bits > 0.5
    assert governor.raises_best > 0.2
    assert governor.how == "measure the throttle link hole radius"
    assert not answer.enough_measured
    gains = [step.gain_bits for step in answer.measure_next]
    assert gains == sorted(gains, reverse=True)


def test_nothing_is_worth_measuring_where_all_was_measured(filled: Filled, tiller: Sheet) -> None:
    assert find_fits(filled(tiller()), FitQuery(tiller())).measure_next == ()


def test_a_proportion_that_hardly_exists_is_asked_about(shelf: Catalogue, mm: Mm) -> None:
    slip = find_fits(shelf, FitQuery({"throttle_bore": mm(19.0), "body_length": mm(2.44)}))
    odd = find_fits(shelf, FitQuery({"throttle_bore": mm(19.0), "body_length": mm(90.0)}))
    fine = find_fits(shelf, FitQuery({"throttle_bore": mm(19.0), "body_length": mm(62.0)}))
    assert "Was one read in inches and taken for millimetres?" in slip.warnings[0]
    assert "Measure both again." in odd.warnings[0]
    assert fine.warnings == ()
    nought = find_fits(shelf, FitQuery({"throttle_bore": mm(0.0), "body_length": mm(62.0)}))
    assert not any("usual is" in warning for warning in nought.warnings)


def test_an_assumed_stud_is_told(shelf: Catalogue, tiller: Sheet) -> None:
    assert any("M6 is assumed" in warning for warning in find_fits(shelf, FitQuery(tiller())).warnings)


def test_notes_are_shown_and_never_counted(shelf: Catalogue, filled: Filled, mm: Mm) -> None:
    ohms = [Quantity(value, "ohm", 20.0, "") for value in (5000.0, 9000.0)]
    catalogue = filled(*({"throttle_bore": mm(19.0), "coil_resistance": value} for value in ohms))
    answer = find_fits(catalogue, FitQuery({"throttle_bore": mm(19.0), "coil_resistance": ohms[0]}))
    first, second = (fit_of(answer, part) for part in (1, 2))
    assert first.fit_confidence == pytest.approx(second.fit_confidence)
    notes = [compared(fit, "coil_resistance") for fit in (first, second)]
    assert [note.status for note in notes] == [Status.AGREES, Status.DIFFERS]
    assert [note.probability for note in notes] == [None, None]
    assert [note.weight for note in notes] == [0.0, 0.0]
    assert notes[0].allowance == (-1250.0, 1250.0)
    stud = compared(
        find_fits(shelf, FitQuery({"throttle_bore": mm(19.0), "stud_diameter": mm(6.0)})).fits[0],
        "stud_diameter",
    )
    assert (stud.allowance, stud.status, stud.difference) == (None, Status.NOT_LISTED, None)


def test_another_makers_scale_counts_as_not_listed(filled: Filled) -> None:
    five = Quantity(5.0, "1", 0.0, "5")
    catalogue = filled({"heat_range": five}, {"heat_range": five}, makers=["Quillon", "Vennor"])
    answer = find_fits(catalogue, FitQuery({"heat_range": five}, maker="Vennor"))
    assert compared(fit_of(answer, 1), "heat_range").status is Status.NOT_LISTED
    assert compared(fit_of(answer, 2), "heat_range").status is Status.AGREES


def test_a_text_and_a_set_are_compared(filled: Filled) -> None:
    catalogue = filled(
        {"pattern": "a", "ports": frozenset({"vent"})}, {"pattern": "b", "ports": frozenset({"vent"})}
    )
    answer = find_fits(catalogue, FitQuery({"pattern": "a", "ports": frozenset({"vent"})}))
    assert answer.fits[0].part_id == 1
    assert compared(fit_of(answer, 2), "pattern").status is Status.DIFFERS
    assert compared(fit_of(answer, 2), "ports").status is Status.AGREES


@pytest.mark.parametrize(
    ("standing", "verdict"),
    [
        (Standing(0.9, 0.9, vetoed=True, safe_known=True), Verdict.DOES_NOT_FIT),
        (Standing(0.049, 0.049, vetoed=False, safe_known=True), Verdict.DOES_NOT_FIT),
        (Standing(0.9, 0.9, vetoed=False, safe_known=False), Verdict.UNCERTAIN),
        (Standing(0.9, 0.80, vetoed=False, safe_known=True), Verdict.BOLTS_ON),
        (Standing(0.80, 0.79, vetoed=False, safe_known=True), Verdict.FITS_WITH_WORK),
        (Standing(0.79, 0.1, vetoed=False, safe_known=True), Verdict.UNCERTAIN),
    ],
)
def test_a_verdict_follows_the_table(standing: Standing, verdict: Verdict) -> None:
    assert verdict_of(standing, FitModel()) is verdict


def test_a_family_of_one_dimension_is_answered_without_cures(family: Family, mm: Mm) -> None:
    bare = replace(family, dimensions=family.dimensions[:1], ratios=())
    catalogue = Catalogue(bare)
    catalogue.upsert(
        [1, 2], [catalogue.layout.pack({"throttle_bore": mm(x)}) for x in (19.0, 24.0)], ["Q"] * 2, [()] * 2
    )
    answer = find_fits(catalogue, FitQuery({"throttle_bore": mm(19.0)}))
    assert answer.fits[0].part_id == 1
    assert answer.fits[0].with_work.probability == 0.0
    assert np.isfinite(answer.fits_given).all()
