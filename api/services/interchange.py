"""What may stand in for a number, by the statements on file."""

from api.services.call import Call
from api.services.resource import Body
from db import interchange as stored
from fitworth.matching.interchange import StandIn, Statement, find_stand_ins
from fitworth.matching.numbers import normalise
from fitworth.vocabulary import Relation


def list_stand_ins(call: Call, number: str) -> list[Body]:
    """Return all numbers that may stand in for one, strongest first, each with its path."""
    asked = normalise(number)
    statements, shown = reachable(call, asked)
    return [stand_in_body(found, shown) for found in find_stand_ins(asked, statements)]


def reachable(call: Call, number: str) -> tuple[list[Statement], dict[str, str]]:
    """Return the statements that a walk from a number can meet, and each number as it was written."""
    statements: dict[int, Statement] = {}
    shown: dict[str, str] = {}
    seen, frontier = {number}, [number]
    while frontier:
        rows = stored.list_statements_about(call.session, frontier)
        for row in rows:
            shown.setdefault(row.from_key, row.from_number)
            shown.setdefault(row.to_key, row.to_number)
            statements[row.id] = Statement(
                row.id, row.from_key, row.to_key, Relation(row.relation), row.confidence
            )
        frontier = sorted({key for row in rows for key in (row.from_key, row.to_key)} - seen)
        seen.update(frontier)
    return [statements[statement_id] for statement_id in sorted(statements)], shown


def stand_in_body(found: StandIn, shown: dict[str, str]) -> Body:
    """Return a stand-in as it is shown."""
    return {
        "number": shown[found.number],
        "strength": round(found.strength, 6),
        "with_changes": found.with_changes,
        "path": [
            {
                "statement_id": str(step.statement_id),
                "from_number": shown[step.from_number],
                "to_number": shown[step.to_number],
                "relation": step.relation,
                "confidence": step.confidence,
            }
            for step in found.path
        ],
    }
