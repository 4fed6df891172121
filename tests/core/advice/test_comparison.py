"""The comparison: what the options cost, line by line."""

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
    PartOffer,
    WithWork,
    Work,
)
from fitworth.advice.comparison import compare
from fitworth.costing.fallback import Belief
from fitworth.costing.rates import Rate
from fitworth.costing.terms import (
    DeliveryMethod,
    Destination,
    FlatCharge,
    PriceBreak,
    Returns,
    SupplierTerms,
)
from fitworth.vocabulary import Condition, Grade, Origin

EXPIRED = date(2026, 11, 24)


def run(case: ComparisonCase, seed: int = 1) -> Comparison:
    return compare(case, np.random.default_rng(seed))


def get_option(comparison: Comparison, option_id: str) -> OptionResult:
    return next(option for option in comparison.options if option.id == option_id)


def get_line(option: OptionResult, line: str) -> Decimal:
    return next(found.amount for found in option.lines if found.line == line)


# Refused.


def test_the_lines_of_every_option_add_up_to_the_cent(
    case: ComparisonCase, make_kit: Callable[..., KitOffer]
) -> None:
    found = run(replace(case, kits=(make_kit(),)))
    assert [option.rank for option in found.options] == [1, 2, 3, 4, 5, 6]
    assert [option.expected_cost for option in found.options] == sorted(
        option.expected_cost for option in found.options
    )
    for option in found.options:
        assert sum(line.amount for line in option.lines) == option.expected_cost
        assert all(line.amount == line.amount.quantize(Decimal("0.01")) for line in option.lines)
        assert sum((line.amount for line in option.landed_lines), Decimal(0)) == option.landed_cost
        assert option.cost_90[0] <= option.expected_cost <= option.cost_90[1] or option.kind == "stop"


def test_an_oem_part_bears_no_reliability_penalty_and_a_cheap_one_does(case: ComparisonCase) -> None:
    found = run(case)
    oem, cheap = get_option(found, "replace:101"), get_option(found, "replace:103")
    assert oem.reliability_penalty == 0
    assert get_line(oem, "failures_as_oem") > 0
    assert cheap.reliability_penalty == get_line(cheap, "reliability_penalty") > 0
    assert cheap.expected_failures > oem.expected_failures


def test_what_is_sold_used_fails_as_used_parts_do_whoever_made_it(
    case: ComparisonCase, make_candidate: Callable[..., Candidate], make_kit: Callable[..., KitOffer]
) -> None:
    offers = (replace(case.offers[0], condition=Condition.USED), *case.offers[1:])
    kits = (make_kit(), replace(make_kit(), condition=Condition.USED))
    found = run(replace(case, offers=offers, kits=kits[1:]))
    listed = make_candidate(1, Grade.USED)
    as_listed = run(replace(case, candidates=(listed, *case.candidates[1:])))
    used = get_option(found, "replace:101")
    assert used.reliability_penalty == get_option(as_listed, "replace:101").reliability_penalty > 0
    assert used.notes == ("It is sold used, and counts as failing as used parts do.",)
    kit, new_kit = (
        get_option(found, "rebuild:300"),
        get_option(run(replace(case, kits=kits[:1])), "rebuild:300"),
    )
    assert kit.expected_failures > new_kit.expected_failures
    assert "It is sold used, and counts as failing as used parts do." in kit.notes


def test_a_remanufactured_part_counts_as_such_once(case: ComparisonCase) -> None:
    candidate = replace(case.candidates[0], grade=Grade.REMANUFACTURED)
    offer = replace(case.offers[0], condition=Condition.REMANUFACTURED)
    found = run(replace(case, candidates=(candidate, *case.candidates[1:]), offers=(offer,)))
    assert get_option(found, "replace:101").notes == ()


def test_a_quote_with_gaskets_misses_nothing_and_one_without_buys_them(
    case: ComparisonCase, make_need_offer: Callable[..., DatedNeedOffer]
) -> None:
    offers = (
        make_need_offer("mounting_gasket", "1.10", 401),
        make_need_offer("air_filter_gasket", "0.90", 402),
    )
    found = run(replace(case, need_offers=offers))
    assert get_option(found, "replace:103").missing_needs == ()
    missing = get_option(found, "replace:102").missing_needs
    assert sorted((need.need, need.amount, need.quote_id) for need in missing) == [
        ("air_filter_gasket", Decimal("0.90"), 402),
        ("mounting_gasket", Decimal("1.10"), 401),
    ]


def test_a_quote_for_a_need_that_cannot_be_sent_here_is_told_and_its_price_assumed(
    case: ComparisonCase,
    make_need_offer: Callable[..., DatedNeedOffer],
    make_supplier: Callable[..., SupplierTerms],
) -> None:
    near = make_need_offer("mounting_gasket", "1.10", 401)
    van = DeliveryMethod("van", "NO", FlatCharge(Decimal(9)), None, 2.0)
    far = replace(near, offer=replace(near.offer, supplier=make_supplier(6, delivery=(van,))))
    option = get_option(run(replace(case, need_offers=(far,))), "replace:102")
    assert any(note.startswith("Quote 401 was left out: ") for note in option.notes)
    assert {need.quote_id for need in option.missing_needs} == {None}


def test_what_is_on_hand_or_is_the_part_itself_is_not_bought(case: ComparisonCase) -> None:
    work = replace(
        case.work,
        needs={"carburetor": 1, "mounting_gasket": 2, "air_filter_gasket": 1},
        on_hand={"mounting_gasket": 1},
    )
    found = run(replace(case, work=work))
    bare, boxed = get_option(found, "replace:102"), get_option(found, "replace:103")
    assert {need.need for need in bare.missing_needs} == {"mounting_gasket", "air_filter_gasket"}
    assert boxed.missing_needs == ()
    assert "No quote covers the mounting gasket: its price is assumed." in bare.notes
    assert {"need_price.mounting_gasket", "need_price.air_filter_gasket"} <= {
        assumption.name for assumption in found.assumptions
    }


def test_work_labour_and_waiting_are_costed_by_their_chances(case: ComparisonCase) -> None:
    candidate = replace(
        case.candidates[2], with_work=WithWork(0.4, ("spacer", "fuel_hose"), 30.0, Decimal("6.00"))
    )
    found = run(
        replace(
            case,
            candidates=(*case.candidates[:2], candidate),
            machine=replace(case.machine, hour_value=Decimal(20)),
            work=replace(case.work, labour_minutes=60.0, waiting_cost_per_day=Decimal("1.50")),
        )
    )
    option = get_option(found, "replace:103")
    assert get_line(option, "work") == Decimal("6.40")  # 0.4 x (half an hour at 20 + 6)
    assert get_line(option, "labour") == Decimal("18.00")  # 0.9 x an hour at 20
    assert get_line(option, "waiting") == Decimal("7.50")  # 5 days at 1.50
    assert "It may need work to fit: spacer, fuel hose, 30 min." in option.notes


def test_as_many_parts_are_bought_fitted_and_failing_as_the_job_needs(case: ComparisonCase) -> None:
    steps = (PriceBreak(4, Decimal("3.10")),)
    goods = replace(case.offers[2].goods, price=Decimal("3.40"), price_breaks=steps)
    single = replace(
        case,
        machine=replace(case.machine, hour_value=Decimal(12)),
        offers=(replace(case.offers[2], goods=goods),),
        work=Work(needs={"mounting_gasket": 4}),
    )
    needs = {"carburetor": 5, "mounting_gasket": 4}
    work = replace(single.work, needs=needs, on_hand={"carburetor": 1})
    one, four = (get_option(run(each), "replace:103") for each in (single, replace(single, work=work)))
    assert [line.amount for line in four.landed_lines] == [Decimal("12.40"), Decimal("4.57")]
    assert "4 of them are bought." in four.notes
    # Three more come out of the boxes.
    assert sum(need.amount for need in one.missing_needs) == Decimal(9)
    assert four.missing_needs == ()
    assert get_line(four, "labour") == 4 * get_line(one, "labour") == Decimal("32.40")  # 0.9 x 3 h at 12
    assert four.expected_failures == pytest.approx(4 * one.expected_failures)
    # Each failure takes one part, sent alone, and an hour's three quarters: 3.40 + 4.57 + 9.00.
    as_oem = get_line(four, "failures_as_oem") + get_line(four, "reliability_penalty")
    assert float(as_oem) == pytest.approx(0.9 * four.expected_failures * 16.97, abs=0.02)


def test_a_completion_that_is_not_proven_cheapest_says_so(
    case: ComparisonCase,
    make_need_offer: Callable[..., DatedNeedOffer],
    make_supplier: Callable[..., SupplierTerms],
) -> None:
    prices = {
        "mounting_gasket": ("3.55", "3.20", "2.90", "3.35"),
        "air_filter_gasket": ("0.95", "1.40", "1.15", "1.05"),
        "fuel_hose": ("2.10", "1.85", "2.60", "2.30"),
    }
    ways = [
        DeliveryMethod("post", None, FlatCharge(Decimal(charge)), Decimal(free_above), 3.0)
        for charge, free_above in ((4, 24), (6, 33), (8, 42), (10, 51))
    ]
    offers: list[DatedNeedOffer] = []
    for need, of_shops in prices.items():
        for number, price in enumerate(of_shops, start=1):
            shop = make_supplier(number, delivery=(ways[number - 1],))
            dated = make_need_offer(need, price, 400 + len(offers))
            offers.append(replace(dated, offer=replace(dated.offer, supplier=shop)))
    work = Work(needs=dict.fromkeys(prices, 12))
    found = run(replace(case, offers=(), need_offers=tuple(offers), work=work))
    says = "So many are missing that a cheaper way to buy them may have been overlooked."
    assert says in get_option(found, "clean").notes


def test_labour_that_is_stated_is_for_all_parts(case: ComparisonCase) -> None:
    machine = replace(case.machine, hour_value=Decimal(12))
    work = replace(case.work, needs={"carburetor": 2}, labour_minutes=60.0)
    option = get_option(run(replace(case, machine=machine, work=work)), "replace:103")
    assert get_line(option, "labour") == Decimal("10.80")  # 0.9 x an hour at 12


def test_what_was_saved_was_saved_as_often_as_the_job_needs(
    case: ComparisonCase, make_kit: Callable[..., KitOffer]
) -> None:
    machine = replace(case.machine, hour_value=Decimal(12))
    twins = replace(case, machine=machine, kits=(make_kit(),), work=Work(needs={"carburetor": 2}))
    found = run(twins)
    one = run(replace(twins, work=Work()))
    for option_id in ("clean", "rebuild:300"):
        assert get_line(get_option(found, option_id), "labour") == pytest.approx(
            2 * get_line(get_option(one, option_id), "labour"), abs=Decimal("0.01")
        )
    assert get_option(found, "rebuild:300").landed_lines[0].amount == Decimal("14.80")


def test_a_shop_with_fewer_than_the_job_needs_is_left_out_and_told(case: ComparisonCase) -> None:
    offers = (replace(case.offers[0], stock=2), replace(case.offers[2], stock=1))
    found = run(replace(case, offers=offers, work=replace(case.work, needs={"carburetor": 2})))
    assert "replace:101" in {option.id for option in found.options}
    assert "replace:103" not in {option.id for option in found.options}
    assert found.warnings == ("Quote 103 for Quillon Q19-42 is left out: 1 in stock, and 2 are needed.",)


def test_a_part_that_fits_for_sure_costs_nothing_for_being_wrong(case: ComparisonCase) -> None:
    sure = replace(case.candidates[2], fit_confidence=1.0)
    never = replace(case.candidates[1], fit_confidence=0.0)
    found = run(replace(case, candidates=(case.candidates[0], never, sure)))
    assert get_line(get_option(found, "replace:103"), "wrong_part") == 0
    assert get_line(get_option(found, "replace:102"), "labour") == 0


def test_sending_back_counts_only_where_it_pays(
    case: ComparisonCase, make_supplier: Callable[..., SupplierTerms], make_offer: Callable[..., PartOffer]
) -> None:
    def wrong_part(price: str, returns: Returns) -> Decimal:
        supplier = make_supplier(1, returns=returns)
        found = run(replace(case, offers=(make_offer(3, price, supplier=supplier),), work=Work()))
        return get_line(get_option(found, "replace:103"), "wrong_part")

    taken, refused = Returns(30.0, Decimal(6), Decimal("0.10")), Returns(0.0, Decimal(6), Decimal("0.10"))
    # 60 less 10 % less 6 comes back with chance 0.1; of 6.00 nothing would.
    assert wrong_part("60.00", refused) - wrong_part("60.00", taken) == Decimal("4.80")
    assert wrong_part("6.00", refused) == wrong_part("6.00", taken)


def test_gaskets_that_lift_the_parcel_to_free_express_shorten_the_waiting(
    case: ComparisonCase,
    make_offer: Callable[..., PartOffer],
    make_supplier: Callable[..., SupplierTerms],
    make_need_offer: Callable[..., DatedNeedOffer],
) -> None:
    ways = (
        DeliveryMethod("post", None, FlatCharge(Decimal("4.95")), Decimal(35), 3.0),
        DeliveryMethod("express", None, FlatCharge(Decimal(9)), Decimal(35), 1.0),
    )
    shop = make_supplier(1, delivery=ways)
    gasket = make_need_offer("mounting_gasket", "3.10", 401)
    found = run(
        replace(
            case,
            offers=(make_offer(2, "32.50", frozenset(), supplier=shop),),
            need_offers=(replace(gasket, offer=replace(gasket.offer, supplier=shop)),),
            work=Work(needs={"mounting_gasket": 1}, waiting_cost_per_day=Decimal("0.70")),
        )
    )
    option = get_option(found, "replace:102")
    assert get_line(option, "missing_needs") == Decimal("-1.85")
    assert get_line(option, "waiting") == Decimal("0.70")  # a day at 0.70
    says = "Adding the mounting gasket saves more on the parcel than it costs: the amount is below zero."
    assert option.notes == (says,)


def test_what_comes_back_for_a_part_is_what_was_paid_for_it(
    case: ComparisonCase, make_offer: Callable[..., PartOffer], make_supplier: Callable[..., SupplierTerms]
) -> None:
    def wrong_part(price: str, *steps: PriceBreak) -> Decimal:
        offer = make_offer(3, price, supplier=make_supplier(1, returns=Returns(30.0, Decimal(0), Decimal(0))))
        offer = replace(offer, goods=replace(offer.goods, price_breaks=steps))
        return get_line(
            get_option(run(replace(case, offers=(offer,), work=Work())), "replace:103"), "wrong_part"
        )

    assert wrong_part("60.00", PriceBreak(1, Decimal(20))) == wrong_part("20.00")


def test_goods_from_abroad_say_where_no_import_rules_were_entered(
    case: ComparisonCase, make_offer: Callable[..., PartOffer], make_supplier: Callable[..., SupplierTerms]
) -> None:
    offers = (make_offer(2, "24.50", supplier=make_supplier(4, country="DE")), make_offer(3, "9.80"))
    found = run(replace(case, offers=offers))
    (note,) = get_option(found, "replace:102").notes
    assert note.startswith("It comes from DE, and no import rules are entered for workshop: ")
    assert get_option(found, "replace:103").notes == ()


def test_costs_in_two_foreign_currencies_are_told_in_the_jobs(
    case: ComparisonCase, make_supplier: Callable[..., SupplierTerms], make_offer: Callable[..., PartOffer]
) -> None:
    rates = (
        Rate("EUR", "USD", Decimal("1.10"), date(2026, 11, 20)),
        Rate("GBP", "EUR", Decimal("1.20"), date(2026, 11, 20)),
    )
    abroad = Destination("workshop", "US", "EUR", Decimal(0), None, Decimal(0))
    supplier = make_supplier(
        7, currency="GBP", delivery=(DeliveryMethod("post", None, FlatCharge(Decimal(0)), None, 3.0),)
    )
    found = run(
        replace(
            case,
            prices=replace(case.prices, destination=abroad, rates=rates),
            offers=(make_offer(2, "10.00", frozenset(), supplier=supplier),),
        )
    )
    option = get_option(found, "replace:102")
    assert (option.landed_lines[0].line, option.landed_lines[0].amount) == ("price", Decimal("13.20"))
    # The assumed prices of the gaskets are in the job's currency and come back as such.
    assert sum(need.amount for need in option.missing_needs) == pytest.approx(Decimal(5), abs=Decimal("0.02"))


def test_parts_of_one_design_share_their_fate(
    case: ComparisonCase, make_candidate: Callable[..., Candidate], make_offer: Callable[..., PartOffer]
) -> None:
    candidates = tuple(
        make_candidate(i, Grade.AFTERMARKET_UNBRANDED, fit) for i, fit in ((1, 0.7), (2, 0.7), (3, 0.3))
    )
    belief = Belief(np.array([0.7, 0.3]), np.array([[1.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
    offers = (make_offer(1, "9.00"), make_offer(2, "9.10"), make_offer(3, "30.00"))
    together = run(replace(case, candidates=candidates, belief=belief, offers=offers))
    alone = run(replace(case, candidates=candidates, offers=offers))
    assert get_option(together, "replace:101").fallback == "replace:103"
    assert get_option(alone, "replace:101").fallback == "replace:102"


def test_a_cleaning_in_vain_costs_its_labour_and_what_follows(case: ComparisonCase) -> None:
    dirty = replace(
        case,
        machine=replace(case.machine, hour_value=Decimal(12)),
        work=replace(case.work, condition={"fuel_deposit": "dirty"}),
    )
    found = run(dirty)
    clean = get_option(found, "clean")
    assert clean.fit_confidence == 0.80
    assert clean.landed_cost == 0
    assert clean.fallback == "replace:103"
    assert get_line(clean, "labour") == Decimal("8.00")  # 0.8 x 50 min at 12
    assert found.options[0] == clean
    assert found.plan is not None
    assert found.plan.steps == ("clean", "replace:103")
    assert found.answer.startswith("Best is to clean the old one: ")


def test_a_kit_that_may_not_serve_cures_less_and_is_sent_back_where_it_does_not(
    case: ComparisonCase, make_kit: Callable[..., KitOffer]
) -> None:
    work = replace(case.work, condition={"needle_and_seat": "worn"})
    machine = replace(case.machine, hour_value=Decimal(12))
    half = get_option(
        run(replace(case, work=work, machine=machine, kits=(make_kit(serves=0.5),))), "rebuild:300"
    )
    sure = get_option(
        run(replace(case, work=work, machine=machine, kits=(make_kit(serves=1.0),))), "rebuild:300"
    )
    assert half.fit_confidence == pytest.approx(0.425)
    assert sure.fit_confidence == 0.85
    assert half.expected_cost > sure.expected_cost
    never = get_option(
        run(replace(case, work=work, machine=machine, kits=(make_kit(serves=0.0),))), "rebuild:300"
    )
    assert never.fit_confidence == 0


def test_cures_that_cannot_fail_leave_nothing_to_fall_back_on(
    case: ComparisonCase, make_kit: Callable[..., KitOffer]
) -> None:
    sure = case.assumptions.with_overrides(
        {"cure_chance.dirty.clean": 1.0, "cure_chance.dirty.kit": 1.0}, Origin.JOB
    )
    work = replace(case.work, condition={"fuel_deposit": "dirty"})
    found = run(replace(case, assumptions=sure, work=work, kits=(make_kit(serves=1.0),)))
    assert get_line(get_option(found, "clean"), "wrong_part") == 0
    assert get_line(get_option(found, "rebuild:300"), "wrong_part") == 0


def test_fuel_left_in_over_winter_fails_every_grade_more(case: ComparisonCase) -> None:
    careless = case.assumptions.with_overrides({"winters_with_fuel_left_in": 1.0}, Origin.YOURS)
    drained, left_in = run(case), run(replace(case, assumptions=careless))
    for option_id in ("replace:101", "replace:103", "clean"):
        more = (
            get_option(left_in, option_id).expected_failures
            - get_option(drained, option_id).expected_failures
        )
        assert more > 0.05
