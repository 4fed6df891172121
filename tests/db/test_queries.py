"""Jobs, rates, suppliers, destinations, interchange, assumptions, outcomes and kept answers."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from db import assumptions, idempotency, interchange, jobs, money_terms, outcomes, records
from db.models import Assumption, Destination, Interchange, Outcome
from db.outcomes import OutcomeFilter
from fitworth.vocabulary import Grade, OutcomeKind, Relation


def delete(session: Session, record: Any, now: datetime) -> None:
    records.soft_delete(session, record, now=now, revision=records.next_revision(session))


@pytest.mark.parametrize("job_id", [0, 77, 2**80])
def test_a_job_that_is_not_there_is_not_found(session: Session, job_id: int) -> None:
    assert jobs.find_job(session, job_id) is None


def test_a_job_comes_with_its_machine_and_destination(shelf: Any, now: datetime) -> None:
    job, gone = shelf.job(symptom="leaks fuel", removed_part={"family": "carburetor"}), shelf.job()
    delete(shelf.session, gone, now)
    shelf.session.expire_all()
    found = jobs.find_job(shelf.session, job.id)
    assert found is not None
    assert found.machine is not None
    assert found.destination is not None
    assert (found.machine.name, found.destination.name) == ("TL-07 tiller", "the library")
    assert jobs.list_jobs(shelf.session, [gone.id, job.id, -1]) == [job]


def test_the_latest_rate_on_or_before_the_day_counts(shelf: Any, now: datetime) -> None:
    session = shelf.session
    shelf.rate(Decimal("1.05"), date(2026, 11, 1))
    shelf.rate(Decimal("1.08"), date(2026, 11, 20))
    shelf.rate(Decimal("0.0061"), date(2026, 11, 2), base="JPY")
    delete(session, shelf.rate(Decimal(9), date(2026, 11, 23)), now)
    on = date(2026, 11, 25)
    found = {
        day: money_terms.find_rate(session, "EUR", "USD", on=date(2026, 11, day)) for day in (1, 19, 20, 25)
    }
    assert {day: rate and rate.rate for day, rate in found.items()} == {
        1: Decimal("1.05"),
        19: Decimal("1.05"),
        20: Decimal("1.08"),
        25: Decimal("1.08"),
    }
    assert money_terms.find_rate(session, "EUR", "USD", on=date(2026, 10, 31)) is None
    assert money_terms.find_rate(session, "USD", "EUR", on=on) is None
    latest = money_terms.list_latest_rates(session, on=on)
    assert [(rate.base, rate.rate) for rate in latest] == [
        ("EUR", Decimal("1.08")),
        ("JPY", Decimal("0.0061")),
    ]


def test_a_second_rate_of_a_pair_and_day_is_refused_unless_the_first_was_deleted(
    shelf: Any, now: datetime
) -> None:
    first = shelf.rate(Decimal("1.05"), date(2026, 11, 1))
    delete(shelf.session, first, now)
    shelf.rate(Decimal("1.06"), date(2026, 11, 1))
    with pytest.raises(IntegrityError):
        shelf.rate(Decimal("1.07"), date(2026, 11, 1))


def test_suppliers_and_destinations_are_listed_without_the_deleted_ones(shelf: Any, now: datetime) -> None:
    first, gone = shelf.supplier("Vennor Direct"), shelf.supplier("Ostler Post")
    delete(shelf.session, gone, now)
    assert money_terms.list_suppliers_by_ids(shelf.session, [gone.id, first.id]) == [first]
    place = shelf.add(Destination(name="the library", country="US", currency="USD"))
    delete(shelf.session, shelf.add(Destination(name="the old hall", country="US", currency="USD")), now)
    assert money_terms.list_destinations(shelf.session) == [place]


def test_interchange_statements_are_found_from_either_side(shelf: Any, now: datetime) -> None:
    def state(older: str, newer: str) -> Any:
        return shelf.add(
            Interchange(
                from_number=newer, from_key=newer, to_number=older, to_key=older, relation=Relation.SUPERSEDES
            )
        )

    first, second, gone = state("A1", "B1"), state("B1", "C1"), state("C1", "D1")
    delete(shelf.session, gone, now)
    assert interchange.list_statements(shelf.session) == [first, second]
    assert interchange.list_statements_about(shelf.session, ["B1"]) == [first, second]
    assert interchange.list_statements_about(shelf.session, ["A1", "D1"]) == [first]
    assert interchange.list_statements_about(shelf.session, []) == []


def test_only_the_user_s_own_assumptions_are_kept_one_row_a_name(shelf: Any, now: datetime) -> None:
    session = shelf.session
    own = shelf.add(Assumption(name="unlisted_misfit", value=0.04))
    gone = shelf.add(Assumption(name="hour_value", value=12.0))
    delete(session, gone, now)
    assert assumptions.list_assumptions(session) == {"unlisted_misfit": 0.04}
    assert assumptions.find_assumption(session, "unlisted_misfit") == own
    assert assumptions.find_assumption(session, "hour_value") is None
    assert assumptions.find_assumption(session, "hour_value", include_deleted=True) == gone
    with pytest.raises(IntegrityError):
        shelf.add(Assumption(name="hour_value", value=14.0))


def test_a_change_of_assumptions_shows_in_their_last_revision(shelf: Any, now: datetime) -> None:
    session = shelf.session
    assert assumptions.get_last_revision(session) == 0
    own = shelf.add(Assumption(name="unlisted_misfit", value=0.04))
    shelf.part()
    assert assumptions.get_last_revision(session) == 1
    delete(session, own, now)
    assert assumptions.get_last_revision(session) == 3


def test_an_outcome_of_neither_a_job_nor_a_part_is_refused(shelf: Any) -> None:
    with pytest.raises(IntegrityError):
        shelf.add(Outcome(what=OutcomeKind.FITTED, on=date(2026, 11, 20)))


def test_outcomes_are_told_by_part_and_supplier_even_when_the_part_was_deleted(
    shelf: Any, now: datetime
) -> None:
    session = shelf.session
    part, supplier, job = (
        shelf.part(maker="Quillon", grade=Grade.AFTERMARKET_UNBRANDED),
        shelf.supplier(),
        shelf.job(),
    )
    other = shelf.part("1-2", family="ignition_coil")
    quote = shelf.quote(part, supplier)
    by_quote = shelf.add(Outcome(job_id=job.id, quote_id=quote.id, what=OutcomeKind.FAILED, hours=31.5))
    by_part = shelf.add(Outcome(part_id=other.id, what=OutcomeKind.STILL_RUNNING, days=200))
    shelf.add(Outcome(job_id=job.id, what=OutcomeKind.FITTED))
    delete(session, shelf.add(Outcome(part_id=other.id, what=OutcomeKind.RETURNED)), now)
    delete(session, part, now)
    found = outcomes.list_observed_outcomes(session)
    assert [(row.outcome_id, row.what, row.hours, row.days, row.maker, row.supplier_id) for row in found] == [
        (by_quote.id, OutcomeKind.FAILED, 31.5, None, "Quillon", supplier.id),
        (by_part.id, OutcomeKind.STILL_RUNNING, None, 200, "Harrowmere", None),
    ]
    for wanted in (
        OutcomeFilter(family="carburetor"),
        OutcomeFilter(grade=Grade.AFTERMARKET_UNBRANDED),
        OutcomeFilter(maker="Quillon"),
        OutcomeFilter(supplier_id=supplier.id),
    ):
        assert [row.outcome_id for row in outcomes.list_observed_outcomes(session, wanted)] == [by_quote.id]
    assert outcomes.list_observed_outcomes(session, OutcomeFilter(family="carburetor", maker="Ostler")) == []


def keep(session: Session, now: datetime, key: str = "k-1") -> Any:
    return idempotency.keep_answer(
        session, key=key, target="POST /v1/parts", body_sha256="a" * 64, status=201,
        headers={"Location": "/v1/parts/1"}, body=b"{}", now=now,
    )  # fmt: skip


def test_a_second_answer_under_one_key_is_refused(session: Session, now: datetime) -> None:
    keep(session, now)
    with pytest.raises(IntegrityError):
        keep(session, now)


def test_an_answer_is_found_by_key_and_target_until_it_is_forgotten(session: Session, now: datetime) -> None:
    answer, newer = keep(session, now), keep(session, now + timedelta(days=1), "k-2")
    assert idempotency.find_answer(session, "k-1", "POST /v1/parts") == answer
    assert idempotency.find_answer(session, "k-1", "POST /v1/quotes") is None
    idempotency.forget_answers(session, before=now + timedelta(hours=1))
    assert idempotency.find_answer(session, "k-1", "POST /v1/parts") is None
    assert idempotency.find_answer(session, "k-2", "POST /v1/parts") == newer
