"""Proposed interchanges: parts of one group, what is still open, and what became of the others."""

from collections.abc import Iterable
from typing import Any

from api.errors import InputFault
from api.schemas.parts import InterchangeDecisionIn, InterchangeIn
from api.services import resource
from api.services.call import Call
from api.services.fits import FitService, part_short
from api.services.interchange import statement_of
from api.services.numbers import check_family
from api.services.parts import INTERCHANGE, numbers_of
from api.services.references import missing_reference, shown
from api.services.resource import Body, Resource, record_id
from db import interchange as stored
from db import parts as stored_parts
from db import records
from db.models import Interchange, InterchangeDecision, Part
from fitworth.families.model import Family
from fitworth.matching.proposals import Proposal, open_proposals, proposals_of
from fitworth.vocabulary import Decision, Relation

SOURCE = "proposal confirmed"
CONFIDENCE = 0.95  # own choice: the sheets agree, and somebody who knows the parts looked at them
MOST_MEMBERS = 50  # of a group that a proposal names; a page of large groups would be megabytes. Own choice


def list_found(call: Call, fits: FitService, family: Family) -> tuple[Proposal, ...]:
    """Return the pairs of a family's parts that look like one design, stated or not."""

    def list_unnumbered() -> list[int]:
        return stored_parts.list_unnumbered(call.session, family.key)

    return fits.with_catalogue(call, family, lambda catalogue: proposals_of(catalogue, list_unnumbered))


def list_proposals(call: Call, fits: FitService, family: str | None, limit: int) -> list[Body]:
    """Return the proposals that wait for an answer, the most probable first.

    Raises:
        InvalidInputError: there is no such family.
    """
    check_family(call, family)
    families = call.knowledge.families
    wanted = [families[key] for key in sorted(families) if family in {None, key}]
    found = [pair for one in wanted for pair in list_found(call, fits, one)]
    numbers: dict[int, list[str]] = {}
    for number in stored_parts.list_numbers(call.session, part_ids_of(found)):
        numbers.setdefault(number.part_id, []).append(number.number_key)
    statements = map(statement_of, stored.list_statements(call.session))
    waiting = open_proposals(found, numbers, statements, stored.list_decided(call.session))
    shown = waiting[:limit]
    wanted_ids = {part_id for pair in shown for part_id in (*pair.part_ids, *pair.group[:MOST_MEMBERS])}
    parts = {part.id: part for part in stored_parts.list_parts_by_ids(call.session, sorted(wanted_ids))}
    # A part that was stored after the call began is in memory, and not yet to be seen.
    return [proposal_body(one, parts) for one in shown if parts.keys() >= set(one.part_ids)]


def part_ids_of(pairs: Iterable[Proposal]) -> list[int]:
    """Return the ids of the parts in some proposals."""
    return sorted({part_id for pair in pairs for part_id in pair.part_ids})


def proposal_body(pair: Proposal, parts: dict[int, Part]) -> Body:
    """Return a proposal as it is shown."""
    members = pair.group[:MOST_MEMBERS]
    return {
        "family": parts[pair.part_ids[0]].family,
        "parts": [part_short(parts[part_id]) for part_id in pair.part_ids],
        "probability": round(pair.probability, 6),
        "agreeing": list(pair.agreeing),
        "differing": list(pair.differing),
        "group": [part_short(parts[part_id]) for part_id in members if part_id in parts],
        "group_size": len(pair.group),
    }


def write_decision(call: Call, row: InterchangeDecision, data: InterchangeDecisionIn) -> None:
    """Set a decision's columns."""
    del call
    row.low_part_id, row.high_part_id = pair_of(data)
    row.decision, row.note = data.decision, data.note


def read_decision(row: InterchangeDecision) -> Body:
    """Return a decision as it came in, the lower id first."""
    return {
        "part_ids": [str(row.low_part_id), str(row.high_part_id)],
        "decision": row.decision,
        "note": row.note,
    }


def pair_of(data: InterchangeDecisionIn) -> tuple[int, int]:
    """Return the two parts of a decision, the lower id first."""
    low, high = sorted(record_id(text) for text in data.part_ids)
    return low, high


def decision_faults(call: Call, data: InterchangeDecisionIn, own_id: int | None) -> Iterable[InputFault]:
    """List what is wrong with the parts of a decision, and why it cannot be confirmed."""
    for place, text in enumerate(data.part_ids):
        yield from missing_reference(call, Part, "part", "parts", text, f"/part_ids/{place}")
    parts = [records.find_record(call.session, Part, part_id) for part_id in pair_of(data)]
    present = [part for part in parts if part is not None]
    if own_id is not None:
        own = records.find_record(call.session, InterchangeDecision, own_id, include_deleted=True)
        if own is not None and (own.low_part_id, own.high_part_id) != pair_of(data):
            yield InputFault(
                "A decision stays with its two parts; delete it, and decide about the others anew.",
                "pointer",
                "/part_ids",
            )
    if len({part.family for part in present}) > 1:
        yield InputFault("These two are of different families.", "pointer", "/part_ids")
    if data.decision is Decision.CONFIRMED and len(present) == len(parts):
        yield from number_faults(present)


def number_faults(parts: list[Part]) -> Iterable[InputFault]:
    """List why nothing can be stated about the numbers of two parts."""
    keys = [{number.number_key for number in numbers_of(part)} for part in parts]
    for part, own in zip(parts, keys, strict=True):
        if not own:
            yield InputFault(
                f"Part {part.id} has no number, and a statement is about numbers; enter its number first.",
                "pointer",
                "/decision",
            )
    if keys[0] & keys[1]:
        yield InputFault(
            "Both parts go under one number already; there is nothing to state.", "pointer", "/decision"
        )


def decision_conflicts(call: Call, data: InterchangeDecisionIn, own_id: int | None) -> Iterable[InputFault]:
    """Refuse a second decision about one pair."""
    other = stored.find_decision(call.session, *pair_of(data))
    if other is not None and other.id != own_id:
        yield InputFault(
            f"Decision {other.id} is about these two parts; change that one, or delete it.",
            "pointer",
            "/part_ids",
        )


def carry_out(call: Call, row: InterchangeDecision) -> None:
    """Write the statement of a confirmation, or delete the one of a confirmation that became a rejection."""
    statement = records.find_record(call.session, Interchange, row.statement_id or 0)
    if row.decision is Decision.CONFIRMED and statement is None:
        low, high = (
            numbers_of(part)[0].number
            for part in stored_parts.list_parts_by_ids(call.session, [row.low_part_id, row.high_part_id])
        )
        said = InterchangeIn(
            from_number=low, to_number=high, relation=Relation.SAME_AS, source=SOURCE, confidence=CONFIDENCE
        )
        row.statement_id = int(resource.create(call, INTERCHANGE, said).body["id"])
    elif row.decision is Decision.REJECTED and statement is not None:
        resource.delete(call, INTERCHANGE, str(statement.id), None)
        row.statement_id = None
    call.session.flush()


DECISIONS: Resource[Any, Any] = Resource(
    name="interchange-decisions",
    noun="decision",
    model=InterchangeDecision,
    schema=InterchangeDecisionIn,
    write=write_decision,
    read=read_decision,
    faults=decision_faults,
    conflicts=decision_conflicts,
    attach=carry_out,
    shown=lambda row: {"statement_id": shown(row.statement_id)},
    filters={"decision": "decision"},
    columns=("id", "part_ids", "decision", "note", "statement_id"),
)
