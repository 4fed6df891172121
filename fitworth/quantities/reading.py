"""Reading of JSON-shaped values: every fault of a form is kept, so that it can be told all at once."""

import re
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from typing import Any

from fitworth.errors import Fault, InvalidValueError, escape_pointer, raise_faults

MAX_DIGITS = 15  # own choice: more than any price needs, and exact in a 64-bit count of minor units
MAX_NUMBER = 1e12  # own choice: beyond any day, gram or count of this trade
MAX_NAME = 100  # characters, own choice
_PLAIN_DECIMAL = re.compile(r"(0|[1-9][0-9]*)(\.[0-9]+)?", re.ASCII)


def read_decimal(raw: object) -> Decimal:
    """Return the number that a plain decimal string says: ASCII digits and one point at most.

    >>> read_decimal("12.50")
    Decimal('12.50')

    Raises:
        InvalidValueError: for anything else, with what would be right.
    """
    if not isinstance(raw, str):
        raise InvalidValueError(
            'Write the number as text in quotes, like "12.50"; a bare number may lose cents.'
        )
    if raw.startswith(("-", "\N{MINUS SIGN}")):
        raise InvalidValueError("The number is negative; it must be zero or more.")
    if not _PLAIN_DECIMAL.fullmatch(raw):
        raise InvalidValueError(
            'Write plain digits with a point before the decimals, like "12.50": '
            "no comma, sign, exponent or currency."
        )
    if len(raw) - raw.count(".") > MAX_DIGITS:
        raise InvalidValueError(f"The number has more than {MAX_DIGITS} digits; write at most {MAX_DIGITS}.")
    return Decimal(raw)


def read_share(raw: object) -> Decimal:
    """Return a share in [0, 1] from a plain decimal string; 20 % is "0.20"."""
    share = read_decimal(raw)
    if share > 1:
        raise InvalidValueError('The share is above 1; write 20 % as "0.20".')
    return share


def read_number(raw: object) -> float:
    """Return a finite number of zero or more from a JSON number; the unit is the field's own."""
    if isinstance(raw, bool) or not isinstance(raw, int | float):
        raise InvalidValueError("Write a number without quotes, like 4.")
    # A JSON integer may be too long for a float; comparing does not convert it. NaN compares false.
    if not 0 <= raw <= MAX_NUMBER:
        raise InvalidValueError("The number must be zero or more, and at most a million millions.")
    return float(raw)


def read_positive(raw: object) -> float:
    """Return a finite number above zero from a JSON number; the unit is the field's own."""
    number = read_number(raw)
    if number == 0:
        raise InvalidValueError("The number must be above zero.")
    return number


def read_name(raw: object) -> str:
    """Return a name of 1 to 100 characters, without blanks at its ends."""
    if not isinstance(raw, str) or not raw.strip():
        raise InvalidValueError("Write a name as text, at least one character.")
    if len(raw) > MAX_NAME:
        raise InvalidValueError(f"The name is longer than {MAX_NAME} characters; shorten it.")
    return raw.strip()


def read_country(raw: object) -> str:
    """Return a country code of two capital letters (form of ISO 3166-1 alpha-2; the list is not checked)."""
    if not isinstance(raw, str) or not re.fullmatch("[A-Z]{2}", raw):
        raise InvalidValueError('Write the country as two capital letters, like "US".')
    return raw


class Form:
    """A mapping read field by field. Faults are kept until `finish`, which raises them all."""

    def __init__(self, raw: object, what: str, keys: Iterable[str]) -> None:
        if not isinstance(raw, Mapping):
            raise InvalidValueError(f"{what} is an object with the fields {', '.join(keys)}.")
        self._raw: Mapping[object, object] = raw
        self._keys = tuple(keys)
        self.faults = [
            Fault(
                f"/{escape_pointer(str(key))}",
                f"{what} has no such field; the fields are {', '.join(self._keys)}.",
            )
            for key in raw
            if key not in self._keys
        ]

    def required(self, key: str, read: Callable[[object], Any]) -> Any:
        """Return the field as `read` reads it; if it is missing or faulty, keep the fault and return None."""
        if key not in self._raw:
            self.faults.append(Fault(f"/{key}", f"The field {key} is missing."))
            return None
        try:
            return read(self._raw[key])
        except InvalidValueError as error:
            self.faults.extend(fault.under(f"/{key}") for fault in error.faults)
            return None

    def optional(self, key: str, read: Callable[[object], Any], otherwise: Any = None) -> Any:
        """Return the field as `read` reads it, or `otherwise` where it is absent or null."""
        if self._raw.get(key) is None:
            return otherwise
        return self.required(key, read)

    def finish(self) -> None:
        """Raise InvalidValueError with every fault found so far, if there is one."""
        raise_faults(self.faults)


def read_items(raw: object, what: str, read: Callable[[object], Any]) -> tuple[Any, ...]:
    """Return the items of a list as `read` reads them; the faults of all items are told at once."""
    if not isinstance(raw, list | tuple):
        raise InvalidValueError(f"{what} is a list.")
    items: list[Any] = []
    faults: list[Fault] = []
    for position, item in enumerate(raw):
        try:
            items.append(read(item))
        except InvalidValueError as error:
            faults.extend(fault.under(f"/{position}") for fault in error.faults)
    raise_faults(faults)
    return tuple(items)
