"""Which delivery methods carry a parcel, and what each charges for it."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import assert_never

from fitworth.costing.terms import (
    ZERO,
    DeliveryMethod,
    FlatCharge,
    PerItemCharge,
    SupplierTerms,
    WeightCharge,
)
from fitworth.errors import NotComputableError


@dataclass(frozen=True, slots=True)
class Contents:
    """The sums of a parcel that its costs depend on.

    Attributes:
        goods_sum: price of all goods [supplier's currency].
        by_family: price of the goods by family [supplier's currency].
        core_charge: deposits [supplier's currency].
        items: how many pieces lie in it.
        weight_g: of all of them [g]; NaN where one is unknown.
    """

    goods_sum: Decimal
    by_family: Mapping[str, Decimal]
    core_charge: Decimal
    items: int
    weight_g: float


@dataclass(frozen=True, slots=True)
class Charge:
    """What one method asks for a parcel [supplier's currency], and its days from order to bench [d]."""

    method: str
    days: float
    delivery: Decimal
    insurance: Decimal


def list_charges(
    contents: Contents, supplier: SupplierTerms, country: str, method: str | None
) -> list[Charge]:
    """Return what each method that carries the parcel to the country charges, one entry at least.

    Args:
        contents: the parcel.
        supplier: who sends it.
        country: where it goes.
        method: the only method to consider, or None for all.

    Raises:
        NotComputableError: when none carries it; it names the reason and the remedy.
    """
    serving = [way for way in supplier.delivery if way.to_country is None or way.to_country == country]
    if not serving:
        raise NotComputableError(
            f"{supplier.name} does not deliver to {country}; enter a delivery method that does, "
            f"or leave this supplier out."
        )
    chosen = [way for way in serving if method is None or way.method == method]
    if not chosen:
        raise NotComputableError(
            f"{supplier.name} does not deliver to {country} by {method}; "
            f"choose one of {', '.join(way.method for way in serving)}."
        )
    charges = [charge for way in chosen if (charge := _charge_way(contents, way)) is not None]
    if charges:
        return charges
    if math.isnan(contents.weight_g):
        raise NotComputableError(
            f"{supplier.name} charges delivery by weight, and the weight of an item is not known; enter it."
        )
    raise NotComputableError(
        f"A parcel of {contents.weight_g:g} g is heavier than {supplier.name} sends to {country}; "
        f"split the order or enter a charge for that weight."
    )


def _charge_way(contents: Contents, way: DeliveryMethod) -> Charge | None:
    delivery = _charge_delivery(contents, way)
    if way.free_above is not None and contents.goods_sum >= way.free_above and _carries_all(contents, way):
        delivery = ZERO
    if delivery is None:
        return None
    return Charge(way.method, way.days, delivery, contents.goods_sum * way.insurance)


def _carries_all(contents: Contents, way: DeliveryMethod) -> bool:
    """Return whether the parcel's weight, known or not, is within what the method carries."""
    if not isinstance(way.schedule, WeightCharge):
        return True
    heaviest_g = way.schedule.bands[-1].up_to_g
    return math.isinf(heaviest_g) or contents.weight_g <= heaviest_g


def _charge_delivery(contents: Contents, way: DeliveryMethod) -> Decimal | None:
    match way.schedule:
        case FlatCharge(amount):
            return amount
        case PerItemCharge(first, each_further):
            return first + (contents.items - 1) * each_further
        case WeightCharge(bands):
            if math.isinf(bands[-1].up_to_g) and len(bands) == 1:
                return bands[0].amount
            # An unknown weight (NaN) is within no band.
            return next((band.amount for band in bands if contents.weight_g <= band.up_to_g), None)
        case _:
            assert_never(way.schedule)
