"""Queries about outcomes: what the estimates of reliability and of fit learn from."""

from dataclasses import dataclass
from typing import NamedTuple

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from db.models import Outcome, Part, Quote
from fitworth.vocabulary import Grade, OutcomeKind


@dataclass(frozen=True, slots=True)
class OutcomeFilter:
    """Which outcomes to list; None lets everything through."""

    family: str | None = None
    grade: Grade | None = None
    maker: str | None = None
    supplier_id: int | None = None


class ObservedOutcome(NamedTuple):
    """An outcome with what it tells about: family, grade, maker, and the supplier where known."""

    outcome_id: int
    what: OutcomeKind
    hours: float | None
    days: float | None
    part_id: int
    family: str
    grade: Grade
    maker: str
    supplier_id: int | None


def list_observed_outcomes(session: Session, wanted: OutcomeFilter | None = None) -> list[ObservedOutcome]:
    """List the outcomes whose part is known, named itself or by the quote; a deleted part's still count."""
    wanted = wanted or OutcomeFilter()
    part_id = func.coalesce(Outcome.part_id, Quote.part_id)
    query = (
        select(
            Outcome.id,
            Outcome.what,
            Outcome.hours,
            Outcome.days,
            Part.id,
            Part.family,
            Part.grade,
            Part.maker,
            Quote.supplier_id,
        )
        .join(Quote, Quote.id == Outcome.quote_id, isouter=True)
        .join(Part, Part.id == part_id)
        .where(Outcome.deleted_at.is_(None))
        .order_by(Outcome.id)
    )
    for column, value in (
        (Part.family, wanted.family),
        (Part.grade, wanted.grade),
        (Part.maker, wanted.maker),
        (Quote.supplier_id, wanted.supplier_id),
    ):
        if value is not None:
            query = query.where(column == value)
    return [ObservedOutcome(*row) for row in session.execute(query)]
