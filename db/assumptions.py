"""Queries about the user's own assumptions."""

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from db.models import Assumption


def list_assumptions(session: Session) -> dict[str, float]:
    """Return the user's own values by name; whatever is not among them keeps its default."""
    query = (
        select(Assumption.name, Assumption.value)
        .where(Assumption.deleted_at.is_(None))
        .order_by(Assumption.name)
    )
    return {name: value for name, value in session.execute(query)}  # noqa: C416 - dict() loses the types


def find_assumption(session: Session, name: str, *, include_deleted: bool = False) -> Assumption | None:
    """Return the user's own value for a name; it has one row for ever, so look for a deleted one too."""
    query = select(Assumption).where(Assumption.name == name)
    if not include_deleted:
        query = query.where(Assumption.deleted_at.is_(None))
    return session.scalars(query).one_or_none()


def get_last_revision(session: Session) -> int:
    """Return the catalogue's revision of the last change to the user's own values; 0 where there was none."""
    return session.scalar(select(func.max(Assumption.revision))) or 0
