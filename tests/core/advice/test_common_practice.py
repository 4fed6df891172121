"""What common practice knows (no source): when the cheap part is right, and when the maker's.

The maker's part about 65, branded ones 20 to 30 without gaskets, unbranded ones under 10 with gaskets. On a
machine of unknown history that is worth little, the cheap one; on a good one with years to go where the hour
is dear and a failure costs a working day, the maker's.
"""

from dataclasses import replace
from decimal import Decimal
from itertools import pairwise

import numpy as np
import pytest

from fitworth.advice.answer import Comparison
from fitworth.advice.case import ComparisonCase, MachineValues
from fitworth.advice.comparison import compare
from fitworth.costing.terms import SupplierTerms
from fitworth.vocabulary import Origin

OEM, BRANDED, UNBRANDED = "replace:101", "replace:102", "replace:103"
STEPS = 24


def interpolate(case: ComparisonCase, share: float) -> ComparisonCase:
    """Return the case at a share of the straight path from the worn tiller to the good machine in trade."""

    def between(low: float, high: float) -> float:
        return low + share * (high - low)

    def amount(low: float, high: float) -> Decimal:
        return Decimal(str(round(between(low, high), 2)))

    retired = {"retired_a_year.history_known": between(0.20, 0.06)}
    return replace(
        case,
        machine=MachineValues(
            worth_running=amount(120, 1500),
            worth_as_is=amount(35, 200),
            hour_value=amount(0, 45),
            hours_per_season=between(10, 120),
            seasons=between(3, 10),
            history_known=True,
        ),
        work=replace(case.work, waiting_cost_per_day=amount(0, 200), days_lost_per_failure=1.0),
        offers=tuple(replace(offer, supplier=_send_overnight(offer.supplier)) for offer in case.offers),
        assumptions=case.assumptions.with_overrides(retired, Origin.JOB),
    )


def _send_overnight(supplier: SupplierTerms) -> SupplierTerms:
    return replace(supplier, delivery=tuple(replace(method, days=1.0) for method in supplier.delivery))


def run(case: ComparisonCase) -> Comparison:
    return compare(case, np.random.default_rng(1))


def list_costs(comparison: Comparison) -> dict[str, Decimal]:
    return {option.id: option.expected_cost for option in comparison.options}


def test_on_a_machine_of_unknown_history_and_little_worth_the_unbranded_part_ranks_first(
    case: ComparisonCase,
) -> None:
    poor = replace(
        case,
        machine=MachineValues(Decimal(120), Decimal(35), Decimal(0), 10.0, 3.0, history_known=False),
    )
    found = run(poor)
    assert found.options[0].id == UNBRANDED
    assert found.plan is not None
    assert found.plan.verdict.value == "worth_it"


def test_on_a_good_machine_where_the_hour_is_dear_the_makers_part_ranks_first(case: ComparisonCase) -> None:
    assert run(interpolate(case, 1.0)).options[0].id == OEM


def test_between_the_two_the_makers_part_overtakes_the_unbranded_one_exactly_once(
    case: ComparisonCase,
) -> None:
    ahead = []
    for step in range(STEPS + 1):
        costs = list_costs(run(interpolate(case, step / STEPS)))
        ahead.append(costs[OEM] < costs[UNBRANDED])
    assert ahead[0] is False
    assert ahead[-1] is True
    assert sum(before != after for before, after in pairwise(ahead)) == 1


def test_between_the_two_the_best_part_changes_only_towards_the_better_grade(case: ComparisonCase) -> None:
    order = [UNBRANDED, BRANDED, OEM]
    best = []
    for step in range(STEPS + 1):
        costs = list_costs(run(interpolate(case, step / STEPS)))
        best.append(min(order, key=lambda option_id: costs[option_id]))
    assert best == sorted(best, key=order.index)
    assert best[0] == UNBRANDED
    assert best[-1] == OEM


@pytest.mark.parametrize("hour_value", [0, 30])
def test_a_seat_that_is_pressed_in_and_corroded_is_no_case_for_a_kit_or_a_cleaning(
    case: ComparisonCase, hour_value: int
) -> None:
    found = run(replace(case, machine=replace(case.machine, hour_value=Decimal(hour_value))))
    assert found.options[0].id == UNBRANDED
    clean = next(option for option in found.options if option.id == "clean")
    assert clean.fit_confidence == 0.05
