"""Column types: moments in UTC, exact decimals, large integers that are SQLite's row id."""

from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import JSON, BigInteger, DateTime, Integer, String
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator

MAX_ID = 2**63 - 1
"""The largest number that a key or an amount can have on both databases."""

BigId = BigInteger().with_variant(Integer(), "sqlite")
"""SQLite makes only a column declared INTEGER the row id; it holds 64 bits all the same."""

Json = JSON(none_as_null=True)
"""Kept as text on both databases, so that keys stay in the order in which they were written.

A value changed in place is not noticed: assign a new one.
"""


class UtcDateTime(TypeDecorator[datetime]):
    """A moment. It goes in with any zone, is stored in UTC and comes out in UTC on both databases."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return the moment in UTC; one without a zone would be a guess and is refused."""
        del dialect
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("A moment needs a time zone.")
        return value.astimezone(UTC)

    def process_result_value(self, value: Any | None, dialect: Dialect) -> datetime | None:
        """Return the moment with its zone, which SQLite does not keep."""
        del dialect
        if value is None:
            return None
        moment: datetime = value
        return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)


class ExactDecimal(TypeDecorator[Decimal]):
    """A decimal kept as its digits, for SQLite has binary fractions only. SQL cannot order it."""

    impl = String(64)
    cache_ok = True

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> str | None:
        """Return the digits without an exponent, trailing zeros kept."""
        del dialect
        if value is None:
            return None
        if not value.is_finite():
            raise ValueError("A decimal must be a finite number.")
        return format(value, "f")

    def process_result_value(self, value: Any | None, dialect: Dialect) -> Decimal | None:
        """Return the decimal that went in."""
        del dialect
        return None if value is None else Decimal(value)
