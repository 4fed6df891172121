"""What speaks against the statements on file: each other, and the sheets of the parts that they are about."""

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice

from api.errors import InputFault, InvalidInputError
from api.services.call import Call
from api.services.fits import part_short, still_readable
from api.services.interchange import shown_numbers, statement_of
from api.services.resource import Body
from db import interchange as stored
from db import parts as stored_parts
from db.interchange import StoredStatement
from db.models import Part
from fitworth.matching.interchange_dimensions import Irreconcilable, Listing, list_irreconcilable
from fitworth.matching.interchange_faults import StatementFault, list_statement_faults
from fitworth.vocabulary import Objection, Relation

STATEMENTS_AT_ONCE = 200  # own choice: so many are looked through with two queries
MOST_STATEMENTS = 2_000  # own choice: a page looks through no more, and the next one goes on from there
MOST_PAIRS = 50  # own choice: pairs of sheets compared for one statement
PLACE = re.compile(r"([1-9][0-9]{0,17})-([0-9]{1,6})")


@dataclass(frozen=True, slots=True)
class Place:
    """Where a page ends: at a statement, and after so many of its faults."""

    statement_id: int = 0
    faults: int = 0

    def __str__(self) -> str:
        """Return the cursor."""
        return f"{self.statement_id}-{self.faults}"


def read_place(cursor: str | None) -> Place:
    """Return the place that a cursor stands for.

    Raises:
        InvalidInputError: it is no cursor of this list.
    """
    if cursor is None:
        return Place()
    found = PLACE.fullmatch(cursor)
    if found is None:
        raise InvalidInputError(
            "There is no such page.",
            [InputFault("Give `next_cursor` of the page before, or leave it out.", "parameter", "cursor")],
        )
    return Place(int(found[1]), int(found[2]))


def list_faults(call: Call, *, limit: int, cursor: str | None) -> tuple[list[Body], str | None]:
    """Return a page of faults, and the cursor to go on from, or None at the end.

    Each stands at the latest statement that it involves, in the order of these.

    Raises:
        InvalidInputError: the cursor is none of this list.
    """
    after = read_place(cursor)
    rows = stored.list_statements(call.session)
    shown = shown_numbers(rows)
    by_latest: dict[int, list[StatementFault]] = {}
    for fault in list_statement_faults(map(statement_of, rows), shown):
        by_latest.setdefault(fault.statement_ids[-1], []).append(fault)
    items: list[Body] = []
    reached = after
    left = [row for row in rows if row.id >= after.statement_id]
    for start in range(0, len(left), STATEMENTS_AT_ONCE):
        if start >= MOST_STATEMENTS:
            return items, str(reached)
        some = left[start : start + STATEMENTS_AT_ONCE]
        sheets = Sheets.of(call, some)
        for row in some:
            bodies = [statement_fault_body(fault, shown) for fault in by_latest.get(row.id, ())]
            bodies += sheets.faults(row, shown)
            given = after.faults if row.id == after.statement_id else 0
            for count, body in enumerate(bodies[given:], start=given + 1):
                if len(items) == limit:
                    return items, str(reached)
                items.append(body)
                reached = Place(row.id, count)
            reached = Place(row.id, max(given, len(bodies)))
    return items, None


@dataclass(frozen=True, slots=True)
class Sheets:
    """The parts on file that bear the numbers of some statements."""

    call: Call
    by_number: Mapping[str, Sequence[Part]]

    @classmethod
    def of(cls, call: Call, rows: Sequence[StoredStatement]) -> "Sheets":
        """Return those of some statements; the sheets of a number without a counterpart are not read."""
        bearers = stored.list_bearers(
            call.session, {number for row in rows for number in (row.from_key, row.to_key)}
        )
        families: dict[str, set[str]] = {}
        for bearer in bearers:
            families.setdefault(bearer.number_key, set()).add(bearer.family)
        nothing: set[str] = set()
        linked = {
            (number, family)
            for row in rows
            for family in families.get(row.from_key, nothing) & families.get(row.to_key, nothing)
            for number in (row.from_key, row.to_key)
        }
        wanted = [one for one in bearers if (one.number_key, one.family) in linked]
        ids = [one.part_id for one in wanted]
        parts = {part.id: part for part in stored_parts.list_parts_by_ids(call.session, ids)}
        by_number: dict[str, list[Part]] = {}
        for one in wanted:
            by_number.setdefault(one.number_key, []).append(parts[one.part_id])
        return cls(call, by_number)

    def faults(self, row: StoredStatement, shown: Mapping[str, str]) -> Iterator[Body]:
        """Yield what sheets have against a statement, one for each pair of parts."""
        for one, other in islice(self.pairs(row), MOST_PAIRS):
            found = list_irreconcilable(
                self.call.knowledge.families[one.family],
                Relation(row.relation),
                self.listing(one, shown[row.from_key]),
                self.listing(other, shown[row.to_key]),
            )
            if found:
                yield {
                    "kind": Objection.DIMENSIONS,
                    "says": " ".join(each.says for each in found),
                    "statement_ids": [str(row.id)],
                    "numbers": [shown[row.from_key], shown[row.to_key]],
                    "parts": [{**part_short(part), "family": part.family} for part in (one, other)],
                    "dimensions": [dimension_body(each) for each in found],
                }

    def pairs(self, row: StoredStatement) -> Iterator[tuple[Part, Part]]:
        """Yield the pairs of parts that a statement is about, of families that are on hand."""
        for one in self.by_number.get(row.from_key, ()):
            for other in self.by_number.get(row.to_key, ()):
                same_family = one.family == other.family and one.family in self.call.knowledge.families
                if same_family and one.id != other.id:
                    yield one, other

    def listing(self, part: Part, number: str) -> Listing:
        """Return what the core compares of a part."""
        values = still_readable(self.call.knowledge.families[part.family], part.dimensions)
        return Listing(part.id, f"{part.maker} {number}", part.maker, values)


def statement_fault_body(fault: StatementFault, shown: Mapping[str, str]) -> Body:
    """Return what statements have against each other as it is shown."""
    return {
        "kind": fault.kind,
        "says": fault.says,
        "statement_ids": [str(statement_id) for statement_id in fault.statement_ids],
        "numbers": [shown[number] for number in fault.numbers],
        "parts": [],
        "dimensions": [],
    }


def dimension_body(found: Irreconcilable) -> Body:
    """Return a dimension that speaks against a statement as it is shown."""
    ends = found.allowance
    return {
        "key": found.key,
        "stand_in_id": str(found.stand_in_id),
        "replaced_id": str(found.replaced_id),
        "difference": found.difference,
        "allowance": None if ends is None else [end if math.isfinite(end) else None for end in ends],
    }
