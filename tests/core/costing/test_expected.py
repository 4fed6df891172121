"""Expected cost of attempts and chains, the next try after a misfit, and the spread around it."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from fitworth.costing.expected import Attempt, Wear, cost_chain, list_lines, to_money
from fitworth.costing.fallback import Belief, KitAttempt, Ways, find_chains
from fitworth.costing.reliability import Reliability, believe_rate, expect_failures
from fitworth.costing.spread import count_failures, find_middle, simulate_costs
from fitworth.errors import InvalidValueError

WEAR = Wear(Reliability(0.09, believe_rate(0.11, 2.0), 1.2), 3.0)
STOP = 155.0
SURE = Belief(np.ones(1), np.array([[0.8], [0.7]]))


def attempt(name: str = "replace:1", chance: float = 0.8, **changes: Any) -> Attempt:
    plain = Attempt(
        option_id=name,
        chance=chance,
        landed=14.37,
        missing_needs=3.10,
        waiting=5.0,
        work_share=0.25,
        work_cost=8.0,
        labour=15.0,
        labour_lost=7.5,
        return_net=-2.0,
        failure_cost=40.0,
        failures=expect_failures(WEAR.reliability, WEAR.horizon),
        failures_as_oem=0.1,
        wear=WEAR,
    )
    return replace(plain, **changes)


@pytest.mark.parametrize(
    ("weights", "fits", "where"),
    [
        ([0.5, 0.4], [[0.1, 0.2]], "/weights"),
        ([1.5, -0.5], [[0.1, 0.2]], "/weights"),
        ([[1.0]], [[0.1]], "/weights"),
        ([1.0], [[0.1, 0.2]], "/fits_given"),
        ([1.0], [0.1], "/fits_given"),
        ([0.5, 0.5], [[0.1, 1.2]], "/fits_given"),
    ],
    ids=["sum", "negative", "table", "columns", "row", "chance"],
)
def test_a_belief_that_is_no_probability_is_refused(weights: Any, fits: Any, where: str) -> None:
    with pytest.raises(InvalidValueError) as refusal:
        Belief(np.array(weights), np.array(fits))
    assert where in {fault.where for fault in refusal.value.faults}


@pytest.mark.parametrize("row", [None, 2])
def test_a_replacement_without_a_row_in_the_belief_is_refused(row: int | None) -> None:
    with pytest.raises(InvalidValueError, match="row of the belief"):
        Ways((attempt(candidate=row),), SURE, None, (), STOP)


def test_the_lines_are_those_of_the_trade_and_add_up_to_the_chain() -> None:
    chain = (attempt(), attempt("replace:2", 0.5))
    lines = list_lines(chain, STOP, "USD")
    assert [line.line for line in lines] == [
        "landed",
        "missing_needs",
        "work",
        "labour",
        "wrong_part",
        "failures_as_oem",
        "reliability_penalty",
        "waiting",
    ]
    by_line = {line.line: line.amount for line in lines}
    assert by_line["work"] == Decimal("1.60")
    assert by_line["labour"] == Decimal("12.00")
    assert by_line["failures_as_oem"] == Decimal("3.20")
    second = cost_chain(chain[1:], STOP)
    assert by_line["wrong_part"] == to_money(0.2 * (-2.0 + 7.5 + second), "USD")
    assert float(sum(by_line.values())) == pytest.approx(cost_chain(chain, STOP), abs=0.04)


def test_no_chain_is_stopping() -> None:
    assert cost_chain((), STOP) == STOP


def test_amounts_are_rounded_to_the_minor_unit_and_zero_has_no_sign() -> None:
    assert str(to_money(-0.001, "USD")) == "0.00"
    assert str(to_money(12.5, "JPY")) == "13"


def test_parts_of_one_design_fail_together_so_the_second_try_is_of_another() -> None:
    # Rows 0 and 1 are of one design, row 2 of the other; the cheap twin is useless after a misfit.
    belief = Belief(np.array([0.6, 0.4]), np.array([[1.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
    ways = Ways(
        (
            attempt("replace:1", 0.6, candidate=0),
            attempt("replace:2", 0.6, candidate=1, landed=10.0),
            attempt("replace:3", 0.4, candidate=2, landed=30.0),
        ),
        belief,
        None,
        (),
        STOP,
    )
    chains = find_chains(ways)
    assert [[step.option_id for step in chain] for chain in chains] == [
        ["replace:1", "replace:3"],
        ["replace:2", "replace:3"],
        ["replace:3", "replace:2"],
    ]
    assert [chain[1].chance for chain in chains] == pytest.approx([1.0, 1.0, 1.0])


def test_the_chance_after_a_misfit_is_bayes_rule() -> None:
    weights, fits = np.array([0.5, 0.3, 0.2]), np.array([[0.9, 0.1, 0.0], [0.8, 0.2, 0.4]])
    expected = (weights * (1 - fits[0]) * fits[1]).sum() / (weights * (1 - fits[0])).sum()
    found = Belief(weights, fits).fits_after_misfit()
    assert found[0, 1] == pytest.approx(expected)
    assert found[0, 0] == found[1, 1] == 0.0


def test_after_a_part_that_surely_fits_the_others_keep_their_chance() -> None:
    found = Belief(np.ones(1), np.array([[1.0], [0.7]])).fits_after_misfit()
    assert found[0, 1] == pytest.approx(0.7)


def test_the_same_part_from_another_shop_is_no_second_try() -> None:
    belief = Belief(np.ones(1), np.array([[0.5]]))
    twice = (attempt("replace:1", 0.5, candidate=0), attempt("replace:2", 0.5, candidate=0, landed=1.0))
    assert [len(chain) for chain in find_chains(Ways(twice, belief, None, (), STOP))] == [1, 1]


def test_stopping_follows_where_every_further_try_costs_more_than_it_gains() -> None:
    dear = attempt("replace:2", 0.7, candidate=1, landed=500.0)
    chains = find_chains(Ways((attempt(candidate=0), dear), SURE, None, (), STOP))
    assert [step.option_id for step in chains[0]] == ["replace:1"]


def test_after_a_cleaning_in_vain_comes_the_kit_with_what_is_left_of_its_chance() -> None:
    clean = attempt("clean", 0.8, landed=0.0, missing_needs=0.0)
    kit = KitAttempt(attempt("rebuild:3", 0.88), attempt("rebuild:3", 0.4))
    part = attempt(candidate=0, landed=60.0)
    chains = find_chains(Ways((part,), Belief(np.ones(1), np.array([[0.8]])), clean, (kit,), STOP))
    assert [[(step.option_id, step.chance) for step in chain] for chain in chains] == [
        [("clean", 0.8), ("rebuild:3", 0.4), ("replace:1", 0.8)],
        [("rebuild:3", 0.88), ("replace:1", 0.8)],
        [("replace:1", 0.8), ("clean", 0.8)],
    ]


def test_without_parts_a_kit_is_followed_by_stopping() -> None:
    nothing = Belief(np.ones(1), np.zeros((0, 1)))
    kit = KitAttempt(attempt("rebuild:3", 0.88), attempt("rebuild:3", 0.4))
    assert find_chains(Ways((), nothing, None, (kit,), STOP)) == ((kit.alone,),)


@settings(max_examples=15, deadline=None)
@given(fits=arrays(np.float64, (3, 4), elements=st.floats(0.02, 0.98)), seed=st.integers(0, 2**32 - 1))
def test_the_mean_of_simulated_costs_is_the_exact_expectation(fits: Any, seed: int) -> None:
    rng = np.random.default_rng(seed)
    belief = Belief(rng.dirichlet(np.ones(4)), fits)
    parts = tuple(
        attempt(f"replace:{i}", float(belief.fits[i]), candidate=i, landed=float(rng.uniform(5, 60)))
        for i in range(3)
    )
    clean = attempt("clean", 0.3, landed=0.0, return_net=0.0)
    kit = KitAttempt(attempt("rebuild:9", 0.5), attempt("rebuild:9", 0.2857))
    chains = (*find_chains(Ways(parts, belief, clean, (kit,), STOP)), ())
    costs = simulate_costs(chains, belief, STOP, rng, 20_000)
    for chain, realised in zip(chains, costs, strict=True):
        error = realised.std() / np.sqrt(realised.size)
        assert realised.mean() == pytest.approx(cost_chain(chain, STOP), abs=5.5 * error + 1e-9)


def test_the_same_seed_gives_the_same_spread_and_its_middle_lies_in_order() -> None:
    chains = ((attempt(candidate=0),), ())
    first, second = (
        find_middle(simulate_costs(chains, SURE, STOP, np.random.default_rng(7))) for _ in range(2)
    )
    assert first.tolist() == second.tolist()
    assert first[0, 0] < cost_chain(chains[0], STOP) < first[0, 1]
    assert first[1].tolist() == [STOP, STOP]


@pytest.mark.parametrize(("failures_a_year", "horizon"), [(0.1, 0.0), (0.1, 4.0), (2.0, 10.0), (5.0, 400.0)])
def test_counted_failures_have_the_expected_mean(failures_a_year: float, horizon: float) -> None:
    wear = Wear(Reliability(0.09, believe_rate(failures_a_year, 4.0), 1.5), horizon)
    counted = count_failures(wear, np.random.default_rng(3), 20_000)
    exact = expect_failures(wear.reliability, horizon)
    assert counted.mean() == pytest.approx(exact, abs=5 * counted.std() / np.sqrt(counted.size))


def test_several_parts_of_one_purchase_fail_that_much_more_often() -> None:
    one = attempt(chance=1.0, candidate=None)
    three = replace(one, wear=replace(WEAR, parts=3))
    costs = simulate_costs([(one,), (three,)], SURE, STOP, np.random.default_rng(3), 4000)
    failures = (costs - one.paid_anyway - one.labour) // one.failure_cost
    assert failures[1].mean() == pytest.approx(3 * failures[0].mean(), rel=0.1)
