"""Machines, jobs and outcomes as resources."""

from collections.abc import Iterable, Mapping
from typing import Any

from api.errors import InputFault
from api.schemas.bench import JobIn, MachineIn, OutcomeIn, RemovedPartIn
from api.services.call import Call
from api.services.fit_forecasts import remember_forecast
from api.services.parts import dimensions_of
from api.services.references import missing_reference, shown
from api.services.resource import Body, Resource, record_id
from api.services.supply import minor, money_body
from db import records
from db.models import Destination, Job, Machine, Outcome, Part, Quote
from fitworth.advice.condition import CURE_TABLES, check_condition
from fitworth.errors import InvalidValueError
from fitworth.quantities.money import to_minor
from fitworth.vocabulary import Origin


def write_machine(call: Call, row: Machine, data: MachineIn) -> None:
    """Set a machine's columns."""
    del call
    row.name, row.engine, row.currency = data.name, data.engine, data.worth_running.currency
    row.worth_running_minor, row.worth_as_is_minor = to_minor(data.worth_running), to_minor(data.worth_as_is)
    row.hours_per_season, row.seasons = data.hours_per_season, data.seasons
    row.history_known, row.hour_value_minor = data.history_known, minor(data.hour_value)


def read_machine(row: Machine) -> Body:
    """Return a machine as it came in."""
    return {
        "name": row.name,
        "engine": row.engine or "",
        "worth_running": money_body(row.worth_running_minor, row.currency),
        "worth_as_is": money_body(row.worth_as_is_minor, row.currency),
        "hours_per_season": row.hours_per_season,
        "seasons": row.seasons,
        "history_known": row.history_known,
        "hour_value": money_body(row.hour_value_minor, row.currency),
    }


def assumption_faults(call: Call, values: Mapping[str, float], at: str) -> Iterable[InputFault]:
    """Yield a fault for each assumption that is unknown or out of its bounds."""
    try:
        call.knowledge.assumptions.with_overrides(values, Origin.JOB, call.knowledge.assumption_words)
    except InvalidValueError as error:
        for fault in error.faults:
            yield InputFault(fault.says, "pointer", at + fault.where)


def condition_faults(call: Call, data: RemovedPartIn | None, at: str) -> Iterable[InputFault]:
    """Yield a fault for each word of a condition that says nothing about a part of its family."""
    repair = None if data is None else call.knowledge.families[data.family].repair
    if data is None or not data.condition:
        return
    if repair is None:
        yield InputFault("Nothing is known of saving a part of this family; leave this out.", "pointer", at)
        return
    try:
        check_condition(CURE_TABLES[repair.cure_table], data.condition)
    except InvalidValueError as error:
        for fault in error.faults:
            yield InputFault(fault.says, "pointer", at + fault.where)


def job_faults(call: Call, data: JobIn, own_id: int | None) -> Iterable[InputFault]:
    """Refuse what leads nowhere, another currency than the machine's, and unknown words and assumptions."""
    del own_id
    yield from missing_reference(call, Machine, "machine", "machines", data.machine_id, "/machine_id")
    yield from missing_reference(
        call, Destination, "destination", "destinations", data.destination_id, "/destination_id"
    )
    machine = records.find_record(call.session, Machine, record_id(data.machine_id))
    destination = records.find_record(call.session, Destination, record_id(data.destination_id))
    for row, what in ((machine, "machine's worth"), (destination, "destination's currency")):
        if row is not None and row.currency != data.currency:
            yield InputFault(
                f"The {what} is in {row.currency}; the job must be in it too.", "pointer", "/currency"
            )
    yield from assumption_faults(call, data.assumptions, "/assumptions")
    yield from condition_faults(call, data.removed_part, "/removed_part/condition")


def removed_part_body(call: Call, data: RemovedPartIn | None) -> Body | None:
    """Return a removed part as it is stored: every value with how it was read."""
    if data is None:
        return None
    family = call.knowledge.families[data.family]
    return {
        "family": data.family,
        "instrument": data.instrument,
        "measured": dimensions_of(family, dict(data.measured)),
        "marking": data.marking,
        "known_number": data.known_number,
        "engine": data.engine,
        "condition": dict(data.condition),
    }


def write_job(call: Call, row: Job, data: JobIn) -> None:
    """Set a job's columns."""
    row.machine_id = record_id(data.machine_id)
    row.destination_id = None if data.destination_id is None else record_id(data.destination_id)
    row.currency, row.symptom = data.currency, data.symptom
    row.checks = [check.model_dump() for check in data.checks]
    row.removed_part = removed_part_body(call, data.removed_part)
    row.needs = None if data.needs is None else [need.model_dump() for need in data.needs]
    row.on_hand = [need.model_dump() for need in data.on_hand]
    row.labour_minutes, row.days_lost_per_failure = data.labour_minutes, data.days_lost_per_failure
    row.waiting_cost_per_day_minor = minor(data.waiting_cost_per_day)
    row.other_spending_minor = minor(data.other_spending)
    row.assumptions = dict(data.assumptions)


def read_job(row: Job) -> Body:
    """Return a job as it came in."""
    return {
        "machine_id": str(row.machine_id),
        "symptom": row.symptom,
        "checks": row.checks,
        "removed_part": row.removed_part,
        "needs": row.needs,
        "on_hand": row.on_hand,
        "labour_minutes": row.labour_minutes,
        "waiting_cost_per_day": money_body(row.waiting_cost_per_day_minor, row.currency),
        "days_lost_per_failure": row.days_lost_per_failure,
        "other_spending": money_body(row.other_spending_minor, row.currency),
        "destination_id": shown(row.destination_id),
        "currency": row.currency,
        "assumptions": row.assumptions,
    }


def outcome_faults(call: Call, data: OutcomeIn, own_id: int | None) -> Iterable[InputFault]:
    """Refuse an outcome of what is not there."""
    del own_id
    named: tuple[tuple[type[Any], str, str | None], ...] = (
        (Job, "job", data.job_id),
        (Part, "part", data.part_id),
        (Quote, "quote", data.quote_id),
    )
    for model, noun, text in named:
        yield from missing_reference(call, model, noun, f"{noun}s", text, f"/{noun}_id")


def write_outcome(call: Call, row: Outcome, data: OutcomeIn) -> None:
    """Set an outcome's columns."""
    del call
    for name in ("job_id", "part_id", "quote_id"):
        text = getattr(data, name)
        setattr(row, name, None if text is None else record_id(text))
    row.what, row.changes_needed = data.what, data.changes_needed
    row.hours, row.days, row.note, row.on = data.hours, data.days, data.note, data.on


def read_outcome(row: Outcome) -> Body:
    """Return an outcome as it came in."""
    return {
        "job_id": shown(row.job_id),
        "part_id": shown(row.part_id),
        "quote_id": shown(row.quote_id),
        "what": row.what,
        "changes_needed": row.changes_needed,
        "hours": row.hours,
        "days": row.days,
        "note": row.note,
        "on": row.on,
    }


MACHINES = Resource(
    name="machines",
    noun="machine",
    model=Machine,
    schema=MachineIn,
    write=write_machine,
    read=read_machine,
    filters={"name": "name", "engine": "engine"},
    columns=(
        "id",
        "name",
        "engine",
        "worth_running",
        "worth_as_is",
        "hours_per_season",
        "seasons",
        "history_known",
        "hour_value",
    ),
)
JOBS = Resource(
    name="jobs",
    noun="job",
    model=Job,
    schema=JobIn,
    write=write_job,
    read=read_job,
    faults=job_faults,
    filters={"machine_id": "machine_id", "symptom": "symptom"},
    columns=(
        "id",
        "machine_id",
        "symptom",
        "checks",
        "removed_part",
        "needs",
        "on_hand",
        "labour_minutes",
        "waiting_cost_per_day",
        "days_lost_per_failure",
        "other_spending",
        "destination_id",
        "currency",
        "assumptions",
    ),
)
OUTCOMES = Resource(
    name="outcomes",
    noun="outcome",
    model=Outcome,
    schema=OutcomeIn,
    write=write_outcome,
    read=read_outcome,
    faults=outcome_faults,
    attach=remember_forecast,
    filters={"job_id": "job_id", "part_id": "part_id", "quote_id": "quote_id", "what": "what"},
    columns=("id", "job_id", "part_id", "quote_id", "what", "changes_needed", "hours", "days", "note", "on"),
)
