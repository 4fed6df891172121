"""What may stand in for a number, by the statements on file."""

from collections.abc import Iterable

from api.services.call import Call
from api.services.resource import Body
from db import interchange as stored
from db import parts as stored_parts
from db.interchange import StoredStatement
from db.models import Interchange, Part
from fitworth.matching.evidence import INTERCHANGE, NumberEvidence
from fitworth.matching.interchange import Claim, StandIn, Statement, find_stand_ins, strengths_of_parts
from fitworth.matching.numbers import NumberMatch, normalise
from fitworth.matching.parameters import FitModel
from fitworth.vocabulary import Relation

MOST_STATEMENTS = 1_000  # own choice: the nearest so many are followed, so that any file answers in a second


def list_stand_ins(call: Call, number: str) -> list[Body]:
    """Return all numbers that may stand in for one, strongest first, each with its path and its parts."""
    asked = normalise(number)
    statements, shown = reachable(call, asked)
    found = find_stand_ins(asked, statements)
    bearers = stored.list_bearers(call.session, [one.number for one in found])
    ids = [bearer.part_id for bearer in bearers]
    parts = {part.id: part for part in stored_parts.list_parts_by_ids(call.session, ids)}
    by_number: dict[str, list[Part]] = {}
    for bearer in bearers:
        by_number.setdefault(bearer.number_key, []).append(parts[bearer.part_id])
    return [stand_in_body(one, shown, by_number.get(one.number, ())) for one in found]


def list_evidence(call: Call, family: str, known_number: str | None) -> list[NumberEvidence]:
    """Return what statements about a removed part's number say of a family's parts, nothing where none do."""
    if known_number is None:
        return []
    asked = normalise(known_number)
    found = find_stand_ins(asked, reachable(call, asked)[0])
    numbers = [asked, *(one.number for one in found)] if found else []
    bearers: dict[str, list[int]] = {}
    for bearer in stored.list_bearers(call.session, numbers, family=family):
        bearers.setdefault(bearer.number_key, []).append(bearer.part_id)
    borne = {part_id: NumberMatch(known_number, 1.0) for part_id in bearers.get(asked, ())}
    strengths = strengths_of_parts(found, bearers, FitModel().interchange_changes)
    strengths = {part_id: strength for part_id, strength in strengths.items() if part_id not in borne}
    return [NumberEvidence(INTERCHANGE, borne, strengths)] if strengths else []


def reachable(call: Call, number: str) -> tuple[list[Statement], dict[str, str]]:
    """Return the statements that lead on from a number, and each number as it was written.

    The walk goes step by step; once it has met MOST_STATEMENTS it goes no further.
    """
    rows: dict[int, Interchange] = {}
    seen, frontier = {number}, {number}
    while frontier and len(rows) < MOST_STATEMENTS:
        onward: set[str] = set()
        for row in stored.list_statements_about(call.session, frontier):
            if row.to_key in frontier:
                onward.add(row.from_key)
                rows[row.id] = row
            if row.from_key in frontier and row.relation is Relation.SAME_AS:
                onward.add(row.to_key)
                rows[row.id] = row
        frontier = onward - seen
        seen |= frontier
    ordered = [rows[statement_id] for statement_id in sorted(rows)]
    return [statement_of(row) for row in ordered], shown_numbers(ordered)


def statement_of(row: Interchange | StoredStatement) -> Statement:
    """Return a stored statement as the core takes it."""
    relation = Relation(row.relation)
    return Statement(row.id, row.from_key, row.to_key, relation, row.confidence, row.source)


def shown_numbers(rows: Iterable[Interchange | StoredStatement]) -> dict[str, str]:
    """Return numbers as they were first written, by the number as it is compared."""
    shown: dict[str, str] = {}
    for row in rows:
        shown.setdefault(row.from_key, row.from_number)
        shown.setdefault(row.to_key, row.to_number)
    return shown


def stand_in_body(found: StandIn, shown: dict[str, str], parts: Iterable[Part]) -> Body:
    """Return a stand-in as it is shown."""
    return {
        "number": shown[found.number],
        "strength": round(found.strength, 6),
        "with_changes": found.with_changes,
        "path": [step_body(claim, shown) for claim in found.path.claims],
        "path_strength": round(found.path.strength, 6),
        "paths": len(found.paths),
        "exact": found.exact,
        "parts": [
            {"id": str(part.id), "family": part.family, "maker": part.maker, "grade": part.grade}
            for part in parts
        ],
    }


def step_body(claim: Claim, shown: dict[str, str]) -> Body:
    """Return one step of a path as it is shown."""
    return {
        "statement_id": str(claim.statements[0].statement_id),
        "from_number": shown[claim.from_number],
        "to_number": shown[claim.to_number],
        "relation": claim.relation,
        "confidence": round(claim.confidence, 6),
        "backed_by": [str(statement.statement_id) for statement in claim.statements[1:]],
    }
