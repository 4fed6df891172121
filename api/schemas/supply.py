"""Suppliers, quotes, exchange rates and destinations."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Annotated, Any, Self

from pydantic import (
    AfterValidator,
    Field,
    PlainValidator,
    ValidationInfo,
    WithJsonSchema,
    field_validator,
    model_validator,
)
from pydantic_core import PydanticCustomError

from api.schemas.common import Stored
from api.schemas.fields import (
    DECIMAL_PATTERN,
    Country,
    Currency,
    Day,
    DecimalText,
    Input,
    Link,
    MoneyField,
    Name,
    Need,
    PositiveNumber,
    Quantity,
    RecordId,
    Whole,
    faults_of,
    through,
)
from fitworth.costing.terms_reading import read_delivery, read_import_rules, read_returns
from fitworth.errors import Fault, InvalidValueError
from fitworth.vocabulary import Condition, CustomsBasis, Schedule


def _share(text: str) -> str:
    if Decimal(text) > 1:
        raise PydanticCustomError(
            "share", "This is a share: 0.07 means seven in a hundred, and 1 is the most."
        )
    return text


DecimalShare = Annotated[DecimalText, AfterValidator(_share)]


def _terms(read: Callable[[Any, str], object]) -> Callable[[Any, ValidationInfo], Any]:
    """Return a validator that reads terms in the record's currency, and keeps them as they came."""

    def validate(raw: Any, info: ValidationInfo) -> Any:
        currency = info.data.get("currency")
        if currency is not None:  # a faulty currency is told by its own field
            through(lambda terms: read(terms, currency))(raw)
        return raw

    return validate


DECIMAL_SCHEMA = {"type": "string", "pattern": DECIMAL_PATTERN}
SCHEDULE_SCHEMA = {
    "type": "object",
    "description": "how delivery is charged, in the supplier's currency",
    "properties": {
        "kind": {"enum": [kind.value for kind in Schedule]},
        "amount": {**DECIMAL_SCHEMA, "description": "flat: the charge"},
        "first": {**DECIMAL_SCHEMA, "description": "per_item: the first item"},
        "each_further": {**DECIMAL_SCHEMA, "description": "per_item: each further item"},
        "bands": {
            "type": "array",
            "description": "by_weight: rising weights",
            "items": {
                "type": "object",
                "properties": {"up_to_g": {"type": ["number", "null"]}, "amount": DECIMAL_SCHEMA},
            },
        },
        "free_above": {
            **DECIMAL_SCHEMA,
            "type": ["string", "null"],
            "description": "goods worth this much travel free",
        },
    },
    "required": ["kind"],
}
DELIVERY_SCHEMA = {
    "type": "array",
    "items": {
        "type": "object",
        "properties": {
            "method": {"type": "string"},
            "to_country": {"type": ["string", "null"], "description": "ISO 3166-1; null: anywhere"},
            "schedule": SCHEDULE_SCHEMA,
            "days": {"type": "number", "minimum": 0},
            "insurance": {**DECIMAL_SCHEMA, "description": "share of the goods' price"},
        },
        "required": ["method", "schedule", "days"],
    },
}
RETURNS_SCHEMA = {
    "type": "object",
    "description": "sending a wrong part back: the window in days, your postage, the share of the price kept",
    "properties": {
        "days": {"type": "number", "minimum": 0},
        "postage": DECIMAL_SCHEMA,
        "restocking": DECIMAL_SCHEMA,
    },
    "required": ["days"],
}
IMPORT_SCHEMA = {
    "anyOf": [
        {"type": "null"},
        {
            "type": "object",
            "description": "what is charged on goods from another country; your entries, not facts",
            "properties": {
                "basis": {"enum": [basis.value for basis in CustomsBasis]},
                "duty": {"type": "object", "additionalProperties": DECIMAL_SCHEMA},
                "threshold": DECIMAL_SCHEMA,
                "processing_fee": {
                    "type": ["object", "null"],
                    "properties": {"rate": DECIMAL_SCHEMA, "floor": DECIMAL_SCHEMA, "cap": DECIMAL_SCHEMA},
                },
                "tax": DECIMAL_SCHEMA,
            },
            "required": ["basis"],
        },
    ]
}

Delivery = Annotated[list[Any], PlainValidator(_terms(read_delivery)), WithJsonSchema(DELIVERY_SCHEMA)]
ReturnTerms = Annotated[dict[str, Any], PlainValidator(_terms(read_returns)), WithJsonSchema(RETURNS_SCHEMA)]
ImportTerms = Annotated[
    dict[str, Any], PlainValidator(_terms(read_import_rules)), WithJsonSchema(IMPORT_SCHEMA)
]


class SupplierIn(Input):
    """A shop and its terms."""

    name: Name
    country: Country
    currency: Currency
    delivery: Delivery = []
    prices_include_tax: bool = False
    returns: ReturnTerms = {"days": 0}
    warranty_days: Annotated[Whole, Field(ge=0, le=36_500)] = 0


class Supplier(Stored):
    """A supplier as stored."""

    name: str
    country: str
    currency: str
    delivery: list[dict[str, Any]]
    prices_include_tax: bool
    returns: dict[str, Any]
    warranty_days: int


class PriceBreakIn(Input):
    """A lower price from a quantity on."""

    from_quantity: Quantity
    price: MoneyField


class QuoteIn(Input):
    """A supplier's price for a part."""

    supplier_id: RecordId
    part_id: RecordId
    price: MoneyField
    price_breaks: list[PriceBreakIn] = Field(default=[], max_length=50)
    condition: Condition = Condition.NEW
    includes: list[Need] | None = Field(
        default=None,
        max_length=50,
        description="overrides the part's; null inherits, [] means nothing in the box",
    )
    core_charge: MoneyField | None = None
    weight_g: PositiveNumber | None = None
    valid_until: Day | None = None
    seen_on: Day
    stock: Annotated[Whole, Field(ge=0, le=10_000_000)] | None = Field(
        default=None, description="how many the supplier has"
    )
    link: Link | None = None

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        faults = []
        if self.price.amount <= 0:
            faults.append(Fault("/price/amount", "A price must be more than nothing."))
        currency = self.price.currency
        for position, row in enumerate(self.price_breaks):
            if row.price.currency != currency:
                faults.append(
                    Fault(
                        f"/price_breaks/{position}/price/currency",
                        f"This must be in {currency}, as the price is.",
                    )
                )
        if self.core_charge is not None and self.core_charge.currency != currency:
            faults.append(Fault("/core_charge/currency", f"This must be in {currency}, as the price is."))
        quantities = [row.from_quantity for row in self.price_breaks]
        if quantities != sorted(set(quantities)):
            faults.append(Fault("/price_breaks", "The quantities must rise from break to break."))
        if self.valid_until is not None and self.valid_until < self.seen_on:
            faults.append(
                Fault("/valid_until", "This quote had expired before it was seen; mend one of the two dates.")
            )
        if faults:
            raise faults_of(InvalidValueError(faults))
        return self


class Quote(Stored):
    """A quote as stored."""

    supplier_id: str
    part_id: str
    price: dict[str, str]
    price_breaks: list[dict[str, Any]]
    condition: Condition
    includes: list[str] | None
    core_charge: dict[str, str] | None
    weight_g: float | None
    valid_until: date | None
    seen_on: date
    stock: int | None
    link: str | None


def _positive(text: str) -> str:
    if Decimal(text) <= 0:
        raise PydanticCustomError("rate", "A rate must be more than nothing.")
    return text


class ExchangeRateIn(Input):
    """One `base` buys `rate` `quote`."""

    base: Currency
    quote: Currency
    rate: Annotated[DecimalText, AfterValidator(_positive)]
    on: Day

    @field_validator("quote")
    @classmethod
    def _another(cls, quote: str, info: ValidationInfo) -> str:
        if quote == info.data.get("base"):
            raise PydanticCustomError("same", "Give two different currencies.")
        return quote


class ExchangeRate(Stored):
    """An exchange rate as stored."""

    base: str
    quote: str
    rate: str
    on: date


class DestinationIn(Input):
    """Where goods go: its taxes and import rules are your entries, not facts."""

    name: Name
    country: Country
    currency: Currency
    sales_tax: DecimalShare = "0"
    import_: Annotated[ImportTerms | None, Field(alias="import")] = None
    exchange_margin: DecimalShare = Field(default="0", description="what the bank adds to the rate")


class Destination(Stored):
    """A destination as stored."""

    name: str
    country: str
    currency: str
    sales_tax: str
    import_: Annotated[dict[str, Any] | None, Field(alias="import")]
    exchange_margin: str
