"""Which allowance holds in a query, and what it allows."""

import math
from collections.abc import Callable

import numpy as np
import pytest

from fitworth.families.model import Family, Interval
from fitworth.matching.allowances import (
    Rule,
    accepts,
    allowed_range,
    bolt_play_mm,
    difference,
    forgive,
    mendable_range,
    rules_of,
    scatter_u,
)
from fitworth.matching.parameters import FitModel
from fitworth.quantities.quantity import Quantity, Value

MODEL = FitModel()
Mm = Callable[..., Quantity]


def rule_of(family: Family, key: str, **measured: Value) -> Rule:
    rules, _ = rules_of(family, measured, MODEL)
    return next(rule for rule in rules if rule.dimension.key == key)


def test_play_is_hole_less_stud(family: Family, mm: Mm) -> None:
    rule = rule_of(family, "bolt_spacing", bolt_hole_diameter=mm(7.1), stud_diameter=mm(6.35))
    assert isinstance(rule.allowance, Interval)
    assert rule.allowance.high == pytest.approx(0.75)
    assert rule.allowance.low == -rule.allowance.high


@pytest.mark.parametrize(
    ("hole_mm", "stud_mm", "play_mm", "said"),
    [
        (6.6, None, 0.6, "M6 is assumed, which leaves a play of 0.60 mm"),
        (None, None, 0.5, "the bolt hole was not measured"),
        (None, 6.0, 0.5, "the bolt hole was not measured"),
        (6.0, 6.4, 0.5, "one is misread"),
        (1.0, None, 0.5, "no standard stud belongs to a hole of 1 mm"),
    ],
    ids=["stud guessed", "nothing measured", "only the stud", "stud thicker than hole", "tiny hole"],
)
def test_what_was_not_measured_of_bolt_and_hole_is_assumed_and_said(
    family: Family, mm: Mm, hole_mm: float | None, stud_mm: float | None, play_mm: float, said: str
) -> None:
    measured: dict[str, Value] = {"bolt_spacing": mm(42.0)}
    measured |= {"bolt_hole_diameter": mm(hole_mm)} if hole_mm else {}
    measured |= {"stud_diameter": mm(stud_mm)} if stud_mm else {}
    allowance = family.by_key["bolt_spacing"].allowance
    found, assumed = bolt_play_mm(allowance, measured, MODEL)  # type: ignore[arg-type]
    assert found == pytest.approx(play_mm)
    assert assumed is not None
    assert said in assumed
    _, warnings = rules_of(family, measured, MODEL)
    assert [said in warning for warning in warnings] == [True]


def test_nothing_is_said_of_play_where_no_spacing_was_measured(family: Family, mm: Mm) -> None:
    assert rules_of(family, {"throttle_bore": mm(19.0)}, MODEL)[1] == ()


def test_a_rubber_elbow_forgives_more_than_a_rigid_base(family: Family) -> None:
    assert rule_of(family, "body_length", air_connection="rubber_elbow").allowance == Interval(-2.0, 2.0)
    assert rule_of(family, "body_length", air_connection="rigid_base").allowance == Interval(-0.5, 0.5)
    assert rule_of(family, "body_length").allowance == Interval(-0.5, 0.5)


@pytest.mark.parametrize(
    ("key", "reference", "low", "high"),
    [
        ("throttle_bore", 19.0, -1.0, 1.0),
        ("bowl_depth", 47.0, -math.inf, 2.0),
        ("pole_radius", 80.0, -1.6, 1.6),
        ("leg_count", 2.0, -0.5, 0.5),
        ("fuel_inlet_hour", 11.0, -1.0, 1.0),
        ("stud_diameter", 6.0, -0.06, 0.06),
    ],
    ids=["interval", "one end", "percent", "equal count", "dial", "equal length"],
)
def test_a_range_of_differences(family: Family, key: str, reference: float, low: float, high: float) -> None:
    found = allowed_range(rule_of(family, key), np.array([reference]), MODEL)
    assert [float(end[0]) for end in found] == pytest.approx([low, high])


def test_an_end_at_zero_leaves_room_for_the_uncertainty_and_no_other_end_moves() -> None:
    u = np.array([0.1])
    low, high = forgive((np.array([-1.0]), np.array([0.0])), u)
    assert (low.tolist(), high.tolist()) == ([-1.0], [0.2])
    low, high = forgive((np.array([-0.05]), np.array([math.inf])), u)
    assert low.tolist() == [pytest.approx(-0.15)]
    assert high.tolist() == [math.inf]
    assert forgive((np.array([-0.1]), np.array([0.3])), u) == (np.array([-0.1]), np.array([0.3]))


@pytest.mark.parametrize(
    ("key", "value", "scatter"),
    [
        ("throttle_bore", 19.0, 0.05),
        ("bowl_depth", 47.0, 0.05),
        ("stud_diameter", 6.0, 0.05),
        ("pole_radius", 8.0, 0.04),
        ("coil_resistance", 5000.0, 250.0),
        ("leg_count", 2.0, 0.05),
    ],
)
def test_makers_hold_a_size_to_a_share_of_its_allowance(
    family: Family, key: str, value: float, scatter: float
) -> None:
    assert scatter_u(rule_of(family, key), np.array([value]), MODEL).tolist() == [pytest.approx(scatter)]


def test_a_dial_is_read_the_shorter_way_round(family: Family) -> None:
    dial, plain = rule_of(family, "fuel_inlet_hour"), rule_of(family, "throttle_bore")
    assert difference(dial, np.array([1.0]), np.array([12.0])).tolist() == [1.0]
    assert difference(plain, np.array([1.0]), np.array([12.0])).tolist() == [-11.0]


def test_a_resistor_plug_does_for_a_plain_one_and_not_the_reverse(family: Family) -> None:
    rule = rule_of(family, "resistor")
    assert accepts(rule, "plain", "resistor")
    assert not accepts(rule, "resistor", "plain")
    assert not accepts(rule_of(family, "choke_type"), "none", "manual_lever")


def test_what_a_cure_bridges(family: Family) -> None:
    assert mendable_range(rule_of(family, "body_length")) == (-6.0, 10.0)
    assert mendable_range(rule_of(family, "throttle_bore")) == (math.inf, -math.inf)
