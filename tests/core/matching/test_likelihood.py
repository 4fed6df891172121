"""What one measurement says of the parts on file."""

from collections.abc import Callable

import numpy as np
import pytest

from fitworth.families.model import Family
from fitworth.matching.allowances import Rule, rules_of
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.hypotheses import Hypotheses, weigh
from fitworth.matching.likelihood import (
    LEAST_DENSITY,
    DimensionLikelihood,
    Usual,
    Wide,
    number_agreement,
    number_likelihood,
    wide_of,
    word_agreement,
    word_likelihood,
)
from fitworth.matching.parameters import FitModel
from fitworth.matching.sides import listed_side
from fitworth.quantities.quantity import Quantity, Value

MODEL = FitModel()
Filled = Callable[..., Catalogue]
Mm = Callable[..., Quantity]


def rule_of(family: Family, key: str, value: Value) -> Rule:
    return next(rule for rule in rules_of(family, {key: value}, MODEL)[0] if rule.dimension.key == key)


def test_a_hole_in_the_catalogue_is_neither_for_nor_against(filled: Filled, family: Family, mm: Mm) -> None:
    catalogue = filled({"throttle_bore": mm(19.0)}, {}, {"throttle_bore": mm(24.0)})
    found = number_likelihood(catalogue, rule_of(family, "throttle_bore", mm(19.02)), mm(19.02), None, MODEL)
    near, hole, far = found.ratio
    assert near > hole == 1.0 > far > 0.0
    assert (near + far) / 2 == pytest.approx(1.0, rel=1e-5)  # the catalogue's average is the yardstick


def test_within_the_allowance_is_likelier_than_beyond_it(filled: Filled, family: Family, mm: Mm) -> None:
    catalogue = filled(*({"throttle_bore": mm(bore)} for bore in (19.0, 19.8, 20.3)))
    ratio = number_likelihood(
        catalogue, rule_of(family, "throttle_bore", mm(19.0)), mm(19.0), None, MODEL
    ).ratio
    assert ratio[0] > ratio[1] > ratio[2]


def test_nobody_listing_a_dimension_says_nothing(filled: Filled, family: Family, mm: Mm) -> None:
    catalogue = filled({}, {})
    number = number_likelihood(catalogue, rule_of(family, "throttle_bore", mm(19.0)), mm(19.0), None, MODEL)
    word = word_likelihood(catalogue, rule_of(family, "choke_type", "none"), MODEL)
    assert number.ratio.tolist() == word.ratio.tolist() == [1.0, 1.0]
    assert number.elsewhere == word.elsewhere == 1.0


def test_a_word_weighs_by_how_rare_it_is(filled: Filled, family: Family) -> None:
    catalogue = filled(*[{"choke_type": "none"}] * 3, {"choke_type": "manual_lever"})
    common = word_likelihood(catalogue, rule_of(family, "choke_type", "none"), MODEL).ratio
    rare = word_likelihood(catalogue, rule_of(family, "choke_type", "manual_lever"), MODEL).ratio
    assert rare[3] > common[0] > 1.0 > common[3]


def test_another_makers_scale_is_not_compared(filled: Filled, family: Family, mm: Mm) -> None:
    five = Quantity(5.0, "1", 0.0, "5")
    catalogue = filled({"heat_range": five}, {"heat_range": five}, makers=["Quillon", "Vennor"])
    comparable = catalogue.makers == catalogue.maker_code("Vennor")
    found = number_likelihood(catalogue, rule_of(family, "heat_range", five), five, comparable, MODEL)
    assert found.ratio[0] == 1.0
    assert found.ratio[1] == pytest.approx(1.0)  # the only comparable part is its own yardstick


def test_a_spread_is_never_taken_for_narrow(filled: Filled, family: Family, mm: Mm) -> None:
    catalogue = filled({"throttle_bore": mm(20.0)})
    rule = rule_of(family, "throttle_bore", mm(20.0))
    assert wide_of(catalogue, rule, MODEL) == Wide(20.0, 5.0)
    assert Wide(20.0, 5.0).density(1e12, 0.1) == LEAST_DENSITY


def test_the_wide_density_holds_all_probability() -> None:
    wide, step = Wide(20.0, 5.0), 0.05
    grid = np.arange(-400.0, 440.0, step)
    assert sum(wide.density(float(x), 0.1) * step for x in grid) == pytest.approx(1.0, abs=1e-3)


def test_agreement_is_certain_near_and_hardly_possible_far(filled: Filled, family: Family, mm: Mm) -> None:
    catalogue = filled(*({"throttle_bore": mm(bore)} for bore in (19.0, 20.0, 24.0)))
    rule = rule_of(family, "throttle_bore", mm(19.0))
    side = listed_side(catalogue, rule, np.arange(3))
    near, edge, far = number_agreement(rule, mm(19.0), side, Usual(0.3, Wide(19.0, 10.0)), MODEL)
    assert near > 0.99
    assert edge == pytest.approx(0.5, abs=0.03)
    assert far < 0.02


def test_a_word_that_agrees_may_still_be_a_wrong_entry(filled: Filled, family: Family) -> None:
    catalogue = filled({"choke_type": "none"}, {"choke_type": "manual_lever"})
    rule = rule_of(family, "choke_type", "none")
    same, other = word_agreement(rule, catalogue, listed_side(catalogue, rule, np.arange(2)), 0.5, MODEL)
    assert same == pytest.approx(1 - (1 - 0.98**2) * 0.5)
    assert other == pytest.approx((1 - 0.98**2) * 0.5)


def ratios(*values: float, elsewhere: float = 0.1) -> DimensionLikelihood:
    return DimensionLikelihood("throttle_bore", np.array(values, np.float32), elsewhere)


def total(found: Hypotheses) -> float:
    return float(found.weights.sum()) + found.not_on_file


def test_without_measurements_every_part_is_as_likely_as_the_next() -> None:
    found = weigh(4, [], [], MODEL)
    assert found.not_on_file == pytest.approx(0.10)
    assert found.weights == pytest.approx([0.225] * 4)


def test_weights_add_up_to_one_and_follow_the_likelihoods() -> None:
    found = weigh(3, [ratios(2.0, 0.01, 1.0)], [], MODEL)
    assert found.rows.tolist() == [0, 2, 1]
    assert total(found) == pytest.approx(1.0)
    assert found.weights[0] == pytest.approx(2.0 * found.weights[1])


def test_a_measurement_like_no_part_speaks_for_a_design_on_no_file() -> None:
    usual, odd = (
        weigh(2, [ratios(1.0, 1.0)], [], MODEL),
        weigh(2, [ratios(0.1, 0.1, elsewhere=5.0)], [], MODEL),
    )
    assert odd.not_on_file > 0.7
    assert usual.not_on_file < 0.2


def test_the_many_are_stood_for_by_an_even_sample() -> None:
    rng = np.random.default_rng(1)
    likely = rng.random(5000).astype(np.float32) + 0.5
    found = weigh(5000, [ratios(*likely.tolist())], [], MODEL)
    assert (
        len(found.rows) == len(set(found.rows.tolist())) <= MODEL.likely_hypotheses + MODEL.sampled_hypotheses
    )
    assert total(found) == pytest.approx(1.0)
    assert set(np.argsort(-likely)[:100].tolist()) <= set(found.rows.tolist())
    mean = float((likely[found.rows] * found.weights).sum() / found.weights.sum())
    assert mean == pytest.approx(float((likely**2).sum() / likely.sum()), rel=0.1)


def test_no_sample_is_drawn_from_nothing() -> None:
    likely = np.full(200, 1e-30, np.float32)
    likely[:3] = 1e30
    found = weigh(200, [ratios(*likely.tolist())] * 2, [], MODEL)
    assert len(found.rows) == MODEL.likely_hypotheses
    assert total(found) == pytest.approx(1.0)
