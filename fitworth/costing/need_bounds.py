"""Offers of needs, without those that the cheapest completion cannot have, and bounds of their costs."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from fitworth.costing.terms import ZERO, ChargeSchedule, FlatCharge, Goods, PerItemCharge, SupplierTerms


@dataclass(frozen=True, slots=True)
class NeedOffer:
    """Goods that cover needs, and who sells them."""

    goods: Goods
    supplier: SupplierTerms


def drop_unreached(
    offers: Sequence[NeedOffer], missing: Mapping[str, int], own_goods: Mapping[int, Sequence[Goods]]
) -> list[NeedOffer]:
    """Return the offers with their suppliers' free delivery struck out where no parcel can reach its sum.

    A parcel without a superfluous item holds at most as many items for each need as are missing of it, so its
    dearest one is known.

    Args:
        offers: all that count.
        missing: needs and how many of each.
        own_goods: what travels anyway, by supplier.
    """
    dearest: defaultdict[tuple[int, str], Decimal] = defaultdict(Decimal)
    for offer in offers:
        for need in offer.goods.includes.intersection(missing):
            place = offer.supplier.supplier_id, need
            dearest[place] = max(dearest[place], _find_greatest_price(offer.goods))
    greatest: defaultdict[int, Decimal] = defaultdict(Decimal)
    for (supplier_id, need), price in dearest.items():
        greatest[supplier_id] += missing[need] * price
    for supplier_id, goods in own_goods.items():
        greatest[supplier_id] += sum((item.quantity * _find_greatest_price(item) for item in goods), ZERO)
    trimmed = {
        offer.supplier.supplier_id: _strike_out(offer.supplier, greatest[offer.supplier.supplier_id])
        for offer in offers
    }
    return [NeedOffer(offer.goods, trimmed[offer.supplier.supplier_id]) for offer in offers]


def _strike_out(supplier: SupplierTerms, greatest_sum: Decimal) -> SupplierTerms:
    ways = tuple(
        replace(way, free_above=None) if way.free_above is not None and way.free_above > greatest_sum else way
        for way in supplier.delivery
    )
    return replace(supplier, delivery=ways)


def drop_dominated(offers: list[NeedOffer], missing: Mapping[str, int]) -> list[NeedOffer]:
    """Return the offers without those that one of the same supplier beats in every parcel.

    A dearer item can pay where it lifts the parcel to free delivery, so such suppliers keep all.
    """
    kept: dict[object, NeedOffer] = {}
    for offer in offers:
        goods, key = offer.goods, object()
        if not goods.price_breaks and all(way.free_above is None for way in offer.supplier.delivery):
            covered = goods.includes.intersection(missing)
            key = offer.supplier.supplier_id, covered, goods.family, goods.weight_g, goods.core_charge
        if key not in kept or goods.price < kept[key].goods.price:
            kept[key] = offer
    return list(kept.values())


def find_least_price(goods: Goods) -> float:
    """Return a lower bound of the price of one item, whatever the quantity [supplier's currency]."""
    return float(min([goods.price, *(step.price for step in goods.price_breaks)]))


def _find_greatest_price(goods: Goods) -> Decimal:
    return max([goods.price, *(step.price for step in goods.price_breaks)])


def find_least_charge(schedule: ChargeSchedule) -> float:
    """Return a lower bound of the charge of any parcel [supplier's currency]."""
    if isinstance(schedule, FlatCharge):
        return float(schedule.amount)
    if isinstance(schedule, PerItemCharge):
        return float(schedule.first)
    return float(min(band.amount for band in schedule.bands))
