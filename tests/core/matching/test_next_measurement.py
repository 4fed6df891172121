"""How much a further measurement would tell, and whether it may still change which part to take."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from fitworth.matching.answer import FitQuery, MeasureNext
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.fit import find_fits
from fitworth.matching.groups.centres import Centres
from fitworth.matching.groups.estimate import groups_of
from fitworth.matching.groups.membership import Groups
from fitworth.matching.next_measurement import Outlook, best_rises, gain_bits, readings_under
from fitworth.matching.parameters import FitModel
from fitworth.quantities.quantity import Quantity

MODEL = FitModel()
Filled = Callable[..., Catalogue]
Mm = Callable[..., Quantity]


def outlook(weights: list[float], leading: list[list[float]]) -> Outlook:
    return Outlook(np.array(weights), np.array(leading))


EITHER = outlook([0.5, 0.5], [[1.0, 0.0], [0.0, 1.0]])


def test_a_reading_that_splits_two_equal_sorts_tells_one_bit() -> None:
    assert gain_bits(np.eye(2), np.array([0, 1]), EITHER) == pytest.approx(1.0)


def test_a_reading_that_splits_what_fits_alike_tells_nothing() -> None:
    assert gain_bits(np.eye(2), np.array([0, 0]), EITHER) == pytest.approx(0.0, abs=1e-9)


def test_a_reading_that_is_the_same_for_all_tells_nothing() -> None:
    assert gain_bits(np.ones((2, 1)), np.array([0, 1]), EITHER) == pytest.approx(0.0, abs=1e-9)


def test_a_reading_that_errs_now_and_then_tells_what_a_noisy_channel_does() -> None:
    # 1 - H(0.1), the capacity of a binary symmetric channel (C. E. Shannon, 1948; from memory).
    noisy = np.array([[0.9, 0.1], [0.1, 0.9]])
    entropy = -(0.9 * np.log2(0.9) + 0.1 * np.log2(0.1))
    assert gain_bits(noisy, np.array([0, 1]), EITHER) == pytest.approx(1.0 - entropy)


def test_a_reading_that_settles_which_of_two_to_take_raises_the_best_by_half() -> None:
    assert best_rises(np.eye(2), EITHER) == pytest.approx(0.5)


def test_a_reading_raises_nothing_where_one_candidate_is_best_whatever_is_read() -> None:
    settled = outlook([0.5, 0.5], [[1.0, 0.9], [0.5, 0.2]])
    assert best_rises(np.eye(2), settled) == pytest.approx(0.0, abs=1e-12)
    assert best_rises(np.ones((2, 1)), EITHER) == pytest.approx(0.0, abs=1e-12)


@pytest.fixture
def shelf(filled: Filled, mm: Mm) -> Catalogue:
    """Return three parts of each of two designs that only the bore and the choke tell apart."""
    same = {
        "bolt_spacing": mm(42.0),
        "bowl_depth": mm(47.0),
        "pole_radius": mm(89.0),
        "ports": frozenset({"vent"}),
    }
    parts = [
        same | {"throttle_bore": mm(bore), "choke_type": choke}
        for bore, choke in ((19.0, "manual_lever"), (24.0, "none"))
        for _ in range(3)
    ]
    return filled(*parts)


@pytest.fixture
def groups(shelf: Catalogue) -> Groups:
    return groups_of(shelf, MODEL)


def table_of(groups: Groups, key: str, designs: Centres | None = None) -> np.ndarray | None:
    dim = next(place for place, rule in enumerate(groups.rules) if rule.dimension.key == key)
    known = groups.partition.filled if designs is None else designs
    return readings_under(groups.rules[dim], dim, known, groups.partition.learned, MODEL)


@pytest.mark.parametrize("key", ["throttle_bore", "bolt_spacing", "choke_type", "ports"])
def test_readings_under_each_hypothesis_add_up_to_one(groups: Groups, key: str) -> None:
    table = table_of(groups, key)
    assert table is not None
    assert len(table) == 1 + len(groups.partition.size)
    assert table.sum(axis=1) == pytest.approx(np.ones(len(table)))
    assert (table >= 0.0).all()


@pytest.mark.parametrize("key", ["throttle_bore", "choke_type"])
def test_two_designs_that_differ_read_differently_but_for_the_errors(groups: Groups, key: str) -> None:
    table = table_of(groups, key)
    assert table is not None
    assert table.shape[1] == 2
    assert table[1:].max(axis=1) == pytest.approx(np.full(len(table) - 1, 0.99), abs=0.015)
    assert set(table[1:].argmax(axis=1).tolist()) == {0, 1}


def test_what_no_caliper_tells_apart_is_one_reading(groups: Groups) -> None:
    table = table_of(groups, "bolt_spacing")
    assert table is not None
    assert table.shape[1] == 1


def test_what_no_hypothesis_knows_is_not_read(groups: Groups) -> None:
    known = groups.partition.filled
    silent = Centres(known.value, known.variance, np.zeros_like(known.share))
    assert table_of(groups, "throttle_bore", silent) is None


def steps_of(
    catalogue: Catalogue, measured: dict[str, object], model: FitModel = MODEL
) -> dict[str, MeasureNext]:
    answer = find_fits(catalogue, FitQuery(measured), model)  # type: ignore[arg-type]
    return {step.key: step for step in answer.measure_next}


def test_only_dimensions_that_tell_are_proposed_the_most_telling_first(shelf: Catalogue, mm: Mm) -> None:
    steps = steps_of(shelf, {"bolt_spacing": mm(42.0)})
    assert set(steps) == {"throttle_bore", "choke_type"}
    gains = [step.gain_bits for step in steps.values()]
    assert gains == sorted(gains, reverse=True)
    assert gains[0] > 0.5
    assert steps["throttle_bore"].how == "measure the throttle bore"


def test_no_more_are_proposed_than_asked_for(shelf: Catalogue, mm: Mm) -> None:
    few = steps_of(shelf, {"bolt_spacing": mm(42.0)}, replace(MODEL, most_measurements=1))
    assert len(few) == 1


def test_measuring_pays_until_the_designs_are_told_apart(shelf: Catalogue, mm: Mm) -> None:
    open_still = find_fits(shelf, FitQuery({"bolt_spacing": mm(42.0)}))
    assert not open_still.enough_measured
    assert max(step.raises_best for step in open_still.measure_next) > 0.2
    settled = find_fits(
        shelf, FitQuery({"bolt_spacing": mm(42.0), "throttle_bore": mm(19.0), "choke_type": "manual_lever"})
    )
    assert settled.enough_measured
    assert all(step.raises_best < MODEL.least_rise for step in settled.measure_next)


def test_enough_is_measured_where_all_on_file_is_one_design(filled: Filled, mm: Mm) -> None:
    answer = find_fits(
        filled(*[{"bolt_spacing": mm(42.0), "throttle_bore": mm(19.0)}] * 3),
        FitQuery({"bolt_spacing": mm(42.0)}),
    )
    assert answer.enough_measured


def test_a_higher_demand_calls_it_enough_earlier(shelf: Catalogue, mm: Mm) -> None:
    query = FitQuery({"bolt_spacing": mm(42.0)})
    assert find_fits(shelf, query, replace(MODEL, least_rise=1.0)).enough_measured


def test_it_is_never_enough_before_a_matter_of_safety_was_measured(filled: Filled, mm: Mm) -> None:
    part = {"throttle_bore": mm(19.0), "throttle_link_hole_radius": mm(21.0)}
    catalogue = filled(*[part] * 4)
    assert not find_fits(catalogue, FitQuery({"throttle_bore": mm(19.0)})).enough_measured
    assert find_fits(catalogue, FitQuery(part)).enough_measured
