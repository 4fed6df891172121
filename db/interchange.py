"""Queries about interchange statements."""

from collections.abc import Sequence

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from db.models import Interchange


def list_statements_about(session: Session, number_keys: Sequence[str]) -> list[Interchange]:
    """List the statements that name any of these numbers, on either side: one step of walking the graph."""
    query = (
        select(Interchange)
        .where(or_(Interchange.from_key.in_(number_keys), Interchange.to_key.in_(number_keys)))
        .where(Interchange.deleted_at.is_(None))
        .order_by(Interchange.id)
    )
    return list(session.scalars(query))
