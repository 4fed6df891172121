"""Queries about what prices depend on: exchange rates, suppliers, destinations."""

from collections.abc import Sequence
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from db.models import Destination, ExchangeRate, Supplier


def find_rate(session: Session, base: str, quote: str, *, on: date) -> ExchangeRate | None:
    """Return the latest rate of a pair of currencies on or before a day."""
    query = (
        select(ExchangeRate)
        .where(ExchangeRate.base == base, ExchangeRate.quote == quote, ExchangeRate.on <= on)
        .where(ExchangeRate.deleted_at.is_(None))
        .order_by(ExchangeRate.on.desc())
        .limit(1)
    )
    return session.scalars(query).one_or_none()


def list_latest_rates(session: Session, *, on: date) -> list[ExchangeRate]:
    """List the latest rate on or before a day of every pair of currencies."""
    latest = (
        select(ExchangeRate.base, ExchangeRate.quote, func.max(ExchangeRate.on).label("on"))
        .where(ExchangeRate.on <= on, ExchangeRate.deleted_at.is_(None))
        .group_by(ExchangeRate.base, ExchangeRate.quote)
        .subquery()
    )
    query = (
        select(ExchangeRate)
        .join(
            latest,
            (ExchangeRate.base == latest.c.base)
            & (ExchangeRate.quote == latest.c.quote)
            & (ExchangeRate.on == latest.c.on),
        )
        .where(ExchangeRate.deleted_at.is_(None))
        .order_by(ExchangeRate.base, ExchangeRate.quote)
    )
    return list(session.scalars(query))


def list_suppliers_by_ids(session: Session, supplier_ids: Sequence[int]) -> list[Supplier]:
    """List the suppliers with these ids in the order of the ids."""
    query = select(Supplier).where(Supplier.id.in_(supplier_ids), Supplier.deleted_at.is_(None))
    return list(session.scalars(query.order_by(Supplier.id)))


def list_destinations(session: Session) -> list[Destination]:
    """List every destination, the first one entered first."""
    query = select(Destination).where(Destination.deleted_at.is_(None)).order_by(Destination.id)
    return list(session.scalars(query))
