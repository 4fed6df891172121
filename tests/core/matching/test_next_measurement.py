"""How much a further measurement would tell."""

import numpy as np
import pytest

from fitworth.families.model import Family
from fitworth.matching.allowances import rules_of
from fitworth.matching.next_measurement import Outlook, gains_bits, propose
from fitworth.matching.parameters import FitModel
from fitworth.matching.sides import Side

MODEL = FitModel()
EVEN = np.array([0.5, 0.5])


def outlook(weights: list[float], leading: list[list[float]], kin: float = 0.0) -> Outlook:
    n = len(weights)
    table = np.full((n, n), kin)
    np.fill_diagonal(table, 1.0)
    return Outlook(np.array(weights), np.array(leading), table)


def test_a_reading_that_splits_two_equal_sorts_tells_one_bit() -> None:
    believed = outlook([0.5, 0.5], [[1.0, 0.0], [0.0, 1.0]])
    assert gains_bits([np.array([True, True])], [np.eye(2)], believed) == [pytest.approx(1.0)]


def test_a_reading_that_splits_what_fits_alike_tells_nothing() -> None:
    believed = outlook([0.5, 0.5], [[1.0, 1.0]])
    assert gains_bits([np.array([True, True])], [np.eye(2)], believed) == [pytest.approx(0.0, abs=1e-9)]


def test_a_reading_that_is_the_same_for_all_tells_nothing() -> None:
    believed = outlook([0.5, 0.5], [[1.0, 0.0]])
    assert gains_bits([np.array([True, True])], [np.ones((2, 1))], believed) == [pytest.approx(0.0, abs=1e-9)]


def test_a_design_with_a_hole_reads_like_its_kin() -> None:
    three = [[1.0, 0.0, 1.0], [0.0, 1.0, 0.0]]
    kin = Outlook(
        np.array([0.25, 0.5, 0.25]), np.array(three), np.array([[1, 0, 1], [0, 1, 0], [1, 0, 1]], float)
    )
    known, readings = np.array([True, True, False]), np.array([[1.0, 0.0], [0.0, 1.0], [0.0, 0.0]])
    assert gains_bits([known], [readings], kin)[0] == pytest.approx(1.0, abs=0.02)


def test_only_dimensions_that_pay_are_proposed_the_best_first(family: Family) -> None:
    rules = [rule for rule in rules_of(family, {}, MODEL)[0] if rule.dimension.counts_for_fit]
    keys = [rule.dimension.key for rule in rules]
    makers = np.zeros(2, np.int32)

    def side(values: tuple[float, float], known: tuple[bool, bool]) -> Side:
        return Side(np.array(values), np.full(2, 0.03), np.array(known), makers)

    told = {
        "throttle_bore": side((19.0, 24.0), (True, True)),
        "bowl_depth": side((47.0, 47.05), (True, True)),
    }
    told["choke_type"] = side((0.0, 1.0), (True, True))
    blank = side((0.0, 0.0), (False, False))
    found = propose(
        tuple(rules), tuple(told.get(key, blank) for key in keys), outlook([0.5, 0.4], [[1.0, 0.0]]), MODEL
    )
    assert {step.key for step in found} == {"throttle_bore", "choke_type"}
    assert [step.gain_bits for step in found] == sorted((step.gain_bits for step in found), reverse=True)


def test_nothing_listed_leaves_nothing_to_propose(family: Family) -> None:
    rules = rules_of(family, {}, MODEL)[0][:1]
    blank = Side(np.zeros(2), np.zeros(2), np.zeros(2, np.bool_), np.zeros(2, np.int32))
    assert propose(rules, (blank,), outlook([0.5, 0.4], [[1.0, 0.0]]), MODEL) == ()
