"""Missing needs: what cannot be completed, and the cheapest completion, equal to trying everything."""

import itertools
import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitworth.costing.landed import land
from fitworth.costing.need_parcels import OwnParcel
from fitworth.costing.needs import Completion, FallbackPrice, NeedOffer, complete_needs
from fitworth.costing.rates import Rate
from fitworth.costing.terms import (
    DeliveryMethod,
    Destination,
    FlatCharge,
    Goods,
    ImportRules,
    PerItemCharge,
    PriceBreak,
    Returns,
    SupplierTerms,
    WeightBand,
    WeightCharge,
)
from fitworth.errors import InvalidValueError, NotComputableError
from fitworth.vocabulary import CustomsBasis

DAY = date(2026, 11, 20)
ZERO = Decimal(0)
HOME = Destination("tool library", "US", "USD", ZERO, None, ZERO)
RETURNS = Returns(30.0, ZERO, ZERO)


def shop(
    number: int, delivery: str = "4.57", free_above: str | None = None, days: float = 4.0
) -> SupplierTerms:
    free = None if free_above is None else Decimal(free_above)
    ways = (DeliveryMethod("post", "US", FlatCharge(Decimal(delivery)), free, days),)
    return SupplierTerms(number, f"Shop {number}", "US", "USD", ways, False, RETURNS, 90.0)


def offer(quote_id: int, supplier: SupplierTerms, price: str, *needs: str) -> NeedOffer:
    goods = Goods(quote_id, "gasket_set", Decimal(price), weight_g=10.0, includes=frozenset(needs))
    return NeedOffer(goods, supplier)


def complete(
    missing: Mapping[str, int],
    offers: Sequence[NeedOffer],
    own_parcel: OwnParcel | None = None,
    fallback_price: FallbackPrice | None = None,
    waiting: str = "0",
) -> Completion:
    prices: FallbackPrice = {} if fallback_price is None else fallback_price
    return complete_needs(missing, offers, own_parcel, HOME, [], DAY, prices, Decimal(waiting))


def list_bought(completion: Completion) -> list[tuple[int | None, str, int]]:
    return [(item.quote_id, str(item.amount), item.quantity) for item in completion.purchases]


def test_a_quantity_below_one_is_refused_for_every_need() -> None:
    with pytest.raises(InvalidValueError) as caught:
        complete({"fuel_hose": 0, "bowl_gasket": 1, "o/ring": -1}, [])
    assert [fault.where for fault in caught.value.faults] == ["/fuel_hose", "/o~1ring"]


def test_every_need_without_offer_and_assumption_is_told() -> None:
    with pytest.raises(NotComputableError) as caught:
        complete({"fuel_hose": 1, "bowl_gasket": 1, "spacer": 1}, [], fallback_price={"spacer": Decimal(2)})
    assert [fault.where for fault in caught.value.faults] == ["/fuel_hose", "/bowl_gasket"]
    assert "enter a quote or an assumption" in str(caught.value)


def test_an_own_parcel_that_cannot_be_landed_is_told() -> None:
    nowhere = replace(shop(1), delivery=())
    with pytest.raises(NotComputableError, match="does not deliver"):
        complete({}, [], own_parcel=((Goods(1, "carburetor", Decimal(20)),), nowhere))


def test_goods_too_heavy_for_any_parcel_together_are_told() -> None:
    bands = WeightCharge((WeightBand(15.0, Decimal(4)),))
    light = replace(shop(1), delivery=(DeliveryMethod("letter", None, bands, None, 3.0),))
    with pytest.raises(NotComputableError, match=r"together \(bowl_gasket\); enter a charge"):
        complete({"bowl_gasket": 2}, [offer(1, light, "1.00", "bowl_gasket")])
    assert complete({"bowl_gasket": 1}, [offer(1, light, "1.00", "bowl_gasket")]).total == 5


def test_offers_that_cannot_come_are_left_out_and_told() -> None:
    offers = [
        offer(1, replace(shop(1), delivery=()), "0.10", "fuel_hose"),
        offer(2, replace(shop(2), currency="GBP"), "0.10", "fuel_hose"),
        offer(3, shop(3), "2.00", "fuel_hose"),
        offer(4, replace(shop(4), delivery=()), "0.10", "spark_plug"),
    ]
    completion = complete({"fuel_hose": 1}, offers)
    assert list_bought(completion) == [(3, "6.57", 1)]
    assert [left.quote_id for left in completion.left_out] == [1, 2]
    assert "from GBP to USD" in completion.left_out[1].says


def test_nothing_missing_costs_nothing() -> None:
    assert complete({}, [offer(1, shop(1), "1.00", "fuel_hose")]) == Completion(
        (), Decimal("0.00"), 0.0, "USD"
    )
    own = ((Goods(9, "carburetor", Decimal(20)),), shop(1, days=6.0))
    assert complete({}, [], own_parcel=own).days == 6.0


@pytest.mark.parametrize("as_function", [True, False])
def test_a_need_that_nobody_offers_is_priced_by_the_assumption(as_function: bool) -> None:
    prices = {"fuel_hose": Decimal("1.255")}
    completion = complete({"fuel_hose": 2}, [], fallback_price=prices.__getitem__ if as_function else prices)
    assert list_bought(completion) == [(None, "2.51", 2)]
    assert completion.list_by_need() == (("fuel_hose", Decimal("2.51"), None),)


def test_thousands_of_one_need_are_counted_as_a_few_are() -> None:
    offers = [offer(1, shop(1), "0.10", "fuel_hose"), offer(2, shop(2, "9.00"), "0.09", "fuel_hose")]
    assert list_bought(complete({"fuel_hose": 3000}, offers)) == [(2, "279.00", 3000)]


def test_a_search_that_would_take_minutes_ends_with_the_best_found_and_says_so() -> None:
    needs = ("fuel_hose", "bowl_gasket", "intake_o_ring")
    prices = (
        ("3.55", "0.95", "2.10"),
        ("3.20", "1.40", "1.85"),
        ("2.90", "1.15", "2.60"),
        ("3.35", "1.05", "2.30"),
    )
    offers = [
        offer(10 * number + place, shop(number, f"{2 + 2 * number}.00", f"{15 + 9 * number}.00"), price, need)
        for number, of_shop in enumerate(prices, start=1)
        for place, (need, price) in enumerate(zip(needs, of_shop, strict=True))
    ]
    many = complete(dict.fromkeys(needs, 12), offers)
    assert not many.proven
    # Each need from its cheapest shop, three deliveries paid: whoever stops early knows that at least.
    assert many.total <= 12 * (Decimal("2.90") + Decimal("0.95") + Decimal("1.85")) + 4 + 6 + 8
    assert complete(dict.fromkeys(needs, 2), offers).proven


def test_goods_of_one_shop_share_its_delivery() -> None:
    offers = [
        offer(1, shop(1), "3.00", "mounting_gasket"),
        offer(2, shop(2, "4.00"), "2.00", "mounting_gasket"),
        offer(3, shop(1), "4.00", "fuel_hose"),
        offer(4, shop(3, "3.00"), "2.50", "fuel_hose"),
    ]
    completion = complete({"mounting_gasket": 1, "fuel_hose": 1}, offers)
    assert completion.total == Decimal("11.50")
    assert [item.quote_id for item in completion.purchases] == [2, 4]
    cheaper_together = complete({"mounting_gasket": 1, "fuel_hose": 1}, [*offers[:2], offers[2]])
    assert completion.total < cheaper_together.total == Decimal("11.57")
    assert list_bought(cheaper_together) == [(1, "4.96", 1), (3, "6.61", 1)]


def test_a_kit_serves_several_needs_and_they_bear_it_in_equal_parts() -> None:
    offers = [
        offer(1, shop(1), "3.00", "mounting_gasket"),
        offer(2, shop(1), "3.00", "bowl_gasket"),
        offer(3, shop(1), "5.56", "bowl_gasket", "mounting_gasket", "needle_and_seat"),
    ]
    completion = complete({"mounting_gasket": 1, "bowl_gasket": 1}, offers)
    assert list_bought(completion) == [(3, "10.13", 1)]
    assert completion.purchases[0].needs == ("mounting_gasket", "bowl_gasket")
    assert completion.list_by_need() == (
        ("mounting_gasket", Decimal("5.07"), 3),
        ("bowl_gasket", Decimal("5.06"), 3),
    )


def test_the_own_parcel_carries_what_is_missing_for_its_price_alone() -> None:
    own = ((Goods(9, "carburetor", Decimal("24.50")),), shop(1))
    offers = [offer(1, shop(1), "3.10", "mounting_gasket"), offer(2, shop(2), "0.50", "mounting_gasket")]
    assert list_bought(complete({"mounting_gasket": 1}, offers, own)) == [(1, "3.10", 1)]
    assert list_bought(complete({"mounting_gasket": 1}, offers)) == [(2, "5.07", 1)]


def test_what_lifts_the_own_parcel_to_free_delivery_costs_less_than_nothing() -> None:
    own = ((Goods(9, "carburetor", Decimal("33.00")),), shop(1, free_above="35.00"))
    offers = [
        offer(1, own[1], "2.00", "mounting_gasket"),
        offer(2, own[1], "1.50", "mounting_gasket"),
        offer(3, shop(2), "0.10", "mounting_gasket"),
    ]
    assert list_bought(complete({"mounting_gasket": 1}, offers, own)) == [(1, "-2.57", 1)]


def test_waiting_may_make_the_dearer_and_faster_shop_right() -> None:
    offers = [
        offer(1, shop(1, days=20.0), "1.00", "fuel_hose"),
        offer(2, shop(2, days=2.0), "3.00", "fuel_hose"),
    ]
    assert complete({"fuel_hose": 1}, offers).purchases[0].quote_id == 1
    in_a_hurry = complete({"fuel_hose": 1}, offers, waiting="1.00")
    assert (in_a_hurry.purchases[0].quote_id, in_a_hurry.days) == (2, 2.0)
    own = ((Goods(9, "carburetor", Decimal(20)),), shop(3, days=30.0))
    late_anyway = complete({"fuel_hose": 1}, offers, own, waiting="1.00")
    assert (late_anyway.purchases[0].quote_id, late_anyway.days) == (1, 30.0)


def test_of_one_shop_without_free_delivery_the_cheaper_of_equal_goods_is_taken() -> None:
    offers = [offer(number, shop(1), price, "fuel_hose") for number, price in [(1, "3"), (2, "2"), (3, "4")]]
    assert list_bought(complete({"fuel_hose": 3}, offers)) == [(2, "10.57", 3)]


@st.composite
def problems(
    draw: st.DrawFn,
) -> tuple[dict[str, int], list[NeedOffer], OwnParcel | None, Destination, list[Rate], Decimal]:
    """A few needs, offers and shops, with all that makes a parcel's cost jump."""
    cents = st.integers(0, 900).map(lambda count: Decimal(count) / 100)
    schedule = st.one_of(
        st.builds(FlatCharge, cents),
        st.builds(PerItemCharge, cents, cents),
        st.tuples(cents, cents).map(
            lambda two: WeightCharge((WeightBand(25.0, two[0]), WeightBand(60.0, two[1])))
        ),
    )
    free = st.none() | st.integers(0, 25).map(Decimal)
    way = st.builds(
        DeliveryMethod, st.just("post"), st.none(), schedule, free, st.sampled_from([1.0, 4.0, 9.0])
    )
    suppliers = [
        replace(
            shop(number),
            delivery=tuple(draw(st.lists(way, min_size=1, max_size=2))),
            country=draw(st.sampled_from(["US", "IE"])),
            currency=draw(st.sampled_from(["USD", "EUR"])),
            prices_include_tax=draw(st.booleans()),
        )
        for number in range(draw(st.integers(1, 3)))
    ]
    names = ["bowl_gasket", "fuel_hose", "mounting_gasket"][: draw(st.integers(1, 3))]
    missing = {name: draw(st.integers(1, 2)) for name in names}
    goods = st.builds(
        Goods,
        st.integers(0, 10**6),
        st.sampled_from(["gasket_set", "fuel_hose"]),
        cents,
        st.just(()) | cents.map(lambda price: (PriceBreak(2, price),)),
        st.just(1),
        st.sampled_from([5.0, 20.0]),
        st.just(ZERO),
        st.frozensets(st.sampled_from(names), min_size=1),
    )
    offers = [
        NeedOffer(replace(draw(goods), quote_id=number), draw(st.sampled_from(suppliers)))
        for number in range(draw(st.integers(1, 4)))
    ]
    own = draw(st.none() | st.sampled_from(suppliers))
    own_goods = replace(draw(goods), quote_id=99, price=draw(st.integers(0, 25).map(Decimal)))
    rules = ImportRules(
        CustomsBasis.GOODS_AND_CARRIAGE, {"fuel_hose": Decimal("0.1")}, Decimal(8), None, Decimal("0.2")
    )
    home = Destination("tool library", "US", "USD", Decimal("0.06"), rules, Decimal("0.03"))
    rates = [Rate("EUR", "USD", Decimal("1.10"), DAY)]
    waiting = draw(st.sampled_from([ZERO, Decimal("0.50")]))
    return missing, offers, None if own is None else ((own_goods,), own), home, rates, waiting


def try_everything(
    missing: dict[str, int],
    offers: list[NeedOffer],
    own: OwnParcel | None,
    home: Destination,
    rates: list[Rate],
    waiting: Decimal,
) -> Decimal | None:
    """Return total and waiting of the cheapest cover without a superfluous unit, parcels landed afresh."""
    best: Decimal | None = None
    most = [max(missing[need] for need in each.goods.includes) for each in offers]
    for counts in itertools.product(*(range(count + 1) for count in most)):
        if not _is_lean_cover(missing, offers, counts):
            continue
        parcels: dict[int, tuple[list[Goods], SupplierTerms]] = {}
        if own is not None:
            parcels[own[1].supplier_id] = (list(own[0]), own[1])
        for each, count in zip(offers, counts, strict=True):
            if count:
                goods, _ = parcels.setdefault(each.supplier.supplier_id, ([], each.supplier))
                goods.append(replace(each.goods, quantity=count))
        try:
            landed = [
                land(goods, whose, home, rates, DAY, None, waiting) for goods, whose in parcels.values()
            ]
        except NotComputableError:
            continue
        cost = sum(each.total for each in landed) + waiting * Decimal(max(each.days for each in landed))
        if own is not None:
            cost -= land(own[0], own[1], home, rates, DAY, None, waiting).total
        best = cost if best is None else min(best, cost)
    return best


def _is_lean_cover(missing: dict[str, int], offers: list[NeedOffer], counts: tuple[int, ...]) -> bool:
    covered: Counter[str] = Counter()
    for each, count in zip(offers, counts, strict=True):
        covered.update(dict.fromkeys(each.goods.includes, count))
    needed = all(covered[need] >= quantity for need, quantity in missing.items())
    return needed and all(
        any(covered[need] == missing[need] for need in each.goods.includes)
        for each, count in zip(offers, counts, strict=True)
        if count
    )


@settings(max_examples=300, deadline=None)
@given(problems())
def test_the_completion_is_the_cheapest_of_all(
    problem: tuple[dict[str, int], list[NeedOffer], OwnParcel | None, Destination, list[Rate], Decimal],
) -> None:
    missing, offers, own, home, rates, waiting = problem
    offered = {
        need: count for need, count in missing.items() if any(need in one.goods.includes for one in offers)
    }
    cheapest = try_everything(offered, offers, own, home, rates, waiting) if offered else ZERO
    assumed = {need: Decimal("3.33") for need in missing}
    if cheapest is None:
        with pytest.raises(NotComputableError):
            complete_needs(missing, offers, own, home, rates, DAY, assumed, waiting)
        return
    found = complete_needs(missing, offers, own, home, rates, DAY, assumed, waiting)
    by_assumption = sum(count * assumed[need] for need, count in missing.items() if need not in offered)
    spent = found.total - by_assumption + (waiting * Decimal(found.days) if offered else ZERO)
    assert spent == cheapest
    assert sum(item.amount for item in found.purchases) == found.total
    assert sum(amount for _, amount, _ in found.list_by_need()) == found.total
    assert {need for item in found.purchases for need in item.needs} == set(missing)
    assert all(math.isfinite(item.amount) and item.needs for item in found.purchases)
