"""The parcels that may complete an option, their prices, and the bounds that the search goes by."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal

from fitworth.costing.completion_search import Candidate, Delivery, ParcelPrice, Picks, Problem
from fitworth.costing.landed import Landed, land
from fitworth.costing.need_bounds import (
    NeedOffer,
    drop_dominated,
    drop_unreached,
    find_least_charge,
    find_least_price,
)
from fitworth.costing.rates import Rate, find_rate
from fitworth.costing.terms import (
    ZERO,
    Destination,
    Goods,
    SupplierTerms,
)
from fitworth.errors import NotComputableError
from fitworth.quantities.money import minor_unit

OwnParcel = tuple[tuple[Goods, ...], SupplierTerms]

# A bound counts price, delivery, margin and tax: rounding lowers each line by half a minor unit at most, and
# the tax also by that of the lines that it is on.
_SLACK_PER_PARCEL = 3


@dataclass(frozen=True, slots=True)
class _Own:
    goods: tuple[Goods, ...]
    supplier: SupplierTerms
    landed: Landed


@dataclass(frozen=True, slots=True)
class Market:
    """Where goods go, the day and its rates, and what each day of waiting costs [destination's currency]."""

    destination: Destination
    rates: tuple[Rate, ...]
    as_of: date
    waiting_cost_per_day: Decimal
    _rates_by_currency: dict[str, tuple[Rate, ...]] = field(default_factory=dict)

    def land(self, goods: Sequence[Goods], supplier: SupplierTerms) -> Landed:
        """Return the landed cost of a parcel; the rates on file are searched once for each currency."""
        rates = self._rates_by_currency.get(supplier.currency)
        if rates is None:
            pair = supplier.currency, self.destination.currency
            rate = find_rate(self.rates, *pair, self.as_of)
            rates = () if rate is None else (Rate(*pair, rate, self.as_of),)
            self._rates_by_currency[supplier.currency] = rates
        return land(
            goods,
            supplier,
            self.destination,
            rates,
            self.as_of,
            waiting_cost_per_day=self.waiting_cost_per_day,
        )

    def find_least_factor(self, supplier: SupplierTerms) -> float:
        """Return a lower bound of what one unit of the supplier's currency costs [destination's currency]."""
        destination, tax = self.destination, ZERO
        if supplier.country != destination.country:
            tax = ZERO if destination.imports is None else destination.imports.tax
        elif not supplier.prices_include_tax:
            tax = destination.sales_tax
        if supplier.currency == destination.currency:
            return float(1 + tax)
        (rate,) = self._rates_by_currency[supplier.currency]
        return float(rate.rate * (1 + tax + destination.exchange_margin))


class NeedParcels:
    """The offers that count, and what a parcel of them and of the option's own goods costs.

    Each parcel is landed once, however often the search asks for it.
    """

    def __init__(
        self,
        missing: Mapping[str, int],
        offers: Iterable[NeedOffer],
        own_parcel: OwnParcel | None,
        market: Market,
    ) -> None:
        self._market, self._missing = market, missing
        self._own = None if own_parcel is None else _Own(*own_parcel, market.land(*own_parcel))
        self._prices: dict[Picks, ParcelPrice | None] = {}
        self.left_out: list[tuple[int, str]] = []
        own_goods = {} if self._own is None else {self._own.supplier.supplier_id: self._own.goods}
        usable = drop_dominated(
            drop_unreached(self._list_usable(missing, offers), missing, own_goods), missing
        )
        self.offered = [need for need in missing if any(need in offer.goods.includes for offer in usable)]
        self._suppliers = list({offer.supplier.supplier_id: offer.supplier for offer in usable}.values())
        self.offers = sorted(usable, key=self._rank)
        self.problem = self._pose(missing)

    def find_price(self, parcel: int, picks: Picks) -> ParcelPrice | None:
        """Return what the picks cost or add to the own parcel; None where no parcel carries them."""
        if picks not in self._prices:
            self._prices[picks] = self._price(self._suppliers[parcel], picks)
        return self._prices[picks]

    def _price(self, supplier: SupplierTerms, picks: Picks) -> ParcelPrice | None:
        goods = [replace(self.offers[j].goods, quantity=count) for j, count in picks]
        try:
            if self._own is not None and self._is_own(supplier):
                landed = self._market.land((*self._own.goods, *goods), supplier)
                return ParcelPrice(landed.total - self._own.landed.total, landed.days)
            landed = self._market.land(goods, supplier)
        except NotComputableError:
            return None
        return ParcelPrice(landed.total, landed.days)

    def _list_usable(self, missing: Mapping[str, int], offers: Iterable[NeedOffer]) -> list[NeedOffer]:
        usable = []
        for offer in offers:
            if offer.goods.includes.isdisjoint(missing):
                continue
            try:
                self._market.land((replace(offer.goods, quantity=1),), offer.supplier)
            except NotComputableError as error:
                self.left_out.append((offer.goods.quote_id, str(error)))
            else:
                usable.append(offer)
        return usable

    def _pose(self, missing: Mapping[str, int]) -> Problem:
        place = {need: position for position, need in enumerate(self.offered)}
        parcel_of = {supplier.supplier_id: parcel for parcel, supplier in enumerate(self._suppliers)}
        candidates = tuple(
            Candidate(
                frozenset(place[need] for need in offer.goods.includes if need in place),
                parcel_of[offer.supplier.supplier_id],
                find_least_price(offer.goods) * self._market.find_least_factor(offer.supplier),
            )
            for offer in self.offers
        )
        slack_units = _SLACK_PER_PARCEL * (len(self._suppliers) + 1)
        own_parcel = next((i for i, supplier in enumerate(self._suppliers) if self._is_own(supplier)), None)
        return Problem(
            demands=tuple(missing[need] for need in self.offered),
            candidates=candidates,
            deliveries=tuple(self._list_deliveries(supplier) for supplier in self._suppliers),
            start_sums=tuple(self._find_start_sum(supplier) for supplier in self._suppliers),
            base_cost=self._find_base_cost(),
            slack=slack_units * float(minor_unit(self._market.destination.currency)),
            price=self.find_price,
            waiting_cost_per_day=self._market.waiting_cost_per_day,
            own_parcel=own_parcel,
            own_days=0.0 if self._own is None else self._own.landed.days,
        )

    def _is_own(self, supplier: SupplierTerms) -> bool:
        return self._own is not None and supplier.supplier_id == self._own.supplier.supplier_id

    def _list_deliveries(self, supplier: SupplierTerms) -> tuple[Delivery, ...]:
        factor = self._market.find_least_factor(supplier)
        return tuple(
            Delivery(
                find_least_charge(way.schedule) * factor,
                math.inf if way.free_above is None else float(way.free_above) * factor,
            )
            for way in supplier.delivery
        )

    def _find_start_sum(self, supplier: SupplierTerms) -> float:
        if self._own is None or not self._is_own(supplier):
            return 0.0
        goods = sum(item.quantity * find_least_price(item) for item in self._own.goods)
        return goods * self._market.find_least_factor(supplier)

    def _find_base_cost(self) -> float:
        if self._own is None:
            return 0.0
        days = min(way.days for way in self._own.supplier.delivery)
        waiting = float(self._market.waiting_cost_per_day) * days
        shared = any(self._is_own(supplier) for supplier in self._suppliers)
        return waiting - float(self._own.landed.total) if shared else waiting

    def _rank(self, offer: NeedOffer) -> tuple[float, int]:
        alone = find_least_price(offer.goods) * self._market.find_least_factor(offer.supplier)
        covered = offer.goods.includes.intersection(self.offered)
        if not self._is_own(offer.supplier):
            units = max(self._missing[need] for need in covered)
            alone += min(way.charge for way in self._list_deliveries(offer.supplier)) / units
        return alone / len(covered), offer.goods.quote_id
