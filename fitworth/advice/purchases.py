"""What an option's goods and missing needs cost in the job's currency."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from fitworth.advice.assumptions import Asked
from fitworth.advice.case import ComparisonCase, Prices
from fitworth.costing.landed import CostLine, get_unit_price, land
from fitworth.costing.need_bounds import NeedOffer
from fitworth.costing.needs import Completion, OwnParcel, complete_needs
from fitworth.costing.rates import find_rate, get_rate
from fitworth.costing.terms import ZERO, Goods, SupplierTerms
from fitworth.errors import Fault, NotComputableError
from fitworth.quantities.money import round_money


@dataclass(frozen=True, slots=True)
class MissingNeed:
    """What one missing need costs; `quote_id` is None where the price is assumed."""

    need: str
    amount: Decimal
    quote_id: int | None


@dataclass(frozen=True, slots=True)
class Purchase:
    """All that is bought for an option; amounts in the job's currency.

    Attributes:
        lines: of its own goods, none where nothing is bought.
        landed: their sum.
        landed_again: cost of one of its goods alone, as bought after a failure.
        needs: what completes it.
        needs_total: their sum.
        days: until all of it is there [d].
        return_net: gained by sending a part that does not fit back, where that pays, as a negative sum.
        notes: what to know about it.
    """

    lines: tuple[CostLine, ...]
    landed: Decimal
    landed_again: Decimal
    needs: tuple[MissingNeed, ...]
    needs_total: Decimal
    days: float
    return_net: Decimal
    notes: tuple[str, ...]


class Buyer:
    """Who buys in one comparison: knows what is missing, who offers it, and the day's rates."""

    def __init__(self, case: ComparisonCase, need_offers: tuple[NeedOffer, ...], asked: Asked) -> None:
        self._prices, self._asked, self._need_offers = case.prices, asked, need_offers
        self._wanted = {
            need: count - case.work.on_hand.get(need, 0)
            for need, count in case.work.needs.items()
            if need != case.family.key and count > case.work.on_hand.get(need, 0)
        }
        self._parts = case.work.count_parts(case.family.key)
        own, home = case.prices.destination.currency, case.prices.currency
        self._factor = get_rate(case.prices.rates, own, home, case.prices.as_of)
        self._waiting = case.work.waiting_cost_per_day / self._factor

    def buy_nothing(self) -> Purchase:
        """Return the purchase of an option without goods of its own: only its missing needs."""
        return self._complete((), ZERO, self._wanted, None, ZERO)

    def buy(self, goods: Goods, supplier: SupplierTerms) -> Purchase:
        """Return the purchase of an option's goods, one for each part needed, and of what their boxes lack.

        Raises:
            NotComputableError: the goods cannot be sent there.
        """
        one, goods = replace(goods, quantity=1), replace(goods, quantity=self._parts)
        lines = self._land(goods, supplier)
        again = lines if goods == one else self._land(one, supplier)
        missing = {
            need: count - self._parts * (need in goods.includes)
            for need, count in self._wanted.items()
            if count > self._parts * (need in goods.includes)
        }
        return self._complete(
            lines,
            sum((line.amount for line in again), ZERO),
            missing,
            ((goods,), supplier),
            self._find_return(goods, supplier),
        )

    def _land(self, goods: Goods, supplier: SupplierTerms) -> tuple[CostLine, ...]:
        prices = self._prices
        landed = land((goods,), supplier, prices.destination, prices.rates, prices.as_of, None, self._waiting)
        return tuple(CostLine(line.line, self._convert(line.amount)) for line in landed.lines)

    def _complete(
        self,
        lines: tuple[CostLine, ...],
        landed_again: Decimal,
        missing: Mapping[str, int],
        own_parcel: OwnParcel | None,
        return_net: Decimal,
    ) -> Purchase:
        completion = complete_needs(
            missing,
            self._need_offers,
            own_parcel,
            self._prices.destination,
            self._prices.rates,
            self._prices.as_of,
            self._assume_price,
            self._waiting,
        )
        needs = tuple(
            MissingNeed(need, self._convert(amount), quote_id)
            for need, amount, quote_id in completion.list_by_need()
        )
        return Purchase(
            lines=lines,
            landed=sum((line.amount for line in lines), ZERO),
            landed_again=landed_again,
            needs=needs,
            needs_total=sum((need.amount for need in needs), ZERO),
            days=completion.days,
            return_net=return_net,
            notes=(*self._list_own_notes(own_parcel), *_list_notes(completion)),
        )

    def _list_own_notes(self, own_parcel: OwnParcel | None) -> Iterable[str]:
        if own_parcel is None:
            return
        if self._parts > 1:
            yield f"{self._parts} of them are bought."
        destination, country = self._prices.destination, own_parcel[1].country
        if destination.imports is None and country != destination.country:
            yield (
                f"It comes from {country}, and no import rules are entered for {destination.name}: "
                f"neither duty nor import tax is counted."
            )

    def _assume_price(self, need: str) -> Decimal:
        """Return the assumed price of a need in the destination's currency."""
        return Decimal(str(self._asked.value(f"need_price.{need}"))) / self._factor

    def _convert(self, amount: Decimal) -> Decimal:
        return round_money(amount * self._factor, self._prices.currency)

    def _find_return(self, goods: Goods, supplier: SupplierTerms) -> Decimal:
        """Return postage and restocking less refund where sending back pays, else zero.

        Own choice: the price alone comes back, neither delivery nor taxes; a shop that gives no days takes
        nothing back.
        """
        if supplier.returns.days <= 0:
            return ZERO
        prices = self._prices
        rate = get_rate(prices.rates, supplier.currency, prices.currency, prices.as_of)
        price = get_unit_price(goods, goods.quantity)
        refund = goods.quantity * price * (1 - supplier.returns.restocking)
        return min(ZERO, round_money((supplier.returns.postage - refund) * rate, prices.currency))


def check_rates(prices: Prices, suppliers: Iterable[SupplierTerms]) -> None:
    """Raise NotComputableError with every exchange rate that is needed and not on file."""
    target = prices.destination.currency
    pairs = [(supplier.currency, target) for supplier in suppliers]
    pairs += [(supplier_currency, prices.currency) for supplier_currency, _ in pairs]
    pairs.append((target, prices.currency))
    missing = [pair for pair in dict.fromkeys(pairs) if find_rate(prices.rates, *pair, prices.as_of) is None]
    if missing:
        raise NotComputableError(
            Fault(
                "/exchange_rates",
                f"There is no exchange rate from {source} to {to} on or before {prices.as_of.isoformat()}; "
                f"enter one for that pair, or for both of them against one other currency.",
            )
            for source, to in missing
        )


def _list_notes(completion: Completion) -> Iterable[str]:
    for purchase in completion.purchases:
        needs = ", ".join(need.replace("_", " ") for need in purchase.needs)
        if purchase.quote_id is None:
            yield f"No quote covers the {needs}: its price is assumed."
        elif purchase.amount < 0:
            yield f"Adding the {needs} saves more on the parcel than it costs: the amount is below zero."
    if not completion.proven:
        yield "So many are missing that a cheaper way to buy them may have been overlooked."
    for left_out in completion.left_out:
        yield f"Quote {left_out.quote_id} was left out: {left_out.says}"
