"""Landed cost of a parcel: what cannot be landed, and each line of what can."""

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitworth.costing.landed import Landed, land
from fitworth.costing.rates import Rate
from fitworth.costing.terms import (
    ChargeSchedule,
    DeliveryMethod,
    Destination,
    FlatCharge,
    Goods,
    ImportRules,
    PerItemCharge,
    PriceBreak,
    ProcessingFee,
    Returns,
    SupplierTerms,
    WeightBand,
    WeightCharge,
)
from fitworth.errors import InvalidValueError, NotComputableError
from fitworth.quantities.money import MINOR_DIGITS, from_minor, minor_unit, round_money
from fitworth.vocabulary import CustomsBasis

DAY = date(2026, 11, 20)
RATES = (Rate("EUR", "USD", Decimal("1.10"), DAY),)


def dec(text: str) -> Decimal:
    return Decimal(text)


def post(
    schedule: ChargeSchedule | None = None, free_above: str | None = None, **changes: object
) -> DeliveryMethod:
    charge = schedule if schedule is not None else FlatCharge(dec("4.57"))
    way = DeliveryMethod("post", None, charge, None if free_above is None else dec(free_above), 4.0)
    return replace(way, **changes)  # type: ignore[arg-type]


def shop(
    *ways: DeliveryMethod, country: str = "US", currency: str = "USD", taxed: bool = False
) -> SupplierTerms:
    terms = Returns(30.0, dec("4.50"), dec("0.15"))
    return SupplierTerms(1, "Vennor Bench Supply", country, currency, ways or (post(),), taxed, terms, 365.0)


def goods(price: str = "9.80", quote_id: int = 1, **changes: object) -> Goods:
    return replace(Goods(quote_id, "carburetor", dec(price)), **changes)  # type: ignore[arg-type]


def library(imports: ImportRules | None = None, sales_tax: str = "0", margin: str = "0") -> Destination:
    return Destination("tool library", "US", "USD", dec(sales_tax), imports, dec(margin))


def rules(**changes: object) -> ImportRules:
    return replace(ImportRules(CustomsBasis.GOODS, {}, dec("0"), None, dec("0")), **changes)  # type: ignore[arg-type]


def lines_of(
    parcel: Sequence[Goods], supplier: SupplierTerms, destination: Destination | None = None
) -> dict[str, str]:
    landed = land(parcel, supplier, destination or library(), RATES, DAY)
    return {line.line: str(line.amount) for line in landed.lines}


def test_an_empty_parcel_is_refused() -> None:
    with pytest.raises(InvalidValueError, match="at least one item"):
        land([], shop(), library(), RATES, DAY)


def test_a_shop_that_delivers_elsewhere_only_is_told() -> None:
    with pytest.raises(NotComputableError, match="Vennor Bench Supply does not deliver to US; enter"):
        land([goods()], shop(post(to_country="IE")), library(), RATES, DAY)


def test_a_method_that_does_not_serve_is_told_with_those_that_do() -> None:
    with pytest.raises(NotComputableError, match="not deliver to US by courier; choose one of post"):
        land([goods()], shop(), library(), RATES, DAY, method="courier")


def test_a_parcel_of_unknown_weight_has_no_charge_by_weight() -> None:
    by_weight = shop(post(WeightCharge((WeightBand(500.0, dec("4")), WeightBand(math.inf, dec("9"))))))
    with pytest.raises(NotComputableError, match="the weight of an item is not known; enter it"):
        land([goods(weight_g=100.0), goods(quote_id=2)], by_weight, library(), RATES, DAY)


def test_a_parcel_heavier_than_every_band_is_told() -> None:
    by_weight = shop(post(WeightCharge((WeightBand(500.0, dec("4")),))))
    with pytest.raises(NotComputableError, match="A parcel of 600 g is heavier"):
        land([goods(weight_g=300.0, quantity=2)], by_weight, library(), RATES, DAY)


def test_a_foreign_price_without_a_rate_is_told() -> None:
    with pytest.raises(NotComputableError, match="from GBP to USD"):
        land([goods()], shop(currency="GBP"), library(), RATES, DAY)


def test_price_and_delivery_add_up() -> None:
    landed = land([goods()], shop(), library(), RATES, DAY)
    assert [(line.line, str(line.amount)) for line in landed.lines] == [
        ("price", "9.80"),
        ("delivery", "4.57"),
    ]
    assert (str(landed.total), landed.method, landed.days, landed.currency) == ("14.37", "post", 4.0, "USD")


@pytest.mark.parametrize(
    ("quantity", "price"), [(1, "3.00"), (4, "12.00"), (5, "12.50"), (9, "22.50"), (10, "20.00")]
)
def test_the_greatest_break_reached_sets_the_price(quantity: int, price: str) -> None:
    breaks = (PriceBreak(10, dec("2.00")), PriceBreak(5, dec("2.50")))
    assert lines_of([goods("3.00", price_breaks=breaks, quantity=quantity)], shop())["price"] == price


def test_lines_of_one_quote_reach_a_break_together() -> None:
    half = goods("3.00", price_breaks=(PriceBreak(4, dec("2.00")),), quantity=2)
    assert lines_of([half, half], shop())["price"] == "8.00"
    assert lines_of([half, replace(half, quote_id=2)], shop())["price"] == "12.00"


@pytest.mark.parametrize(
    ("schedule", "delivery"),
    [
        pytest.param(FlatCharge(dec("4.57")), "4.57", id="flat"),
        pytest.param(PerItemCharge(dec("4.00"), dec("1.50")), "7.00", id="per item"),
        pytest.param(
            WeightCharge((WeightBand(500.0, dec("4")), WeightBand(600.0, dec("6")))), "6.00", id="weight"
        ),
        pytest.param(WeightCharge((WeightBand(math.inf, dec("5")),)), "5.00", id="one band for all"),
    ],
)
def test_delivery_goes_by_the_schedule(schedule: ChargeSchedule, delivery: str) -> None:
    assert lines_of([goods(quantity=3, weight_g=200.0)], shop(post(schedule)))["delivery"] == delivery


def test_free_delivery_whatever_the_weight_needs_no_weight() -> None:
    bands = WeightCharge((WeightBand(500.0, dec("4")), WeightBand(math.inf, dec("9"))))
    assert lines_of([goods("35.00")], shop(post(bands, free_above="35.00")))["delivery"] == "0.00"
    with pytest.raises(NotComputableError, match="the weight of an item is not known; enter it"):
        land([goods("34.99")], shop(post(bands, free_above="35.00")), library(), RATES, DAY)
    limited = WeightCharge((WeightBand(500.0, dec("4")),))
    with pytest.raises(NotComputableError, match="the weight of an item is not known; enter it"):
        land([goods("35.00")], shop(post(limited, free_above="35.00")), library(), RATES, DAY)


def test_one_band_for_all_needs_no_weight() -> None:
    assert (
        lines_of([goods()], shop(post(WeightCharge((WeightBand(math.inf, dec("5")),)))))["delivery"] == "5.00"
    )


@pytest.mark.parametrize(("price", "delivery"), [("34.99", "4.57"), ("35.00", "0.00"), ("35.01", "0.00")])
def test_delivery_is_free_from_the_sum_on(price: str, delivery: str) -> None:
    assert lines_of([goods(price)], shop(post(free_above="35.00")))["delivery"] == delivery


def test_the_cheapest_method_is_taken_unless_waiting_costs_more_or_one_is_chosen() -> None:
    courier = post(FlatCharge(dec("12.00")), method="courier", days=1.0)
    abroad = post(FlatCharge(dec("0.10")), method="boat", to_country="IE")
    both = shop(post(), courier, abroad)

    def choose(method: str | None = None, waiting: str = "0") -> Landed:
        return land([goods()], both, library(), RATES, DAY, method, dec(waiting))

    assert choose().method == "post"
    assert choose(waiting="2.47").method == "post"
    assert choose(waiting="2.48").method == "courier"
    assert choose("courier").total == dec("21.80")


def test_of_methods_that_cost_the_same_the_faster_is_taken() -> None:
    slow, fast = post(method="boat", days=20.0), post(method="post", days=4.0)
    assert land([goods()], shop(slow, fast), library(), RATES, DAY).method == "post"


def test_insurance_is_a_share_of_the_goods() -> None:
    assert lines_of([goods("50.00")], shop(post(insurance=dec("0.02"))))["insurance"] == "1.00"


def test_sales_tax_is_on_goods_and_delivery_unless_prices_include_it() -> None:
    taxed = library(sales_tax="0.06")
    assert lines_of([goods()], shop(), taxed)["sales_tax"] == "0.86"
    assert "sales_tax" not in lines_of([goods()], shop(taxed=True), taxed)


def test_goods_from_abroad_pay_nothing_where_no_import_rules_are_on_file() -> None:
    assert lines_of([goods()], shop(country="IE"), library(sales_tax="0.06")) == {
        "price": "9.80",
        "delivery": "4.57",
    }


def test_the_margin_of_the_bank_is_a_line_of_its_own_on_all_that_is_paid_in_foreign_money() -> None:
    abroad = shop(post(FlatCharge(dec("6.90"))), country="DE", currency="EUR")
    assert lines_of([goods("17.40")], abroad, library(margin="0.03")) == {
        "price": "19.14",
        "delivery": "7.59",
        "exchange": "0.80",
    }
    at_home = shop(currency="USD", country="DE")
    assert "exchange" not in lines_of([goods()], at_home, library(margin="0.03"))


def test_a_core_charge_goes_out_and_comes_back() -> None:
    landed = land([goods(core_charge=dec("15"), quantity=2)], shop(), library(sales_tax="0.10"), RATES, DAY)
    amounts = {line.line: line.amount for line in landed.lines}
    assert (amounts["core_charge"], amounts["core_refund"]) == (dec("30"), dec("-30"))
    assert amounts["sales_tax"] == dec("2.42")
    assert landed.total == dec("26.59")


def test_duty_goes_by_family_and_the_others_pay_the_default() -> None:
    duty = {"carburetor": dec("0.025"), "default": dec("0.10")}
    parcel = [goods("100"), goods("10", quote_id=2, family="spark_plug")]
    assert lines_of(parcel, shop(country="IE"), library(rules(duty=duty)))["duty"] == "3.50"
    only = {"carburetor": dec("0.025")}
    assert lines_of(parcel, shop(country="IE"), library(rules(duty=only)))["duty"] == "2.50"


def test_carriage_counts_for_duty_where_the_basis_says_so() -> None:
    duty = {"carburetor": dec("0.10")}
    with_carriage = rules(duty=duty, basis=CustomsBasis.GOODS_AND_CARRIAGE)
    abroad = shop(post(FlatCharge(dec("20"))), country="IE")
    parcel = [goods("30"), goods("10", quote_id=2, family="spark_plug")]
    assert lines_of(parcel, abroad, library(rules(duty=duty)))["duty"] == "3.00"
    assert lines_of(parcel, abroad, library(with_carriage))["duty"] == "4.50"
    free = [goods("0"), goods("0", quote_id=2, family="spark_plug")]
    assert lines_of(free, abroad, library(with_carriage))["duty"] == "1.00"


@pytest.mark.parametrize(("price", "taken"), [("800.00", False), ("800.01", True)])
def test_at_or_below_the_threshold_neither_duty_nor_fee_is_taken_but_import_tax_is(
    price: str, taken: bool
) -> None:
    fee = ProcessingFee(dec("0.003464"), dec("25"), dec("485"))
    imports = rules(duty={"default": dec("0.10")}, threshold=dec("800"), processing_fee=fee, tax=dec("0.20"))
    lines = lines_of([goods(price)], shop(country="IE"), library(imports))
    assert ("duty" in lines, "processing_fee" in lines) == (taken, taken)
    assert lines["import_tax"] == ("181.92" if taken else "160.91")


MONEYS = st.sampled_from(sorted(MINOR_DIGITS))
SHARES = st.decimals(0, 1, places=3)


@st.composite
def markets(draw: st.DrawFn) -> tuple[list[Goods], SupplierTerms, Destination, list[Rate]]:
    """A parcel without breaks and free delivery, so that no price crosses a threshold."""
    sold_in, paid_in = draw(MONEYS), draw(MONEYS)
    amounts = st.integers(0, 10**5).map(lambda count: from_minor(count, sold_in).amount)
    schedule = draw(
        st.one_of(
            st.builds(FlatCharge, amounts),
            st.builds(PerItemCharge, amounts, amounts),
            amounts.map(lambda amount: WeightCharge((WeightBand(math.inf, amount),))),
        )
    )
    way = DeliveryMethod("post", None, schedule, None, 3.0, draw(SHARES))
    supplier = replace(shop(way, taxed=draw(st.booleans())), country=draw(st.sampled_from(["US", "IE"])))
    family = st.sampled_from(["carburetor", "spark_plug"])
    parcel = [
        Goods(number, draw(family), draw(amounts), (), draw(st.integers(1, 4)), None, draw(amounts))
        for number in range(draw(st.integers(1, 3)))
    ]
    floor = draw(st.integers(0, 2000))
    imports = ImportRules(
        draw(st.sampled_from(CustomsBasis)),
        {"carburetor": draw(SHARES), "default": draw(SHARES)},
        dec("0"),
        ProcessingFee(draw(SHARES), from_minor(floor, paid_in).amount, from_minor(floor * 3, paid_in).amount),
        draw(SHARES),
    )
    destination = Destination("tool library", "US", paid_in, draw(SHARES), imports, draw(SHARES))
    rates = [Rate(sold_in, paid_in, draw(st.decimals("0.001", "1000", places=3)), DAY)]
    return parcel, replace(supplier, currency=sold_in), destination, rates


@given(markets())
def test_lines_are_whole_minor_units_and_sum_to_the_total_in_every_currency(
    market: tuple[list[Goods], SupplierTerms, Destination, list[Rate]],
) -> None:
    parcel, supplier, destination, rates = market
    landed = land(parcel, supplier, destination, rates, DAY)
    assert sum(line.amount for line in landed.lines) == landed.total
    for line in landed.lines:
        assert round_money(line.amount, landed.currency) == line.amount
        assert line.amount.as_tuple().exponent == minor_unit(landed.currency).as_tuple().exponent


@given(markets(), st.integers(1, 10**5))
def test_a_price_raised_across_no_threshold_raises_the_landed_cost_by_that_at_least(
    market: tuple[list[Goods], SupplierTerms, Destination, list[Rate]], count: int
) -> None:
    parcel, supplier, destination, rates = market
    supplier = replace(supplier, currency=destination.currency)
    # Where the customs value counts carriage, dearer goods of a family without duty take it off the others.
    assert destination.imports is not None
    destination = replace(destination, imports=replace(destination.imports, basis=CustomsBasis.GOODS))
    rise = from_minor(count, destination.currency).amount
    first = replace(parcel[0], price=parcel[0].price + rise)
    before = land(parcel, supplier, destination, rates, DAY).total
    after = land([first, *parcel[1:]], supplier, destination, rates, DAY).total
    assert after - before >= rise * first.quantity


@given(markets())
def test_a_core_charge_changes_the_total_by_no_more_than_the_margin_of_the_bank(
    market: tuple[list[Goods], SupplierTerms, Destination, list[Rate]],
) -> None:
    parcel, supplier, destination, rates = market
    without = [replace(item, core_charge=dec("0")) for item in parcel]
    at_par = replace(destination, exchange_margin=dec("0"))
    charged, plain = (land(those, supplier, at_par, rates, DAY).total for those in (parcel, without))
    assert charged == plain
