"""Field types that several resources share: text, needs, money, dates, dimensions.

Each reads through the core, so that a value means the same wherever it comes in; every fault that the core
finds travels on as a fault of the field.
"""

from collections.abc import Callable, Mapping
from datetime import date
from decimal import Decimal
from typing import Annotated, Any, TypeVar

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
    PlainValidator,
    StringConstraints,
    WithJsonSchema,
)
from pydantic_core import PydanticCustomError

from fitworth.errors import InvalidValueError
from fitworth.matching.numbers import normalise
from fitworth.quantities.money import Money, read_currency, read_money

T = TypeVar("T")

LONGEST_COMPARED = 200  # characters of a number as it is compared; its column has no more
DECIMAL_PATTERN = r"^[0-9]{1,12}(\.[0-9]{1,12})?$"


class Input(BaseModel):
    """The base of what comes in: nothing unknown is taken."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=False)


class Output(BaseModel):
    """The base of what goes out."""

    model_config = ConfigDict(allow_inf_nan=False)


def faults_of(error: InvalidValueError) -> PydanticCustomError:
    """Return a core error as one of pydantic's that carries every fault with it."""
    faults = [(fault.where, fault.says) for fault in error.faults]
    return PydanticCustomError(
        "faults", "{summary}", {"summary": "; ".join(says for _, says in faults), "faults": faults}
    )


def through(read: Callable[[Any], T]) -> Callable[[Any], T]:
    """Return a validator that reads with a function of the core."""

    def validate(raw: Any) -> T:
        try:
            return read(raw)
        except InvalidValueError as error:
            raise faults_of(error) from error

    return validate


def _exact(value: Any) -> Any:
    """Refuse numbers for texts and texts for flags before pydantic helps itself."""
    if isinstance(value, bool):
        raise PydanticCustomError("no_flag", "This must be a number, not true or false.")
    return value


def _comparable(number: str) -> str:
    """Refuse a number of which nothing is left when it is compared, or too much to be kept."""
    compared = len(normalise(number))
    if compared == 0:
        raise PydanticCustomError(
            "number", "A number has a letter or a digit; where there is none, leave it out."
        )
    if compared > LONGEST_COMPARED:
        raise PydanticCustomError(
            "number", "This has characters that stand for many; write them as letters and digits."
        )
    return number


def _written(day: Any) -> Any:
    """Refuse numbers, which would be taken for seconds since 1970."""
    if isinstance(day, int | float):
        raise PydanticCustomError("day", "This must be a date such as 2026-11-25.")
    return day


Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=200)]
Note = Annotated[str, StringConstraints(max_length=5000)]
Number = Annotated[
    str,
    StringConstraints(strip_whitespace=True, min_length=1, max_length=80),
    AfterValidator(_comparable),
]
Need = Annotated[
    str,
    StringConstraints(pattern=r"^[a-z][a-z0-9_]{0,39}$"),
    Field(description="a need, such as mounting_gasket", examples=["mounting_gasket"]),
]
RecordId = Annotated[str, StringConstraints(pattern=r"^[1-9][0-9]{0,17}$"), Field(examples=["12"])]
Country = Annotated[
    str,
    StringConstraints(pattern=r"^[A-Z]{2}$"),
    Field(description="ISO 3166-1, two letters", examples=["US"]),
]
Link = Annotated[str, StringConstraints(pattern=r"^https?://[^\s<>\"]{1,1990}$")]
Whole = Annotated[int, BeforeValidator(_exact)]
Quantity = Annotated[Whole, Field(ge=1, le=10_000)]
PositiveNumber = Annotated[float, BeforeValidator(_exact), Field(gt=0, le=1e9)]
NonNegativeNumber = Annotated[float, BeforeValidator(_exact), Field(ge=0, le=1e9)]
Day = Annotated[date, BeforeValidator(_written)]
Share = Annotated[float, BeforeValidator(_exact), Field(ge=0, le=1)]

Currency = Annotated[
    str,
    PlainValidator(through(read_currency)),
    WithJsonSchema(
        {"type": "string", "pattern": "^[A-Z]{3}$", "description": "ISO 4217", "examples": ["USD"]}
    ),
]

MoneyField = Annotated[
    Money,
    PlainValidator(through(read_money)),
    PlainSerializer(lambda money: {"amount": str(money.amount), "currency": money.currency}),
    WithJsonSchema(
        {
            "type": "object",
            "properties": {
                "amount": {"type": "string", "pattern": r"^[0-9]{1,15}(\.[0-9]{1,4})?$"},
                "currency": {"type": "string", "pattern": "^[A-Z]{3}$"},
            },
            "required": ["amount", "currency"],
            "additionalProperties": False,
            "description": "a decimal as text, and its currency; a number is refused",
            "examples": [{"amount": "12.50", "currency": "USD"}],
        }
    ),
]


def _read_decimal(raw: str) -> str:
    """Keep the text of a decimal: it is exact, and comes out as it went in."""
    Decimal(raw)
    return raw


DecimalText = Annotated[
    str, StringConstraints(pattern=DECIMAL_PATTERN), AfterValidator(_read_decimal), Field(examples=["0.0725"])
]

DIMENSION_SCHEMA: Mapping[str, Any] = {
    "description": (
        "a dimension's value: a number in the family's unit, text as people write it, an object with value, "
        "unit and plus_minus, repeated readings; a choice, a flag or a list"
    ),
    "anyOf": [
        {"type": "number"},
        {"type": "string"},
        {"type": "boolean"},
        {"type": "array", "items": {"type": "string"}},
        {
            "type": "object",
            "properties": {
                "value": {"anyOf": [{"type": "number"}, {"type": "string"}]},
                "unit": {"type": "string"},
                "plus_minus": {"anyOf": [{"type": "number"}, {"type": "string"}]},
                "instrument": {"type": "string"},
                "as_entered": {"type": "string"},
                "readings": {"type": "array", "items": {"anyOf": [{"type": "number"}, {"type": "string"}]}},
            },
        },
    ],
}
