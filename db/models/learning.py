"""What the estimates stand on: the user's own assumptions and what happened to the options they chose."""

import datetime as dt
from typing import Any

from sqlalchemy import BigInteger, CheckConstraint, Float, ForeignKey, Index, String, Text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from db.base import KEY_LENGTH, NAME_LENGTH, Base, Record, not_negative, record_checks
from db.models.money import Quote
from db.models.parts import Part
from fitworth.vocabulary import Grade, OutcomeKind


class Assumption(Record):
    """The user's own value for a named assumption; what has no row keeps its default."""

    __tablename__ = "assumption"
    __table_args__ = (*record_checks("assumption"), Index("uq_assumption_name", "name", unique=True))

    name: Mapped[str] = mapped_column(String(NAME_LENGTH))
    value: Mapped[float] = mapped_column(Float)


class Outcome(Record):
    """What happened to an option once it was chosen."""

    __tablename__ = "outcome"
    __table_args__ = (
        *record_checks("outcome"),
        *not_negative("hours", "days"),
        CheckConstraint("job_id IS NOT NULL OR part_id IS NOT NULL", name="of_a_job_or_a_part"),
        Index(None, "job_id"),
        Index(None, "part_id"),
        Index(None, "quote_id"),
    )

    job_id: Mapped[int | None] = mapped_column(BigInteger, ForeignKey("job.id"))
    part_id: Mapped[int | None] = mapped_column(BigInteger, ForeignKey("part.id"))
    quote_id: Mapped[int | None] = mapped_column(BigInteger, ForeignKey("quote.id"))
    what: Mapped[OutcomeKind]
    changes_needed: Mapped[list[str]] = mapped_column(default=list)
    hours: Mapped[float | None] = mapped_column(Float)
    days: Mapped[float | None] = mapped_column(Float)
    note: Mapped[str] = mapped_column(Text, default="")
    on: Mapped[dt.date | None]

    part: Mapped[Part | None] = relationship(lazy="raise", viewonly=True)
    quote: Mapped[Quote | None] = relationship(lazy="raise", viewonly=True)


class FitForecast(Base):
    """What was said of a part's fit before its outcome taught anything; one row an outcome, by its id.

    A table of its own: most outcomes have no forecast, and an outcome's row is what somebody entered. What
    happened, and whether the outcome was deleted, stands in the outcome alone, so that the two cannot differ.
    """

    __tablename__ = "fit_forecast"
    __table_args__ = (CheckConstraint("said >= 0 AND said <= 1", name="said_is_a_probability"),)

    outcome_id: Mapped[int] = mapped_column(
        BigInteger, ForeignKey("outcome.id"), primary_key=True, autoincrement=False
    )
    job_id: Mapped[int] = mapped_column(BigInteger, ForeignKey("job.id"))
    part_id: Mapped[int] = mapped_column(BigInteger, ForeignKey("part.id"))
    family: Mapped[str] = mapped_column(String(KEY_LENGTH))
    grade: Mapped[Grade]
    said: Mapped[float] = mapped_column(Float)
    # {kind of statement: how far what was said leaned on it, -1 to 1}
    leaning: Mapped[dict[str, Any]] = mapped_column(default=dict)
    at: Mapped[dt.datetime]
