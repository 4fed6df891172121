"""Landed cost: all that is paid until the goods of one parcel lie on the bench, line by line."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from fitworth.costing.carriage import Charge, Contents, list_charges
from fitworth.costing.customs import charge_imports
from fitworth.costing.rates import Rate, get_rate
from fitworth.costing.terms import ZERO, Destination, Goods, SupplierTerms
from fitworth.errors import Fault, InvalidValueError
from fitworth.quantities.money import round_money


@dataclass(frozen=True, slots=True)
class CostLine:
    """One line of a cost, rounded to the minor unit [destination's currency]."""

    line: str
    amount: Decimal


@dataclass(frozen=True, slots=True)
class Landed:
    """What a parcel costs on the bench; `total` is the sum of the lines, `days` from order to bench [d]."""

    lines: tuple[CostLine, ...]
    total: Decimal
    method: str
    days: float
    currency: str


def land(
    parcel: Sequence[Goods],
    supplier: SupplierTerms,
    destination: Destination,
    rates: Iterable[Rate],
    as_of: date,
    method: str | None = None,
    waiting_cost_per_day: Decimal = ZERO,
) -> Landed:
    """Return what a parcel of one supplier costs until it lies on the bench, in the destination's currency.

    Lines: price at the quantity break, delivery, insurance, exchange (what the bank's margin adds), duty,
    processing_fee, import_tax or sales_tax, core_charge and core_refund; all but the first two only where
    they are not zero. Own choices: the core charge is a deposit, so neither taxed nor part of the customs
    value, and its refund comes back in full (the postage of the old part is not counted here); customs and
    tax go by the published rate; the bank's margin is on all that is paid in another currency.

    Args:
        parcel: the goods that are sent together; lines of the same quote add up to their quantity break.
        supplier: who sends them.
        destination: where they go, with its taxes and import rules.
        rates: exchange rates on file.
        as_of: the day whose latest rate counts.
        method: the delivery method chosen, or None for the one with the least total and waiting.
        waiting_cost_per_day: what each day until the bench costs [destination's currency].

    Raises:
        InvalidValueError: when the parcel is empty.
        NotComputableError: when no method delivers the parcel there, or no exchange rate is on file.
    """
    if not parcel:
        raise InvalidValueError(Fault("", "The parcel is empty; put at least one item into it."))
    contents = sum_contents(parcel)
    charges = list_charges(contents, supplier, destination.country, method)
    rate = get_rate(rates, supplier.currency, destination.currency, as_of)
    ways = [_land_way(contents, charge, supplier, destination, rate) for charge in charges]
    return min(ways, key=lambda way: (way.total + waiting_cost_per_day * Decimal(way.days), way.days))


def sum_contents(parcel: Sequence[Goods]) -> Contents:
    """Return the sums of a parcel that its costs depend on [supplier's currency, g]."""
    quantities: Counter[int] = Counter()
    for goods in parcel:
        quantities[goods.quote_id] += goods.quantity
    by_family: defaultdict[str, Decimal] = defaultdict(Decimal)
    core_charge, weight_g = ZERO, 0.0
    for goods in parcel:
        by_family[goods.family] += goods.quantity * get_unit_price(goods, quantities[goods.quote_id])
        core_charge += goods.quantity * goods.core_charge
        # One unknown weight makes the sum unknown: NaN says so to every later sum and compares as no weight.
        weight_g += goods.quantity * (float("nan") if goods.weight_g is None else goods.weight_g)
    return Contents(sum(by_family.values(), ZERO), dict(by_family), core_charge, quantities.total(), weight_g)


def get_unit_price(goods: Goods, quantity: int) -> Decimal:
    """Return the price of one item when so many are bought: the break with the greatest quantity reached."""
    reached = [step for step in goods.price_breaks if step.from_quantity <= quantity]
    return max(reached, key=lambda step: step.from_quantity).price if reached else goods.price


def _land_way(
    contents: Contents, charge: Charge, supplier: SupplierTerms, destination: Destination, rate: Decimal
) -> Landed:
    currency = destination.currency
    price = round_money(contents.goods_sum * rate, currency)
    delivery = round_money(charge.delivery * rate, currency)
    insurance = round_money(charge.insurance * rate, currency)
    core = round_money(contents.core_charge * rate, currency)
    lines = [CostLine("price", price), CostLine("delivery", delivery)]
    extras = [("insurance", insurance)]
    if supplier.currency != currency:
        paid = contents.goods_sum + charge.delivery + charge.insurance + contents.core_charge
        extras.append(("exchange", round_money(paid * rate * destination.exchange_margin, currency)))
    extras += _list_taxes(contents, price, delivery + insurance, supplier, destination, rate)
    extras += [("core_charge", core), ("core_refund", -core)]
    lines += [CostLine(line, amount) for line, amount in extras if amount]
    total = sum((line.amount for line in lines), ZERO)
    return Landed(tuple(lines), total, charge.method, charge.days, currency)


def _list_taxes(
    contents: Contents,
    price: Decimal,
    carriage: Decimal,
    supplier: SupplierTerms,
    destination: Destination,
    rate: Decimal,
) -> list[tuple[str, Decimal]]:
    currency = destination.currency
    if supplier.country == destination.country:
        if supplier.prices_include_tax:
            return []
        return [("sales_tax", round_money((price + carriage) * destination.sales_tax, currency))]
    if destination.imports is None:
        return []
    values = {family: value * rate for family, value in contents.by_family.items()}
    taken = charge_imports(values, carriage, destination.imports, currency)
    return [("duty", taken.duty), ("processing_fee", taken.processing_fee), ("import_tax", taken.import_tax)]
