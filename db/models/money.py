"""Shops, prices, exchange rates, and what importing to a place costs. Amounts are minor units."""

import datetime as dt
from decimal import Decimal
from typing import Any

from sqlalchemy import BigInteger, CheckConstraint, Float, ForeignKey, Index, String, Text, text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from db.base import KEY_LENGTH, NAME_LENGTH, Base, Record, currency_check, not_negative, record_checks
from db.models.parts import Part
from fitworth.vocabulary import Condition


class Supplier(Record):
    """A shop and its terms."""

    __tablename__ = "supplier"
    __table_args__ = (*record_checks("supplier"), currency_check(), *not_negative("warranty_days"))

    name: Mapped[str] = mapped_column(String(NAME_LENGTH))
    country: Mapped[str] = mapped_column(String(2))
    currency: Mapped[str] = mapped_column(String(3))
    delivery: Mapped[list[dict[str, Any]]] = mapped_column(default=list)
    prices_include_tax: Mapped[bool] = mapped_column(default=False)
    returns: Mapped[dict[str, Any]] = mapped_column(default=dict)
    warranty_days: Mapped[float | None] = mapped_column(Float)


class Quote(Record):
    """A supplier's price for a part. `includes` overrides the part's: None inherits, [] is an empty box."""

    __tablename__ = "quote"
    __table_args__ = (
        *record_checks("quote"),
        currency_check(),
        *not_negative("price_minor", "core_charge_minor", "weight_g", "stock"),
        Index(None, "part_id"),
        Index(None, "supplier_id"),
    )

    supplier_id: Mapped[int] = mapped_column(BigInteger, ForeignKey("supplier.id"))
    part_id: Mapped[int] = mapped_column(BigInteger, ForeignKey("part.id"))
    price_minor: Mapped[int] = mapped_column(BigInteger)
    currency: Mapped[str] = mapped_column(String(3))
    price_breaks: Mapped[list[dict[str, Any]]] = mapped_column(default=list)
    condition: Mapped[Condition] = mapped_column(default=Condition.NEW)
    includes: Mapped[list[str] | None]
    core_charge_minor: Mapped[int | None] = mapped_column(BigInteger)
    weight_g: Mapped[float | None] = mapped_column(Float)
    valid_until: Mapped[dt.date | None]
    seen_on: Mapped[dt.date | None]
    stock: Mapped[int | None] = mapped_column(BigInteger)
    link: Mapped[str | None] = mapped_column(Text)

    supplier: Mapped[Supplier] = relationship(lazy="raise", viewonly=True)
    part: Mapped[Part] = relationship(lazy="raise", viewonly=True)


class QuoteInclude(Base):
    """A need that a quote's own list of contents covers: `Quote.includes` row by row."""

    __tablename__ = "quote_include"
    __table_args__ = (Index(None, "quote_id"),)

    need: Mapped[str] = mapped_column(String(KEY_LENGTH), primary_key=True)
    quote_id: Mapped[int] = mapped_column(BigInteger, ForeignKey("quote.id"), primary_key=True)


class ExchangeRate(Record):
    """One `base` buys `rate` of `quote`, on a day."""

    __tablename__ = "exchange_rate"
    __table_args__ = (
        *record_checks("exchange_rate"),
        currency_check("base"),
        currency_check("quote"),
        CheckConstraint("base <> quote", name="two_currencies"),
        Index(
            "uq_exchange_rate_base_quote_on",
            "base",
            "quote",
            "on",
            unique=True,
            sqlite_where=text("deleted_at IS NULL"),
            postgresql_where=text("deleted_at IS NULL"),
        ),
    )

    base: Mapped[str] = mapped_column(String(3))
    quote: Mapped[str] = mapped_column(String(3))
    rate: Mapped[Decimal]
    on: Mapped[dt.date]


class Destination(Record):
    """Where goods go: its sales tax, its rules for imports, the bank's margin on foreign money."""

    __tablename__ = "destination"
    __table_args__ = (*record_checks("destination"), currency_check())

    name: Mapped[str] = mapped_column(String(NAME_LENGTH))
    country: Mapped[str] = mapped_column(String(2))
    currency: Mapped[str] = mapped_column(String(3))
    sales_tax: Mapped[Decimal] = mapped_column(default=Decimal(0))
    import_rules: Mapped[dict[str, Any]] = mapped_column(default=dict)
    exchange_margin: Mapped[Decimal] = mapped_column(default=Decimal(0))
