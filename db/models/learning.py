"""What the estimates stand on: the user's own assumptions and what happened to the options they chose."""

import datetime as dt

from sqlalchemy import BigInteger, CheckConstraint, Float, ForeignKey, Index, String, Text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from db.base import NAME_LENGTH, Record, not_negative, record_checks
from db.models.money import Quote
from db.models.parts import Part
from fitworth.vocabulary import OutcomeKind


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
