"""Suppliers, quotes, exchange rates and destinations as resources."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from api.errors import InputFault
from api.schemas.supply import DestinationIn, ExchangeRateIn, QuoteIn, SupplierIn
from api.services.call import Call
from api.services.references import missing_reference
from api.services.resource import Body, Resource, record_id
from db import quotes as stored_quotes
from db import records
from db.models import Destination, ExchangeRate, Part, Quote, Supplier
from fitworth.quantities.money import Money, from_minor, to_minor


def minor(money: Money | None) -> int | None:
    """Return an amount as it is stored."""
    return None if money is None else to_minor(money)


def money_body(count: int | None, currency: str) -> dict[str, str] | None:
    """Return a stored amount as it is shown."""
    if count is None:
        return None
    money = from_minor(count, currency)
    return {"amount": str(money.amount), "currency": currency}


def write_supplier(call: Call, row: Supplier, data: SupplierIn) -> None:
    """Set a supplier's columns."""
    del call
    row.name, row.country, row.currency = data.name, data.country, data.currency
    row.delivery, row.returns = data.delivery, data.returns
    row.prices_include_tax, row.warranty_days = data.prices_include_tax, data.warranty_days


def read_supplier(row: Supplier) -> Body:
    """Return a supplier as it came in."""
    return {
        "name": row.name,
        "country": row.country,
        "currency": row.currency,
        "delivery": row.delivery,
        "prices_include_tax": row.prices_include_tax,
        "returns": row.returns,
        "warranty_days": row.warranty_days,
    }


def same_name(call: Call, data: SupplierIn, own_id: int | None) -> Iterable[InputFault]:
    """Refuse a second supplier of the same name."""
    for other in records.list_page(call.session, Supplier, {"name": data.name}, limit=2):
        if other.id != own_id:
            yield InputFault(
                f"Supplier {other.id} has this name; use that one, or another name.", "pointer", "/name"
            )


def supplier_conflicts(call: Call, data: SupplierIn, own_id: int | None) -> Iterable[InputFault]:
    """Refuse a second supplier of the same name, and a currency that the supplier's quotes are not in."""
    yield from same_name(call, data, own_id)
    others = [] if own_id is None else stored_quotes.list_currencies_of_supplier(call.session, own_id)
    if others not in ([], [data.currency]):
        yield InputFault(
            f"This supplier's quotes are in {' and '.join(others)}; delete them, then enter the new prices.",
            "pointer",
            "/currency",
        )


def quote_faults(call: Call, data: QuoteIn, own_id: int | None) -> Iterable[InputFault]:
    """Refuse a quote of no supplier, for no part, or in a currency that the supplier does not sell in."""
    del own_id
    yield from missing_reference(call, Part, "part", "parts", data.part_id, "/part_id")
    yield from missing_reference(call, Supplier, "supplier", "suppliers", data.supplier_id, "/supplier_id")
    supplier = records.find_record(call.session, Supplier, record_id(data.supplier_id))
    if supplier is not None and supplier.currency != data.price.currency:
        yield InputFault(
            f"{supplier.name} sells in {supplier.currency}; give the price in that currency.",
            "pointer",
            "/price/currency",
        )


def write_quote(call: Call, row: Quote, data: QuoteIn) -> None:
    """Set a quote's columns."""
    del call
    row.supplier_id, row.part_id = record_id(data.supplier_id), record_id(data.part_id)
    row.price_minor, row.currency = to_minor(data.price), data.price.currency
    row.price_breaks = [
        {"from_quantity": step.from_quantity, "price_minor": to_minor(step.price)}
        for step in data.price_breaks
    ]
    row.condition, row.includes = data.condition, data.includes
    row.core_charge_minor, row.weight_g = minor(data.core_charge), data.weight_g
    row.valid_until, row.seen_on = data.valid_until, data.seen_on
    row.stock, row.link = data.stock, data.link


def attach_needs(call: Call, row: Quote) -> None:
    """Store the needs that a quote's own box covers, by which it is found."""
    stored_quotes.set_quote_details(call.session, row)


def read_quote(row: Quote) -> Body:
    """Return a quote as it came in."""
    return {
        "supplier_id": str(row.supplier_id),
        "part_id": str(row.part_id),
        "price": money_body(row.price_minor, row.currency),
        "price_breaks": [
            {"from_quantity": step["from_quantity"], "price": money_body(step["price_minor"], row.currency)}
            for step in row.price_breaks
        ],
        "condition": row.condition,
        "includes": row.includes,
        "core_charge": money_body(row.core_charge_minor, row.currency),
        "weight_g": row.weight_g,
        "valid_until": row.valid_until,
        "seen_on": row.seen_on,
        "stock": row.stock,
        "link": row.link,
    }


def same_day(call: Call, data: ExchangeRateIn, own_id: int | None) -> Iterable[InputFault]:
    """Refuse a second rate of the same pair on the same day."""
    same: dict[str, Any] = {"base": data.base, "quote": data.quote, "on": data.on}
    for other in records.list_page(call.session, ExchangeRate, same, limit=2):
        if other.id != own_id:
            yield InputFault(
                f"Rate {other.id} is of this day; edit that one, or give another day.", "pointer", "/on"
            )


def write_rate(call: Call, row: ExchangeRate, data: ExchangeRateIn) -> None:
    """Set a rate's columns."""
    del call
    row.base, row.quote, row.rate, row.on = data.base, data.quote, Decimal(data.rate), data.on


def read_rate(row: ExchangeRate) -> Body:
    """Return a rate as it came in."""
    return {"base": row.base, "quote": row.quote, "rate": format(row.rate, "f"), "on": row.on}


def write_destination(call: Call, row: Destination, data: DestinationIn) -> None:
    """Set a destination's columns."""
    del call
    row.name, row.country, row.currency = data.name, data.country, data.currency
    row.sales_tax, row.exchange_margin = Decimal(data.sales_tax), Decimal(data.exchange_margin)
    row.import_rules = data.import_ or {}


def read_destination(row: Destination) -> Body:
    """Return a destination as it came in."""
    return {
        "name": row.name,
        "country": row.country,
        "currency": row.currency,
        "sales_tax": format(row.sales_tax, "f"),
        "import": row.import_rules or None,
        "exchange_margin": format(row.exchange_margin, "f"),
    }


SUPPLIERS = Resource(
    name="suppliers",
    noun="supplier",
    model=Supplier,
    schema=SupplierIn,
    write=write_supplier,
    read=read_supplier,
    conflicts=supplier_conflicts,
    filters={"country": "country", "currency": "currency", "name": "name"},
    columns=(
        "id",
        "name",
        "country",
        "currency",
        "delivery",
        "prices_include_tax",
        "returns",
        "warranty_days",
    ),
)
QUOTES = Resource(
    name="quotes",
    noun="quote",
    model=Quote,
    schema=QuoteIn,
    write=write_quote,
    read=read_quote,
    faults=quote_faults,
    attach=attach_needs,
    filters={
        "part_id": "part_id",
        "supplier_id": "supplier_id",
        "currency": "currency",
        "condition": "condition",
    },
    columns=(
        "id",
        "supplier_id",
        "part_id",
        "price",
        "price_breaks",
        "condition",
        "includes",
        "core_charge",
        "weight_g",
        "valid_until",
        "seen_on",
        "stock",
        "link",
    ),
)
EXCHANGE_RATES = Resource(
    name="exchange-rates",
    noun="exchange rate",
    model=ExchangeRate,
    schema=ExchangeRateIn,
    write=write_rate,
    read=read_rate,
    conflicts=same_day,
    filters={"base": "base", "quote": "quote"},
    columns=("id", "base", "quote", "rate", "on"),
)
DESTINATIONS = Resource(
    name="destinations",
    noun="destination",
    model=Destination,
    schema=DestinationIn,
    write=write_destination,
    read=read_destination,
    filters={"country": "country", "currency": "currency"},
    columns=("id", "name", "country", "currency", "sales_tax", "import", "exchange_margin"),
)
