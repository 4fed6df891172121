"""Queries about what was said of parts before they were tried."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from db.models import FitForecast, Outcome
from fitworth.vocabulary import Grade, OutcomeKind


@dataclass(frozen=True, slots=True)
class Tried:
    """A forecast with the outcome that answers it."""

    outcome_id: int
    job_id: int
    part_id: int
    family: str
    grade: Grade
    said: float
    leaning: dict[str, Any]
    what: OutcomeKind
    on: date | None


def list_tried(session: Session) -> list[Tried]:
    """List all forecasts whose outcome stands, in the order in which the outcomes were entered."""
    query = (
        select(
            FitForecast.outcome_id,
            FitForecast.job_id,
            FitForecast.part_id,
            FitForecast.family,
            FitForecast.grade,
            FitForecast.said,
            FitForecast.leaning,
            Outcome.what,
            Outcome.on,
        )
        .join(Outcome, Outcome.id == FitForecast.outcome_id)
        .where(Outcome.deleted_at.is_(None))
        .order_by(FitForecast.outcome_id)
    )
    return [Tried(*row) for row in session.execute(query)]


def find_forecast(session: Session, outcome_id: int) -> FitForecast | None:
    """Return the forecast that belongs to an outcome, or None where nothing could be said."""
    return session.get(FitForecast, outcome_id)


def put_forecast(session: Session, forecast: FitForecast) -> None:
    """Store a forecast in place of the one that its outcome had."""
    session.merge(forecast)
    session.flush()


def drop_forecast(session: Session, forecast: FitForecast) -> None:
    """Take back a forecast whose outcome is about something else by now."""
    session.delete(forecast)
    session.flush()


def get_last_revision(session: Session) -> int:
    """Return the catalogue's revision of the last change to an outcome; 0 where there was none.

    Forecasts change with their outcomes only, so whoever has learned up to this revision is up to date.
    """
    return session.scalar(select(func.max(Outcome.revision))) or 0
