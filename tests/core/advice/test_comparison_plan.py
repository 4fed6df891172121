"""What the comparison makes of its options: the undominated set, the plan, the verdict, the sentence."""

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from fitworth.advice.answer import Comparison, OptionResult
from fitworth.advice.case import (
    Candidate,
    ComparisonCase,
    KitOffer,
    PartOffer,
)
from fitworth.advice.comparison import compare
from fitworth.advice.verdict import judge_machine
from fitworth.vocabulary import Grade, MachineVerdict, Origin, Verdict


def run(case: ComparisonCase, seed: int = 1) -> Comparison:
    return compare(case, np.random.default_rng(seed))


def get_option(comparison: Comparison, option_id: str) -> OptionResult:
    return next(option for option in comparison.options if option.id == option_id)


def test_an_option_beaten_on_fit_landed_cost_and_penalty_is_not_marked(
    case: ComparisonCase, make_candidate: Callable[..., Candidate], make_offer: Callable[..., PartOffer]
) -> None:
    worse = make_candidate(4, Grade.AFTERMARKET_UNBRANDED, 0.8)
    found = run(
        replace(case, candidates=(*case.candidates, worse), offers=(*case.offers, make_offer(4, "12.00")))
    )
    marked = {option.id for option in found.options if option.undominated}
    assert marked == {"clean", "replace:101", "replace:102", "replace:103"}


@pytest.mark.parametrize(
    ("expected", "upper", "verdict"),
    [
        ("10", "100", MachineVerdict.WORTH_IT),
        ("10", "100.01", MachineVerdict.MARGINAL),
        ("100", "120", MachineVerdict.MARGINAL),
        ("100.01", "120", MachineVerdict.NOT_WORTH_IT),
    ],
)
def test_the_verdict_weighs_expected_cost_and_its_upper_end(
    expected: str, upper: str, verdict: MachineVerdict
) -> None:
    assert judge_machine(Decimal(expected), Decimal(upper), Decimal(100)) is verdict


def test_other_spending_lowers_the_ceiling(case: ComparisonCase) -> None:
    found = run(replace(case, work=replace(case.work, other_spending=Decimal(140))))
    assert found.plan is not None
    assert (found.plan.ceiling, found.plan.verdict) == (Decimal("15.00"), MachineVerdict.NOT_WORTH_IT)
    assert found.answer.endswith("; but the machine deserves no more than 15.00 USD.")


def test_bad_luck_beyond_the_ceiling_is_told(case: ComparisonCase) -> None:
    found = run(replace(case, work=replace(case.work, other_spending=Decimal(120))))
    assert found.plan is not None
    assert found.plan.verdict is MachineVerdict.MARGINAL
    assert "; with bad luck it costs " in found.answer


def test_an_uncertain_fit_is_told_in_the_answer_and_the_notes(case: ComparisonCase) -> None:
    unsure = replace(case.candidates[2], verdict=Verdict.UNCERTAIN)
    found = run(replace(case, candidates=(*case.candidates[:2], unsure)))
    assert found.answer.endswith("; but whether it fits is uncertain (0.90), so measure more first.")
    assert "Whether it fits is uncertain: measure more before you buy." in found.options[0].notes


def test_a_machine_that_gains_nothing_is_left_as_it_is(case: ComparisonCase) -> None:
    found = run(replace(case, machine=replace(case.machine, worth_running=Decimal(36))))
    assert found.options[0].id == "stop"
    assert found.answer.startswith("Leave the machine as it is: every repair costs more than the 1.00 USD")
    assert found.plan is not None
    assert found.plan.verdict is MachineVerdict.NOT_WORTH_IT
    assert found.plan.steps[0] != "stop"


def test_the_answer_says_what_is_best_by_how_much_and_what_comes_second(
    case: ComparisonCase, make_kit: Callable[..., KitOffer]
) -> None:
    work = replace(case.work, condition={"needle_and_seat": "worn"})
    found = run(replace(case, work=work, kits=(make_kit("2.00", 1.0),), offers=()))
    best, second = found.options[:2]
    assert best.id == "rebuild:300"
    assert second.id == "clean"
    assert found.answer == (
        "Best is to rebuild the old one with the Brackwell kit K-19 from Ostler Supplies 2: "
        f"{best.expected_cost} USD to be expected by the time it runs, "
        f"{second.expected_cost - best.expected_cost} USD less than to clean the old one; "
        f"with bad luck it costs {best.cost_90[1]} USD, more than the 155.00 that the machine deserves."
    )


def test_the_same_seed_gives_the_same_comparison(case: ComparisonCase) -> None:
    assert run(case, 5) == run(case, 5)


def test_used_assumptions_are_listed_with_their_origin(case: ComparisonCase) -> None:
    changed: dict[str, Any] = {"dead_on_arrival.carburetor.aftermarket_unbranded": 0.2}
    found = run(replace(case, assumptions=case.assumptions.with_overrides(changed, Origin.JOB)))
    listed = {assumption.name: assumption.origin for assumption in found.assumptions}
    assert listed["dead_on_arrival.carburetor.aftermarket_unbranded"] is Origin.JOB
    assert listed["failures_a_year.carburetor.oem"] is Origin.DEFAULT
    assert "dead_on_arrival.spark_plug.oem" not in listed
