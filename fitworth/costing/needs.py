"""Missing needs: the cheapest set of purchases that completes an option."""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from fitworth.costing.completion_search import Cover, find_cheapest, find_last_days
from fitworth.costing.need_bounds import NeedOffer
from fitworth.costing.need_parcels import Market, NeedParcels, OwnParcel
from fitworth.costing.rates import Rate
from fitworth.costing.terms import ZERO, Destination
from fitworth.errors import Fault, NotComputableError, escape_pointer, raise_faults
from fitworth.quantities.money import round_money, share_by_value

__all__ = ["Completion", "FallbackPrice", "LeftOut", "NeedOffer", "OwnParcel", "Purchase", "complete_needs"]

FallbackPrice = Callable[[str], Decimal] | Mapping[str, Decimal]


@dataclass(frozen=True, slots=True)
class Purchase:
    """What one quote, or an assumption where `quote_id` is None, adds to an option's cost.

    Attributes:
        needs: what it covers that no purchase before it does.
        amount: what it adds, its share of taxes and delivery included; below zero where it lifts the option's
            own parcel to free delivery [destination's currency].
        quote_id: the quote, or None for an assumed price.
        quantity: how many items.
    """

    needs: tuple[str, ...]
    amount: Decimal
    quote_id: int | None
    quantity: int


@dataclass(frozen=True, slots=True)
class LeftOut:
    """An offer that could not be counted, and why."""

    quote_id: int
    says: str


@dataclass(frozen=True, slots=True)
class Completion:
    """What completes an option.

    Attributes:
        purchases: what is bought, and the needs that are priced by assumption.
        total: their sum [destination's currency].
        days: until the last parcel, the option's own too, is on the bench [d].
        currency: the destination's.
        left_out: offers that could not be counted.
        proven: whether it is surely the cheapest; else the best that was found in time.
    """

    purchases: tuple[Purchase, ...]
    total: Decimal
    days: float
    currency: str
    left_out: tuple[LeftOut, ...] = ()
    proven: bool = True

    def list_by_need(self) -> tuple[tuple[str, Decimal, int | None], ...]:
        """Return need, amount and quote of each need; the needs of a purchase bear it in equal parts."""
        return tuple(
            (need, amount, purchase.quote_id)
            for purchase in self.purchases
            for need, amount in zip(
                purchase.needs,
                share_by_value(purchase.amount, [ZERO] * len(purchase.needs), self.currency),
                strict=True,
            )
        )


def complete_needs(
    missing: Mapping[str, int],
    offers: Sequence[NeedOffer],
    own_parcel: OwnParcel | None,
    destination: Destination,
    rates: Iterable[Rate],
    as_of: date,
    fallback_price: FallbackPrice,
    waiting_cost_per_day: Decimal = ZERO,
) -> Completion:
    """Return the cheapest set of purchases that covers all missing needs.

    Goods of one supplier share a parcel, the option's own included: what completes it then costs only what it
    adds to that parcel, less than nothing where it lifts it to free delivery. Nothing is bought that no need
    asks for. An offer that cannot be delivered or converted is left out, and told; a need that no other offer
    covers is priced by the assumption.

    Args:
        missing: needs and how many of each, 1 or more.
        offers: what covers them; their goods' quantity is not looked at, `includes` says what one covers.
        own_parcel: the option's own goods and their supplier, or None where nothing is bought for it.
        destination: where all goes.
        rates: exchange rates on file.
        as_of: the day whose rates count.
        fallback_price: landed price of one unit of a need that nobody offers [destination's currency].
        waiting_cost_per_day: counts in the choice, not in the amounts [destination's currency].

    Raises:
        InvalidValueError: for a quantity below 1.
        NotComputableError: when the own parcel cannot be landed, no parcel can carry the needs together, or a
            need has neither offer nor assumption.
    """
    raise_faults(
        Fault(f"/{escape_pointer(need)}", f"The quantity of {need} must be 1 or more.")
        for need, quantity in missing.items()
        if quantity < 1
    )
    market = Market(destination, tuple(rates), as_of, waiting_cost_per_day)
    parcels = NeedParcels(missing, offers, own_parcel, market)
    unoffered = [need for need in missing if need not in parcels.offered]
    cheapest = find_cheapest(parcels.problem)
    if cheapest.cover is None:
        raise NotComputableError(
            f"No parcel carries what is missing together ({', '.join(parcels.offered)}); "
            f"enter a charge for heavier parcels."
        )
    bought = _buy(parcels, cheapest.cover, missing, destination.currency)
    purchases = (*bought, *_assume(unoffered, missing, fallback_price, destination.currency))
    total = sum((purchase.amount for purchase in purchases), round_money(ZERO, destination.currency))
    left_out = tuple(LeftOut(quote_id, says) for quote_id, says in parcels.left_out)
    days = find_last_days(parcels.problem, cheapest.cover)
    return Completion(purchases, total, days, destination.currency, left_out, cheapest.proven)


def _buy(parcels: NeedParcels, cover: Cover, missing: Mapping[str, int], currency: str) -> list[Purchase]:
    left, purchases = Counter(missing), []
    for sent in cover:
        bought = [(parcels.offers[j].goods, count) for j, count in sent.picks]
        amounts = share_by_value(sent.price.cost, [goods.price * count for goods, count in bought], currency)
        for (goods, count), amount in zip(bought, amounts, strict=True):
            served = tuple(need for need in parcels.offered if need in goods.includes and left[need] > 0)
            left.subtract(dict.fromkeys(served, count))
            purchases.append(Purchase(served, amount, goods.quote_id, count))
    purchases.sort(key=lambda purchase: parcels.offered.index(purchase.needs[0]))
    return purchases


def _assume(
    unoffered: Sequence[str], missing: Mapping[str, int], fallback_price: FallbackPrice, currency: str
) -> list[Purchase]:
    prices: dict[str, Decimal] = {}
    faults: list[Fault] = []
    for need in unoffered:
        try:
            prices[need] = (
                fallback_price[need] if isinstance(fallback_price, Mapping) else fallback_price(need)
            )
        except KeyError:
            says = f"Nobody offers {need}, and no price is assumed for it; enter a quote or an assumption."
            faults.append(Fault(f"/{escape_pointer(need)}", says))
    if faults:
        raise NotComputableError(faults)
    return [
        Purchase((need,), round_money(price * missing[need], currency), None, missing[need])
        for need, price in prices.items()
    ]
