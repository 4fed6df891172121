"""Comparisons: a job's rows turned into the core's case in one place, and the core's answer as shown."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from api.errors import InputFault, InvalidInputError
from api.schemas.bench import JobContent, JobIn, MachineIn, NeedLineIn
from api.schemas.comparisons import ComparisonIn
from api.services import assumptions
from api.services.bench import JOBS, MACHINES, assumption_faults, condition_faults
from api.services.call import Call
from api.services.candidates import CandidateSet, find_candidates
from api.services.fits import FitService
from api.services.offers import Market, find_market
from api.services.references import missing_reference
from api.services.resource import get_record, jsonable, record_id
from db import money_terms, records
from db.models import Destination as StoredDestination
from db.models import Part, Quote
from fitworth.advice.answer import Comparison, OptionResult
from fitworth.advice.case import ComparisonCase, MachineValues, Prices, Work
from fitworth.advice.cautions import list_for
from fitworth.advice.comparison import compare
from fitworth.costing.landed import CostLine
from fitworth.costing.rates import Rate
from fitworth.costing.terms import ZERO, Destination
from fitworth.costing.terms_reading import read_import_rules
from fitworth.errors import NotComputableError
from fitworth.families.model import Family
from fitworth.vocabulary import OptionKind, Origin

SEAT_REPLACEABLE = "yes"  # the choice of the dimension seat_replaceable

Body = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Question:
    """What is compared, wherever it came from."""

    machine: MachineIn
    content: JobContent
    currency: str
    part_ids: tuple[int, ...]
    quote_ids: tuple[int, ...]
    as_of: date
    seed: int


def compare_job(call: Call, fits: FitService, job_id: str) -> Body:
    """Return the comparison of a stored job as of today."""
    return answer(call, fits, ComparisonIn(job_id=job_id))


def answer(call: Call, fits: FitService, data: ComparisonIn) -> Body:
    """Return the options of a job ranked, with every line of their cost.

    Raises:
        InvalidInputError: with every reference that leads nowhere and every assumption that is unknown.
        MissingError: there is no such job.
        NotComputableError: there is no destination, or rates are missing.
    """
    check(call, data)
    question = question_of(call, data)
    family = family_of(call, question)
    destination = destination_of(call, question)
    held_true = assumptions.current(call).with_overrides(
        question.content.assumptions, Origin.JOB, call.knowledge.assumption_words
    )
    candidates = find_candidates(call, fits, question.content.removed_part, question.part_ids, held_true)
    market = find_market(
        call, family, candidates, question.content, set(question.quote_ids), question.as_of, held_true
    )
    case = ComparisonCase(
        family=family,
        machine=machine_values(question.machine),
        prices=Prices(question.currency, destination, rates_on(call, question.as_of), question.as_of),
        candidates=candidates.candidates,
        belief=candidates.belief,
        offers=market.offers,
        kits=market.kits,
        need_offers=market.need_offers,
        work=work_of(family, question.content),
        assumptions=held_true,
    )
    compared = compare(case, np.random.default_rng(question.seed))
    return comparison_body(call, question, case, candidates, market, compared)


def check(call: Call, data: ComparisonIn) -> None:
    """Raise every fault that the database has against what came in."""
    faults: list[InputFault] = []
    for position, text in enumerate(data.part_ids):
        faults += missing_reference(call, Part, "part", "parts", text, f"/part_ids/{position}")
    for position, text in enumerate(data.quote_ids):
        faults += quote_faults(call, text, data.as_of or call.today, f"/quote_ids/{position}")
    faults += missing_reference(
        call, StoredDestination, "destination", "destinations", data.destination_id, "/destination_id"
    )
    faults += assumption_faults(call, data.assumptions, "/assumptions")
    faults += condition_faults(call, data.removed_part, "/removed_part/condition")
    faults += part_faults(call, data)
    if faults:
        raise InvalidInputError("It refers to what is not there.", faults)


def part_faults(call: Call, data: ComparisonIn) -> Iterable[InputFault]:
    """Yield what is wrong with the families of the parts named: none on hand, or more than one."""
    families = set()
    for position, text in enumerate(data.part_ids):
        part = records.find_record(call.session, Part, record_id(text))
        if part is None:
            continue
        families.add(part.family)
        if part.family not in call.knowledge.families:
            yield InputFault(
                f"This part is of the family {part.family}, whose file was taken away; bring it back.",
                "pointer",
                f"/part_ids/{position}",
            )
    if len(families) > 1:
        yield InputFault("Compare parts of one family at a time.", "pointer", "/part_ids")


def quote_faults(call: Call, text: str, as_of: date, at: str) -> Iterable[InputFault]:
    """Yield what is wrong with a quote that was named: gone, of a deleted part, or expired."""
    yield from missing_reference(call, Quote, "quote", "quotes", text, at)
    quote = records.find_record(call.session, Quote, record_id(text))
    if quote is None:
        return
    if records.find_record(call.session, Part, quote.part_id) is None:
        yield InputFault(
            f"This quote is for part {quote.part_id}, which was deleted; "
            f"POST /v1/parts/{quote.part_id}/restore brings it back.",
            "pointer",
            at,
        )
    if quote.valid_until is not None and quote.valid_until < as_of:
        yield InputFault(
            f"This quote expired on {quote.valid_until}; ask for a new price and enter it.", "pointer", at
        )


def question_of(call: Call, data: ComparisonIn) -> Question:
    """Return what is compared: a stored job's content, or what came with the request."""
    part_ids = tuple(record_id(text) for text in data.part_ids)
    quote_ids = tuple(record_id(text) for text in data.quote_ids)
    as_of = data.as_of or call.today
    if data.job_id is None:
        assert data.machine is not None and data.currency is not None  # noqa: S101, PT018 - checked as it was read
        return Question(data.machine, data, data.currency, part_ids, quote_ids, as_of, data.seed)
    job = JobIn.model_validate(jsonable(JOBS.read(get_record(call, JOBS, data.job_id))))
    machine_row = get_record(call, MACHINES, job.machine_id)
    machine = MachineIn.model_validate(jsonable(MACHINES.read(machine_row)))
    if machine.worth_running.currency != job.currency:
        raise NotComputableError(
            f"The job is in {job.currency} and the machine's worth in {machine.worth_running.currency}; "
            "edit one of the two."
        )
    content = job.model_copy(update={"assumptions": {**job.assumptions, **data.assumptions}})
    return Question(machine, content, job.currency, part_ids, quote_ids, as_of, data.seed)


def family_of(call: Call, question: Question) -> Family:
    """Return the family of the part that is replaced."""
    if question.part_ids:
        part = records.find_record(call.session, Part, question.part_ids[0])
        if part is not None:
            return call.knowledge.families[part.family]
    if question.content.removed_part is None:
        raise NotComputableError("This job has no removed part; enter what was measured, or give part_ids.")
    return call.knowledge.families[question.content.removed_part.family]


def destination_of(call: Call, question: Question) -> Destination:
    """Return where the goods go: the job's destination, or the only one on file.

    Raises:
        NotComputableError: there is none, or no way to choose between several.
    """
    if question.content.destination_id is not None:
        row = records.find_record(call.session, StoredDestination, record_id(question.content.destination_id))
        if row is None:
            raise NotComputableError(
                "The job's destination was deleted; restore it, or name another in the job."
            )
        return destination_terms(row)
    rows = money_terms.list_destinations(call.session)
    if len(rows) != 1:
        number = "no" if not rows else f"{len(rows)}"
        raise NotComputableError(
            f"Goods have to go somewhere, and there are {number} destinations on file: "
            "POST one to /v1/destinations, or name one in destination_id."
        )
    return destination_terms(rows[0])


def destination_terms(row: StoredDestination) -> Destination:
    """Return a destination as the core takes it."""
    return Destination(
        name=row.name,
        country=row.country,
        currency=row.currency,
        sales_tax=row.sales_tax,
        imports=read_import_rules(row.import_rules, row.currency) if row.import_rules else None,
        exchange_margin=row.exchange_margin,
    )


def rates_on(call: Call, as_of: date) -> tuple[Rate, ...]:
    """Return the exchange rates that are known on a day."""
    return tuple(
        Rate(row.base, row.quote, row.rate, row.on)
        for row in money_terms.list_latest_rates(call.session, on=as_of)
    )


def machine_values(machine: MachineIn) -> MachineValues:
    """Return a machine as the core takes it."""
    return MachineValues(
        worth_running=machine.worth_running.amount,
        worth_as_is=machine.worth_as_is.amount,
        hour_value=ZERO if machine.hour_value is None else machine.hour_value.amount,
        hours_per_season=machine.hours_per_season,
        seasons=machine.seasons,
        history_known=machine.history_known,
    )


def needs_of(family: Family, content: JobContent) -> dict[str, int]:
    """Return what the job needs: as stated, else as removed, else as the family usually needs."""
    if content.needs is not None:
        return sum_lines(content.needs)
    measured = {} if content.removed_part is None else content.removed_part.measured
    usual = measured.get(family.needs_from, family.needs)
    return dict.fromkeys(sorted(usual), 1)


def sum_lines(lines: Iterable[NeedLineIn]) -> dict[str, int]:
    """Return how many of each need some lines name together."""
    counts: Counter[str] = Counter()
    for line in lines:
        counts[line.need] += line.quantity
    return dict(counts)


def work_of(family: Family, content: JobContent) -> Work:
    """Return what the job asks for besides the part."""
    removed = content.removed_part
    waiting, spending = content.waiting_cost_per_day, content.other_spending
    seat = None if removed is None else removed.measured.get("seat_replaceable")
    return Work(
        needs=needs_of(family, content),
        on_hand=sum_lines(content.on_hand),
        labour_minutes=content.labour_minutes,
        waiting_cost_per_day=ZERO if waiting is None else waiting.amount,
        days_lost_per_failure=content.days_lost_per_failure,
        other_spending=ZERO if spending is None else spending.amount,
        condition={} if removed is None else dict(removed.condition),
        seat_replaceable=None if seat is None else seat == SEAT_REPLACEABLE,
        checks=tuple((check.check, check.result) for check in content.checks),
    )


def comparison_body(
    call: Call,
    question: Question,
    case: ComparisonCase,
    candidates: CandidateSet,
    market: Market,
    compared: Comparison,
) -> Body:
    """Return the comparison as it is shown."""
    kinds = {option.kind for option in compared.options}
    body: Body = {
        "currency": compared.currency,
        "as_of": question.as_of,
        "options": [option_body(option, candidates) for option in compared.options],
        "plan": None,
        "answer": compared.answer,
        "assumptions": [
            {"name": used.name, "value": used.value, "unit": used.unit, "origin": used.origin}
            for used in sorted(
                {*compared.assumptions, *candidates.assumed, *map(case.assumptions.get, market.assumed)},
                key=lambda used: used.name,
            )
        ],
        "cautions": [
            {"key": caution.key, "where": caution.where, "danger": caution.danger, "text": caution.text}
            for caution in list_for(call.knowledge.cautions, [case.family], kinds or set(OptionKind))
        ],
        "warnings": [*candidates.warnings, *market.warnings, *compared.warnings],
    }
    if compared.plan is not None:
        body["plan"] = {
            "steps": list(compared.plan.steps),
            "expected_cost": str(compared.plan.expected_cost),
            "ceiling": str(compared.plan.ceiling),
            "verdict": compared.plan.verdict,
        }
    if compared.cleared:
        body["cleared"] = next(
            {"check": clears.check, "result": clears.result, "says": clears.says}
            for clears in case.family.clears
            if clears.says == compared.cleared
        )
    return body


def option_body(option: OptionResult, candidates: CandidateSet) -> Body:
    """Return one option as it is shown."""
    body: Body = {"id": option.id, "kind": option.kind}
    if option.candidate is not None:
        body["part"] = candidates.shown[option.candidate.part_id]
    elif option.label:
        body["part"] = {"title": option.label}
    if option.supplier:
        body["supplier"] = option.supplier
    if option.kind is OptionKind.REPLACE:
        body["fit_confidence"] = round(option.fit_confidence or 0.0, 6)
    elif option.fit_confidence is not None:
        body["cure_chance"] = round(option.fit_confidence, 6)
    return body | {
        "rank": option.rank,
        "undominated": option.undominated,
        "expected_cost": str(option.expected_cost),
        "cost_90": [str(amount) for amount in option.cost_90],
        "landed_cost": str(option.landed_cost),
        "landed_lines": lines_body(option.landed_lines),
        "missing_needs": [
            {
                "need": need.need,
                "amount": str(need.amount),
                "quote_id": None if need.quote_id is None else str(need.quote_id),
            }
            for need in option.missing_needs
        ],
        "reliability_penalty": str(option.reliability_penalty),
        "expected_failures": round(option.expected_failures, 6),
        "lines": lines_body(option.lines),
        "notes": list(option.notes),
    }


def lines_body(lines: Iterable[CostLine]) -> list[Mapping[str, str]]:
    """Return the lines of a cost as they are shown."""
    return [{"line": line.line, "amount": str(line.amount)} for line in lines]
