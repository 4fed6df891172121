"""Machines and the jobs on them. Amounts are minor units of the row's currency."""

from typing import Any

from sqlalchemy import BigInteger, Float, ForeignKey, Index, String, Text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from db.base import NAME_LENGTH, Record, currency_check, not_negative, record_checks
from db.models.money import Destination


class Machine(Record):
    """What is being kept alive, and what it is worth."""

    __tablename__ = "machine"
    __table_args__ = (
        *record_checks("machine"),
        currency_check(),
        *not_negative(
            "worth_running_minor", "worth_as_is_minor", "hours_per_season", "seasons", "hour_value_minor"
        ),
    )

    name: Mapped[str] = mapped_column(String(NAME_LENGTH))
    engine: Mapped[str | None] = mapped_column(Text)
    currency: Mapped[str] = mapped_column(String(3))
    worth_running_minor: Mapped[int | None] = mapped_column(BigInteger)
    worth_as_is_minor: Mapped[int | None] = mapped_column(BigInteger)
    hours_per_season: Mapped[float | None] = mapped_column(Float)
    seasons: Mapped[float | None] = mapped_column(Float)
    history_known: Mapped[bool | None]
    hour_value_minor: Mapped[int | None] = mapped_column(BigInteger)


class Job(Record):
    """One repair: the symptom, what was checked, the removed part, what is needed and what is on hand."""

    __tablename__ = "job"
    __table_args__ = (
        *record_checks("job"),
        currency_check(),
        *not_negative(
            "labour_minutes", "waiting_cost_per_day_minor", "days_lost_per_failure", "other_spending_minor"
        ),
        Index(None, "machine_id"),
        Index(None, "destination_id"),
    )

    machine_id: Mapped[int | None] = mapped_column(BigInteger, ForeignKey("machine.id"))
    destination_id: Mapped[int | None] = mapped_column(BigInteger, ForeignKey("destination.id"))
    currency: Mapped[str] = mapped_column(String(3))
    symptom: Mapped[str] = mapped_column(Text, default="")
    labour_minutes: Mapped[float | None] = mapped_column(Float)
    waiting_cost_per_day_minor: Mapped[int | None] = mapped_column(BigInteger)
    days_lost_per_failure: Mapped[float | None] = mapped_column(Float)
    other_spending_minor: Mapped[int | None] = mapped_column(BigInteger)
    checks: Mapped[list[dict[str, Any]]] = mapped_column(default=list)
    removed_part: Mapped[dict[str, Any] | None]
    needs: Mapped[list[dict[str, Any]] | None]
    on_hand: Mapped[list[dict[str, Any]]] = mapped_column(default=list)
    assumptions: Mapped[dict[str, Any]] = mapped_column(default=dict)

    machine: Mapped[Machine | None] = relationship(lazy="raise", viewonly=True)
    destination: Mapped[Destination | None] = relationship(lazy="raise", viewonly=True)
