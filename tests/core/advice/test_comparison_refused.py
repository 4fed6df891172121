"""The comparison: what is refused, and what is never an option."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np
import pytest

from fitworth.advice.answer import Comparison, OptionResult
from fitworth.advice.case import (
    Candidate,
    ComparisonCase,
    DatedNeedOffer,
    KitOffer,
    MachineValues,
    PartOffer,
    WithWork,
    Work,
)
from fitworth.advice.comparison import compare
from fitworth.costing.fallback import Belief
from fitworth.costing.terms import (
    DeliveryMethod,
    FlatCharge,
    SupplierTerms,
)
from fitworth.errors import InvalidValueError, NotComputableError
from fitworth.families.model import Family
from fitworth.vocabulary import Grade, Verdict

EXPIRED = date(2026, 11, 24)


def run(case: ComparisonCase, seed: int = 1) -> Comparison:
    return compare(case, np.random.default_rng(seed))


def get_option(comparison: Comparison, option_id: str) -> OptionResult:
    return next(option for option in comparison.options if option.id == option_id)


# Refused.


def test_a_machine_worth_less_running_than_as_it_stands_is_refused_with_every_fault() -> None:
    with pytest.raises(InvalidValueError) as refusal:
        MachineValues(Decimal(20), Decimal(35), Decimal(-1), -2.0, 4.0, history_known=False)
    assert [fault.where for fault in refusal.value.faults] == [
        "/hour_value",
        "/hours_per_season",
        "/worth_running",
    ]


def test_negative_sums_and_counts_of_a_job_are_refused_all_at_once() -> None:
    with pytest.raises(InvalidValueError) as refusal:
        Work(
            needs={"fuel_hose": -1}, on_hand={"fuel_hose": 1}, other_spending=Decimal(-5), labour_minutes=-1.0
        )
    assert [fault.where for fault in refusal.value.faults] == [
        "/other_spending",
        "/labour_minutes",
        "/needs/fuel_hose",
    ]


def test_what_does_not_belong_together_is_refused_all_at_once(
    case: ComparisonCase, make_kit: Callable[..., KitOffer], make_offer: Callable[..., PartOffer]
) -> None:
    first, second, third = case.candidates
    with pytest.raises(InvalidValueError) as refusal:
        replace(
            case,
            candidates=(
                replace(first, fit_confidence=1.2),
                replace(second, with_work=WithWork(0.95)),
                third,
            ),
            kits=(make_kit(serves=-0.1),),
            offers=(make_offer(9, "5.00"),),
            belief=Belief(np.ones(1), np.array([[1.0], [0.9], [0.5]])),
        )
    assert [fault.where for fault in refusal.value.faults] == [
        "/candidates/0/fit_confidence",
        "/candidates/1/with_work/probability",
        "/kits/0/serves",
        "/offers/0/part_id",
        "/candidates/0/fit_confidence",
        "/candidates/2/fit_confidence",
    ]


def test_a_belief_with_another_number_of_rows_is_refused(case: ComparisonCase) -> None:
    with pytest.raises(InvalidValueError, match="one row a candidate"):
        replace(case, belief=Belief(np.ones(1), np.array([[0.9]])))


def test_missing_exchange_rates_are_told_all_at_once(
    case: ComparisonCase, make_supplier: Callable[..., SupplierTerms], make_offer: Callable[..., PartOffer]
) -> None:
    offers = tuple(
        make_offer(part_id, "9.00", supplier=make_supplier(part_id, currency=currency))
        for part_id, currency in ((1, "EUR"), (2, "GBP"), (3, "USD"))
    )
    with pytest.raises(NotComputableError) as refusal:
        run(replace(case, offers=offers))
    assert [fault.says.split(" on or")[0] for fault in refusal.value.faults] == [
        "There is no exchange rate from EUR to USD",
        "There is no exchange rate from GBP to USD",
    ]


def test_unknown_words_for_the_condition_are_refused(case: ComparisonCase) -> None:
    with pytest.raises(InvalidValueError, match="clean, light, pitted") as refusal:
        run(replace(case, work=replace(case.work, condition={"body": "rusty"})))
    assert [fault.where for fault in refusal.value.faults] == ["/removed_part/condition/body"]


# Never an option.


def test_a_part_that_does_not_fit_is_no_option_however_cheap(
    case: ComparisonCase, make_candidate: Callable[..., Candidate], make_offer: Callable[..., PartOffer]
) -> None:
    wrong = make_candidate(4, Grade.OEM, 0.0, verdict=Verdict.DOES_NOT_FIT)
    found = run(
        replace(case, candidates=(*case.candidates, wrong), offers=(*case.offers, make_offer(4, "0.10")))
    )
    assert "replace:104" not in {option.id for option in found.options}
    assert found.warnings == ()


def test_quotes_past_their_last_day_are_left_out_by_name(
    case: ComparisonCase,
    make_offer: Callable[..., PartOffer],
    make_kit: Callable[..., KitOffer],
    make_need_offer: Callable[..., DatedNeedOffer],
) -> None:
    found = run(
        replace(
            case,
            offers=(
                make_offer(3, "9.80", valid_until=EXPIRED),
                make_offer(2, "24.50", valid_until=date(2026, 11, 25)),
            ),
            kits=(make_kit(valid_until=EXPIRED),),
            need_offers=(make_need_offer("mounting_gasket", "1.00", 401, EXPIRED),),
        )
    )
    assert {option.id for option in found.options} == {"clean", "replace:102", "stop"}
    assert found.warnings == (
        "Quote 103 for Quillon Q19-42 is left out: it was valid until 2026-11-24.",
        "Quote 300 for Brackwell kit K-19 is left out: it was valid until 2026-11-24.",
        "Quote 401 for Vennor mounting_gasket is left out: it was valid until 2026-11-24.",
    )


def test_a_part_that_no_shop_sends_here_is_left_out_and_told(
    case: ComparisonCase, make_supplier: Callable[..., SupplierTerms], make_offer: Callable[..., PartOffer]
) -> None:
    elsewhere = make_supplier(5, delivery=(DeliveryMethod("van", "NO", FlatCharge(Decimal(9)), None, 2.0),))
    found = run(replace(case, offers=(*case.offers[:2], make_offer(3, "9.80", supplier=elsewhere))))
    assert "replace:103" not in {option.id for option in found.options}
    assert found.warnings[0].startswith("The Quillon Q19-42 (quote 103) is left out: ")


def test_a_check_that_clears_the_part_leaves_nothing_to_buy(
    case: ComparisonCase, get_family: Callable[[str], Family]
) -> None:
    checks = (("oil_level", "right"), ("stop_lead_off_at_coil", "spark"))
    found = run(replace(case, family=get_family("ignition_coil"), work=Work(checks=checks)))
    assert found.options == ()
    assert found.plan is None
    assert found.cleared.startswith("The coil is good")
    assert found.answer == f"Buy no ignition coil. {found.cleared}"
    assert "stop_lead" in found.cautions


def test_another_result_of_that_check_clears_nothing(
    case: ComparisonCase, get_family: Callable[[str], Family]
) -> None:
    checks = (("stop_lead_off_at_coil", "no_spark"),)
    found = run(replace(case, family=get_family("ignition_coil"), work=Work(checks=checks)))
    assert found.cleared == ""
    assert {option.id for option in found.options} == {"replace:101", "replace:102", "replace:103", "stop"}


def test_a_family_that_cannot_be_saved_has_neither_cleaning_nor_kit(
    case: ComparisonCase, get_family: Callable[[str], Family], make_kit: Callable[..., KitOffer]
) -> None:
    found = run(replace(case, family=get_family("spark_plug"), kits=(make_kit(),)))
    assert not {option.id for option in found.options} & {"clean", "rebuild:300"}
    assert found.warnings == (
        "The condition of a spark plug tells nothing about saving it.",
        "The Brackwell kit K-19 is left out: A spark plug cannot be saved by cleaning or a kit.",
    )


def test_with_nothing_on_offer_only_stopping_is_left(
    case: ComparisonCase, get_family: Callable[[str], Family]
) -> None:
    found = run(replace(case, family=get_family("spark_plug"), offers=(), work=Work()))
    assert [option.id for option in found.options] == ["stop"]
    assert found.plan is None
    assert "enter a quote" in found.answer


# Costs.
