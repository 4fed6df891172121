"""Queries about what prices depend on: exchange rates and destinations."""

from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from db.models import Destination, ExchangeRate


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


def list_destinations(session: Session) -> list[Destination]:
    """List every destination, the first one entered first."""
    query = select(Destination).where(Destination.deleted_at.is_(None)).order_by(Destination.id)
    return list(session.scalars(query))
