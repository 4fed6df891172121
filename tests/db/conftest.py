"""Rows to arrange tests with; all names are invented."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

import pytest
from sqlalchemy.orm import Session

from db import forecasts, parts, quotes, records
from db.models import (
    Destination,
    ExchangeRate,
    FitForecast,
    Job,
    Machine,
    Outcome,
    Part,
    Quote,
    Supplier,
)
from fitworth.vocabulary import Grade, OutcomeKind


@dataclass(frozen=True)
class Shelf:
    """Puts rows on file in one session, each at a revision of its own."""

    session: Session
    now: datetime

    def add(self, record: Any) -> Any:
        return records.add_record(
            self.session, record, now=self.now, revision=records.next_revision(self.session)
        )

    def part(self, number: str | None = "708-21B", **values: Any) -> Part:
        columns = {"family": "carburetor", "maker": "Harrowmere", "grade": Grade.OEM} | values
        other = columns.pop("other_numbers", [])
        key = None if number is None else number.replace("-", "")
        part: Part = self.add(Part(number=number, number_key=key, **columns))
        written = [text for text in (number, *other) if text is not None]
        parts.set_part_details(
            self.session, part, [parts.Number(text, text.replace("-", "")) for text in written]
        )
        return part

    def supplier(self, name: str = "Vennor Direct") -> Supplier:
        supplier: Supplier = self.add(Supplier(name=name, country="US", currency="USD"))
        return supplier

    def quote(self, part: Part, supplier: Supplier, **values: Any) -> Quote:
        columns = {"price_minor": 980, "currency": "USD", "seen_on": date(2026, 11, 1)} | values
        quote: Quote = self.add(Quote(part_id=part.id, supplier_id=supplier.id, **columns))
        quotes.set_quote_details(self.session, quote)
        return quote

    def rate(self, rate: Any, on: date, base: str = "EUR", quote: str = "USD") -> ExchangeRate:
        found: ExchangeRate = self.add(ExchangeRate(base=base, quote=quote, rate=rate, on=on))
        return found

    def job(self, **values: Any) -> Job:
        machine = self.add(Machine(name="TL-07 tiller", currency="USD", worth_running_minor=19000))
        place = self.add(Destination(name="the library", country="US", currency="USD"))
        job: Job = self.add(Job(machine_id=machine.id, destination_id=place.id, currency="USD", **values))
        return job

    def forecast(
        self, part: Part, what: OutcomeKind = OutcomeKind.FITTED, job: Job | None = None, **values: Any
    ) -> FitForecast:
        """Put an outcome of a job on file with what was said of its part before."""
        job = job or self.job()
        outcome = self.add(Outcome(job_id=job.id, part_id=part.id, what=what, on=date(2026, 11, 20)))
        columns = {"family": part.family, "grade": part.grade, "said": 0.9, "leaning": {}} | values
        forecast = FitForecast(outcome_id=outcome.id, job_id=job.id, part_id=part.id, at=self.now, **columns)
        forecasts.put_forecast(self.session, forecast)
        return forecast


@pytest.fixture
def now() -> datetime:
    return datetime(2026, 11, 25, 9, 30, 15, 123456, tzinfo=UTC)


@pytest.fixture
def shelf(session: Session, now: datetime) -> Shelf:
    return Shelf(session, now)


@pytest.fixture
def shelf_of(now: datetime) -> Callable[[Session], Shelf]:
    return lambda session: Shelf(session, now)
