"""Parts from the rows of a sheet.

A part is known by family, maker, number as compared, and grade. Without a number it is the part that its id
names, if that is such a part too; else the part with the very same content; else a new one.
"""

import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from pydantic import ValidationError
from sqlalchemy.orm import Session

from api.errors import InputFault
from api.faults import validation_faults
from api.schemas.parts import PartIn
from api.services import cells
from api.services.call import Call
from api.services.cells import CellError, fault
from api.services.import_report import ImportReport
from api.services.knowledge import Knowledge
from api.services.parts import (
    PART_COLUMNS,
    PARTS,
    attach_numbers,
    numbers_of,
    part_body,
    part_columns,
    read_part,
)
from api.services.resource import Body, record_id
from api.services.sheet import SheetRow
from db import loading, records
from db import parts as stored_parts
from db.models import Part
from db.parts import NewPart
from db.records import NewChange
from fitworth.errors import InvalidValueError
from fitworth.families.model import Dimension
from fitworth.matching.measurements import read_value, write_value
from fitworth.matching.numbers import normalise
from fitworth.quantities.quantity import Value
from fitworth.vocabulary import Action, Instrument

LISTS = frozenset({"other_numbers", "includes", "serves", "stated_for"})
TEXTS = frozenset({"title", "notes"})  # blanks at their ends are kept, as they are everywhere
NEEDED = {"family": ("family",), "maker": ("maker",), "grade": ("grade",)}
MOST_KEPT = 200_000  # read cells that are kept, since catalogues repeat the popular sizes; own choice

Key = tuple[str, str, str, str]
Listed = tuple[Value, object]  # a dimension's value, and as it is shown


@dataclass(frozen=True, slots=True)
class Entry:
    """A sound row: what came in, and how it will be shown."""

    row: SheetRow
    data: PartIn
    body: Body

    @property
    def key(self) -> Key | None:
        """What a numbered part is known by."""
        if self.data.number is None:
            return None
        return (self.data.family, self.data.maker, normalise(self.data.number), self.data.grade)

    @property
    def mark(self) -> int:
        """A number that is equal where two rows say the same, whatever id they give."""
        return hash(frozenset(cell for cell in self.row.cells.items() if cell[0] != "id"))

    @property
    def id(self) -> int:
        """The id that the row gives, 0 for none."""
        return record_id(self.row.cells.get("id", "").strip())


class PartLoader:
    """Loads parts, batch by batch; it remembers the rows of earlier batches."""

    resource = PARTS
    needed: Mapping[str, Collection[str]] = NEEDED

    def __init__(self, knowledge: Knowledge) -> None:
        self.knowledge = knowledge
        keys = [key for family in knowledge.families.values() for key in family.by_key]
        self.columns = tuple(dict.fromkeys([*PART_COLUMNS, *keys]))
        self._read: dict[tuple[str, str, str], Listed] = {}
        self._seen: dict[Key | str | int, tuple[int, int]] = {}  # row and content of each part so far
        self._new: set[int] = set()  # ids given by this import; a row's id never means one of them

    def load(self, call: Call, rows: Sequence[SheetRow], report: ImportReport) -> None:
        """Store a batch of rows in one transaction, which the caller ends."""
        entries = [entry for row in rows if (entry := self._entry(row, report)) is not None]
        records.lock_revision(call.session)
        on_file = OnFile(call.session, entries)
        created: list[Entry] = []
        updated: list[tuple[Entry, Part]] = []
        for entry in entries:
            part = on_file.find(entry, self._new)
            known = self._known(entry, part)
            if known is not None and known[1] != entry.mark:
                says = f"Row {known[0]} is about the same part and says otherwise; keep one of the two."
                report.refuse([fault(entry.row, "number", says)])
            elif known is not None or (part is not None and read_part(part) == entry.body):
                report.unchanged += 1
            elif part is None:
                created.append(entry)
            else:
                updated.append((entry, part))
        if created or updated:
            revision = records.next_revision(call.session)
            self._create(call, created, revision)
            for entry, part in updated:
                update(call, part, entry, revision)
        report.created += len(created)
        report.updated += len(updated)

    def _entry(self, row: SheetRow, report: ImportReport) -> Entry | None:
        """Return a row read by the same model as everywhere, or None where it has faults."""
        faults = [fault(row, "", row.fault)] if row.fault else []
        raw: Body = {}
        dimensions: dict[str, Listed] = {}
        if not faults:
            self._take_cells(row, raw, dimensions, faults)
            try:
                data = PartIn.model_validate(raw)
            except ValidationError as error:
                found = validation_faults(error.errors(), prefixed=False)
                faults += [fault(row, cells.column_of(one.at, {}), one.detail) for one in found]
        if faults:
            report.refuse(faults)
            return None
        data = data.model_copy(update={"dimensions": {key: value for key, (value, _) in dimensions.items()}})
        return Entry(row, data, part_body(data, {key: written for key, (_, written) in dimensions.items()}))

    def _take_cells(
        self, row: SheetRow, raw: Body, dimensions: dict[str, Listed], faults: list[InputFault]
    ) -> None:
        """Sort a row's cells into the raw body and the dimensions, which are read here."""
        family = self.knowledge.families.get(row.cells.get("family", "").strip())
        for column, text in row.cells.items():
            try:
                if column in TEXTS:
                    raw[column] = text
                elif not text.strip():
                    continue
                elif column == "id":
                    check_id(text)
                elif column in LISTS:
                    raw[column] = cells.read_list(text)
                elif column in PART_COLUMNS:
                    raw[column] = text.strip()
                elif family is not None and column not in family.by_key:
                    faults.append(fault(row, column, f"{family.label} has no dimension of this name."))
                elif family is not None:
                    dimensions[column] = self._dimension(family.key, family.by_key[column], text)
            except CellError as error:
                faults.append(fault(row, column, str(error)))
            except InvalidValueError as error:
                faults += [fault(row, column, one.says) for one in error.faults]

    def _dimension(self, family: str, dimension: Dimension, text: str) -> Listed:
        """Return a listed value; the same cell of the same column is read once."""
        found = self._read.get((family, dimension.key, text))
        if found is None:
            value = read_value(dimension, cells.read_dimension(dimension, text), Instrument.LISTING)
            found = (value, write_value(dimension, value))
            if len(self._read) < MOST_KEPT:
                self._read[family, dimension.key, text] = found
        return found

    def _known(self, entry: Entry, part: Part | None) -> tuple[int, int] | None:
        """Return the earlier row about the same part and its content, and remember this one."""
        same: Key | str | int = entry.key or (text_of(entry.body) if part is None else part.id)
        known = self._seen.get(same)
        if known is None:
            self._seen[same] = (entry.row.number, entry.mark)
        return known

    def _create(self, call: Call, created: Sequence[Entry], revision: int) -> None:
        """Store new parts many at a time, each with its line in the audit trail."""
        new = [
            NewPart(part_columns(call, entry.data, entry.body), numbers_of(entry.data)) for entry in created
        ]
        ids = stored_parts.bulk_insert(call.session, new, now=call.now, revision=revision)
        self._new.update(ids)
        records.append_changes(
            call.session,
            [
                NewChange(
                    PARTS.name,
                    part_id,
                    1,
                    revision,
                    Action.CREATE,
                    call.actor,
                    call.now,
                    None,
                    entry.body,
                )
                for part_id, entry in zip(ids, created, strict=True)
            ],
        )


class OnFile:
    """The parts on file that a batch of rows may be about."""

    def __init__(self, session: Session, entries: Sequence[Entry]) -> None:
        numbers = {entry.key[2] for entry in entries if entry.key is not None}
        unnumbered = [entry for entry in entries if entry.key is None]
        self._by_key = {
            (part.family, part.maker, part.number_key, str(part.grade)): part
            for part in loading.list_parts_by_own_number(session, numbers)
        }
        alike = loading.list_unnumbered_parts(
            session, {entry.data.maker for entry in unnumbered}, {entry.data.title for entry in unnumbered}
        )
        self._by_content = {text_of(read_part(part)): part for part in alike}
        named = stored_parts.list_parts_by_ids(session, [entry.id for entry in unnumbered if entry.id])
        self._by_id = {part.id: part for part in named}

    def find(self, entry: Entry, new: Collection[int]) -> Part | None:
        """Return the part that a row is about, or None where it is about a new one."""
        if entry.key is not None:
            return self._by_key.get(entry.key)
        same = self._by_content.get(text_of(entry.body))
        if same is not None:
            return same
        part = self._by_id.get(entry.id)
        if part is None or part.id in new or part.number is not None:
            return None
        return part if (part.family, part.maker) == (entry.data.family, entry.data.maker) else None


def check_id(text: str) -> None:
    """Raise CellError for what cannot be an id."""
    if not record_id(text.strip()):
        raise CellError("This is no id; leave it empty for a new part.")


def text_of(body: Body) -> str:
    """Return a body as a text that does not depend on the order of its names."""
    return json.dumps(body, sort_keys=True)


def update(call: Call, part: Part, entry: Entry, revision: int) -> None:
    """Put a row's content in a part's place, with its line in the audit trail."""
    before = read_part(part)
    for name, value in part_columns(call, entry.data, entry.body).items():
        setattr(part, name, value)
    records.touch(call.session, part, now=call.now, revision=revision)
    attach_numbers(call, part)
    records.append_change(
        call.session,
        part,
        resource=PARTS.name,
        action=Action.UPDATE,
        actor=call.actor,
        at=call.now,
        before=before,
        after=read_part(part),
    )
