"""What is said of a part before it is tried, kept with its outcome, so that the outcome can teach."""

from pydantic import ValidationError

from api.schemas.bench import RemovedPartIn
from api.schemas.context import reading_with
from api.services import assumptions
from api.services.call import Call
from api.services.candidates import question_about
from api.services.fits import FitService
from db import forecasts, records
from db.models import FitForecast, Job, Outcome, Part, Quote
from fitworth.errors import CoreError
from fitworth.vocabulary import Origin


def remember_forecast(call: Call, row: Outcome) -> None:
    """Keep with an outcome what is said of the part tried, before anything that was learned.

    Where nothing can be said (no removed part, another family, nothing on file), the outcome stands without.
    An edit keeps what was said first, unless the outcome is about another job or part now.
    """
    part = find_part_tried(call, row)
    kept = forecasts.find_forecast(call.session, row.id)
    if kept is not None:
        if part is not None and (kept.job_id, kept.part_id) == (row.job_id, part.id):
            return
        forecasts.drop_forecast(call.session, kept)
    forecast = None if part is None else find_forecast(call, row, part)
    if forecast is not None:
        forecasts.put_forecast(call.session, forecast)


def find_part_tried(call: Call, row: Outcome) -> Part | None:
    """Return the part that was tried in a job: the outcome's own or its quote's, unless these differ."""
    quote = None if row.quote_id is None else records.find_record(call.session, Quote, row.quote_id)
    part_ids = {row.part_id, None if quote is None else quote.part_id} - {None}
    if row.job_id is None or len(part_ids) != 1:
        return None
    return records.find_record(call.session, Part, part_ids.pop() or 0)


def find_forecast(call: Call, row: Outcome, part: Part) -> FitForecast | None:
    """Return what is said of a part for the removed part of a job, or None where nothing can be."""
    job = records.find_record(call.session, Job, row.job_id or 0)
    removed = None if job is None else read_removed(call, job)
    if job is None or removed is None or removed.family != part.family:
        return None
    # In a transaction of its own making, a service shared with others may only know what is settled.
    fits, settled = (FitService(), None) if call.fits is None else (call.fits, row.revision - 1)
    try:
        held_true = assumptions.current(call).with_overrides(
            job.assumptions, Origin.JOB, call.knowledge.assumption_words
        )
        said, leaning = fits.say(call, question_about(removed), part.id, held_true, settled)
    except CoreError:
        return None
    return FitForecast(
        outcome_id=row.id,
        job_id=job.id,
        part_id=part.id,
        family=part.family,
        grade=part.grade,
        said=said,
        leaning=leaning,
        at=call.now,
    )


def read_removed(call: Call, job: Job) -> RemovedPartIn | None:
    """Return a job's removed part, or None where there is none or its family's file reads it no more."""
    if job.removed_part is None:
        return None
    try:
        with reading_with(call.knowledge.families):
            return RemovedPartIn.model_validate(job.removed_part)
    except ValidationError:
        return None
