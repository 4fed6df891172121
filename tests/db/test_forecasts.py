"""What was said of parts before they were tried, beside what happened."""

from datetime import datetime
from typing import Any

import pytest
from sqlalchemy.exc import IntegrityError

from db import forecasts, records
from db.models import Outcome
from fitworth.vocabulary import Grade, OutcomeKind


@pytest.mark.parametrize("said", [-0.1, 1.1])
def test_what_is_no_probability_is_refused(shelf: Any, said: float) -> None:
    with pytest.raises(IntegrityError):
        shelf.forecast(shelf.part(), said=said)


def test_forecasts_come_with_what_happened_in_the_order_of_entry(shelf: Any) -> None:
    part, job = shelf.part(), shelf.job()
    shelf.forecast(part, OutcomeKind.DID_NOT_FIT, job, said=0.7, leaning={"engine": 0.25})
    shelf.forecast(part, said=1.0)
    first, second = forecasts.list_tried(shelf.session)
    assert (first.said, first.what, first.leaning) == (0.7, OutcomeKind.DID_NOT_FIT, {"engine": 0.25})
    assert (first.family, first.grade, first.part_id, first.job_id) == (
        "carburetor",
        Grade.OEM,
        part.id,
        job.id,
    )
    assert second.outcome_id > first.outcome_id


def test_a_deleted_outcome_takes_its_forecast_out_and_brings_it_back(shelf: Any, now: datetime) -> None:
    session = shelf.session
    forecast = shelf.forecast(shelf.part())
    outcome = session.get(Outcome, forecast.outcome_id)
    records.soft_delete(session, outcome, now=now, revision=records.next_revision(session))
    assert forecasts.list_tried(session) == []
    assert forecasts.get_last_revision(session) == records.get_revision(session)
    records.restore_record(session, outcome, now=now, revision=records.next_revision(session))
    assert len(forecasts.list_tried(session)) == 1


def test_an_outcome_has_one_forecast_which_can_be_replaced_and_taken_back(shelf: Any) -> None:
    session = shelf.session
    assert forecasts.get_last_revision(session) == 0
    forecast = shelf.forecast(shelf.part())
    number = forecast.outcome_id
    assert forecasts.get_last_revision(session) == records.get_revision(session)
    found = forecasts.find_forecast(session, number)
    assert found is not None
    session.expunge(found)
    found.said = 0.4
    forecasts.put_forecast(session, found)
    again = forecasts.find_forecast(session, number)
    assert again is not None
    assert again.said == 0.4
    forecasts.drop_forecast(session, again)
    assert forecasts.find_forecast(session, number) is None
    assert forecasts.find_forecast(session, number + 1) is None
