"""Rates, destinations, interchange, assumptions, outcomes and kept answers."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from db import assumptions, idempotency, interchange, money_terms, parts, records
from db.models import Assumption, Destination, Interchange, InterchangeDecision, Outcome, Part
from fitworth.vocabulary import Decision, OutcomeKind, Relation


def delete(session: Session, record: Any, now: datetime) -> None:
    records.soft_delete(session, record, now=now, revision=records.next_revision(session))


def test_the_latest_rate_on_or_before_the_day_counts(shelf: Any, now: datetime) -> None:
    session = shelf.session
    shelf.rate(Decimal("1.05"), date(2026, 11, 1))
    shelf.rate(Decimal("1.08"), date(2026, 11, 20))
    shelf.rate(Decimal("0.0061"), date(2026, 11, 2), base="JPY")
    delete(session, shelf.rate(Decimal(9), date(2026, 11, 23)), now)
    on = date(2026, 11, 25)
    before = money_terms.list_latest_rates(session, on=date(2026, 11, 19))
    assert {rate.base: rate.rate for rate in before} == {"EUR": Decimal("1.05"), "JPY": Decimal("0.0061")}
    assert money_terms.list_latest_rates(session, on=date(2026, 10, 31)) == []
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


def test_destinations_are_listed_without_the_deleted_ones(shelf: Any, now: datetime) -> None:
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
    assert interchange.list_statements_about(shelf.session, ["B1"]) == [first, second]
    assert interchange.list_statements_about(shelf.session, ["A1", "D1"]) == [first]
    assert interchange.list_statements_about(shelf.session, []) == []
    light = interchange.list_statements(shelf.session)
    assert [one.id for one in light] == [first.id, second.id]
    assert light[0][1:6] == ("B1", "B1", "A1", "A1", Relation.SUPERSEDES)


def test_the_bearers_of_numbers_are_found_in_one_family_or_all(shelf: Any, now: datetime) -> None:
    own = shelf.part("708-21B", other_numbers=["BK-208"])
    coil = shelf.part("708-21B", family="ignition_coil")
    delete(shelf.session, shelf.part("708-21B", maker="Vennor"), now)
    found = interchange.list_bearers(shelf.session, ["70821B", "BK208", "X1"])
    assert [(one.number_key, one.part_id) for one in found] == [
        ("70821B", own.id),
        ("BK208", own.id),
        ("70821B", coil.id),
    ]
    (one,) = interchange.list_bearers(shelf.session, ["70821B"], family="ignition_coil")
    assert one == ("70821B", coil.id, "ignition_coil")
    assert interchange.list_bearers(shelf.session, []) == []


def test_the_statements_that_link_parts_of_a_family_are_listed(shelf: Any, now: datetime) -> None:
    assert interchange.get_last_revision(shelf.session) == 0

    def state(newer: str, older: str) -> Any:
        return shelf.add(
            Interchange(
                from_number=newer, from_key=newer, to_number=older, to_key=older, relation=Relation.SUPERSEDES
            )
        )

    for number, family in (("A1", "carburetor"), ("B1", "carburetor"), ("B1", "flywheel_key")):
        shelf.part(number, family=family)
    delete(shelf.session, shelf.part("C1"), now)
    linking, half, gone = state("A1", "B1"), state("A1", "C1"), state("B1", "A1")
    last = interchange.get_last_revision(shelf.session)
    delete(shelf.session, gone, now)
    assert interchange.get_last_revision(shelf.session) > last >= half.revision
    found = interchange.list_linking(shelf.session, "carburetor")
    assert [(one.id, one.from_key, one.to_key) for one in found] == [(linking.id, "A1", "B1")]
    assert interchange.list_linking(shelf.session, "flywheel_key") == []


def test_rejected_pairs_are_listed_by_family_and_count_as_changes(shelf: Any, now: datetime) -> None:
    sheets = [shelf.part(f"A-{number}") for number in range(4)]
    coils = [shelf.part(f"C-{number}", family="ignition_coil") for number in range(2)]

    def decide(pair: list[Part], decision: Decision) -> Any:
        low, high = (part.id for part in pair)
        return shelf.add(InterchangeDecision(low_part_id=low, high_part_id=high, decision=decision))

    later = decide(sheets[2:], Decision.REJECTED)
    decide(sheets[1:3], Decision.CONFIRMED)
    decide(coils, Decision.REJECTED)
    delete(shelf.session, decide(sheets[::2], Decision.REJECTED), now)
    first = decide(sheets[:2], Decision.REJECTED)
    assert interchange.list_rejected(shelf.session, "carburetor") == [
        (row.low_part_id, row.high_part_id) for row in (first, later)
    ]
    assert interchange.get_last_revision(shelf.session) == first.revision


def test_parts_under_no_number_are_listed_by_family(shelf: Any, now: datetime) -> None:
    shelf.part("708-21B")
    nameless = shelf.part(None)
    shelf.part(None, other_numbers=["BK-208"])
    shelf.part(None, family="ignition_coil")
    delete(shelf.session, shelf.part(None), now)
    assert parts.list_unnumbered(shelf.session, "carburetor") == [nameless.id]


def test_a_pair_is_decided_once_until_the_decision_is_deleted(shelf: Any, now: datetime) -> None:
    first, second, third = shelf.part("A-1"), shelf.part("A-2"), shelf.part("A-3")

    def decide(low: Part, high: Part) -> Any:
        return shelf.add(
            InterchangeDecision(low_part_id=low.id, high_part_id=high.id, decision=Decision.REJECTED)
        )

    delete(shelf.session, decide(first, second), now)
    kept = decide(first, second)
    other = decide(first, third)
    assert interchange.find_decision(shelf.session, first.id, second.id) == kept
    assert interchange.find_decision(shelf.session, second.id, third.id) is None
    assert interchange.list_decided(shelf.session) == {(first.id, second.id), (first.id, third.id)}
    assert other.note == ""
    with pytest.raises(IntegrityError):
        decide(first, second)


def test_a_decision_names_the_lower_id_first(shelf: Any) -> None:
    first, second = shelf.part("A-1"), shelf.part("A-2")
    with pytest.raises(IntegrityError):
        shelf.add(
            InterchangeDecision(low_part_id=second.id, high_part_id=first.id, decision=Decision.CONFIRMED)
        )


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
