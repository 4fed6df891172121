"""Quotes from the rows of a sheet.

A quote is known by supplier, part and condition: a new price takes the old one's place, and the history keeps
that. Where a supplier has several such quotes for a part, the row's id tells them apart.
"""

import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from pydantic import ValidationError

from api.errors import InputFault
from api.faults import validation_faults
from api.schemas.supply import QuoteIn
from api.services import cells
from api.services.call import Call
from api.services.cells import CellError, fault
from api.services.import_report import ImportReport
from api.services.quoted import Quoted
from api.services.resource import Body, audit, jsonable, record_id
from api.services.sheet import Sheet, SheetRow
from api.services.supply import QUOTES, attach_needs, quote_faults, read_quote, write_quote
from db import quotes as stored_quotes
from db import records
from db.models import Quote
from fitworth.vocabulary import Action

AMOUNTS = ("price", "core_charge")
NUMBERS = ("weight_g", "stock")
DATES = ("valid_until", "seen_on")
NEEDED = {
    "supplier": ("supplier", "supplier_id"),
    "part": ("part_id", "maker"),
    "price": ("price",),
    "date": ("seen_on",),
}
COLUMNS = (
    "id",
    "supplier",
    "supplier_id",
    "part_id",
    "family",
    "maker",
    "number",
    "grade",
    "title",
    "price",
    "currency",
    "price_breaks",
    "condition",
    "includes",
    "core_charge",
    "weight_g",
    "valid_until",
    "seen_on",
    "stock",
    "link",
)
WORDS = ("condition", "link")

Key = tuple[int, int, str]


@dataclass(frozen=True, slots=True)
class Entry:
    """A sound row: what came in, and the quote that it would be."""

    row: SheetRow
    data: QuoteIn
    quote: Quote
    content: str

    @property
    def key(self) -> Key:
        """What a quote is known by."""
        return (self.quote.supplier_id, self.quote.part_id, str(self.data.condition))

    @property
    def id(self) -> int:
        """The id that the row gives, 0 for none."""
        return record_id(self.row.cells.get("id", "").strip())


@dataclass(slots=True)
class Batch:
    """What a batch of rows comes to."""

    created: list[Entry] = field(default_factory=list)
    updated: list[tuple[Entry, Quote]] = field(default_factory=list)


class QuoteLoader:
    """Loads quotes, batch by batch; it remembers the rows of earlier batches."""

    resource = QUOTES
    columns = COLUMNS
    needed: Mapping[str, Collection[str]] = NEEDED

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self._seen: dict[Key, list[tuple[int, int, int]]] = {}  # row, id and content of the rows of a key
        self._claimed: set[int] = set()  # quotes on file that a row is about already, and new ones

    def load(self, call: Call, rows: Sequence[SheetRow], report: ImportReport) -> None:
        """Store a batch of rows in one transaction, which the caller ends."""
        records.lock_revision(call.session)
        named = Quoted(call.session, rows)
        entries = [entry for row in rows if (entry := self._entry(call, row, named, report)) is not None]
        on_file: dict[Key, list[Quote]] = {}
        part_ids = [entry.quote.part_id for entry in entries]
        for quote in stored_quotes.list_quotes_for_parts(call.session, part_ids):
            on_file.setdefault((quote.supplier_id, quote.part_id, str(quote.condition)), []).append(quote)
        batch = Batch()
        for entry in entries:
            self._sort(entry, on_file.get(entry.key, []), batch, report)
        self._write(call, batch)
        report.created += len(batch.created)
        report.updated += len(batch.updated)

    def _sort(self, entry: Entry, same: Sequence[Quote], batch: Batch, report: ImportReport) -> None:
        """Decide which quote a row is about, or whether it is a new one."""
        free = [quote for quote in same if quote.id not in self._claimed]
        earlier = self._seen.setdefault(entry.key, [])
        mark = (entry.row.number, entry.id, hash(entry.content))
        equal = next((quote for quote in free if content_of(quote) == entry.content), None)
        named = next((quote for quote in free if quote.id == entry.id), None)
        told_apart = all(entry.id and entry.id != other for _, other, _ in earlier)
        if equal is not None:
            report.unchanged += 1
            self._claimed.add(equal.id)
        elif any(mark[1:] == one[1:] for one in earlier):
            report.unchanged += 1
        elif named is not None:
            batch.updated.append((entry, named))
            self._claimed.add(named.id)
        elif not told_apart:
            says = f"Row {earlier[0][0]} is about the same supplier, part and condition; keep one of the two."
            report.refuse([fault(entry.row, "", says)])
            return
        elif not free:
            batch.created.append(entry)
        elif len(free) == 1 and not earlier:
            batch.updated.append((entry, free[0]))
            self._claimed.add(free[0].id)
        else:
            ids = ", ".join(str(quote.id) for quote in free)
            says = f"Quotes {ids} are of this supplier, part and condition: say by its id which one this is."
            report.refuse([fault(entry.row, "id", says)])
            return
        earlier.append(mark)

    def _entry(self, call: Call, row: SheetRow, named: Quoted, report: ImportReport) -> Entry | None:
        """Return a row read by the same model as everywhere, or None where it has faults."""
        if row.fault:
            report.refuse([fault(row, "", row.fault)])
            return None
        faults: list[InputFault] = []
        supplier_id, part_id = named.supplier(row, faults), named.part(row, faults)
        raw = self._raw(row, faults)
        # Where one of them is not known, the row's other faults are told all the same.
        raw |= {"supplier_id": str(supplier_id or 1), "part_id": str(part_id or 1)}
        try:
            data = QuoteIn.model_validate(raw)
        except ValidationError as error:
            found = validation_faults(error.errors(), prefixed=False)
            faults += [fault(row, column_of(one.at), one.detail) for one in found]
        else:
            if supplier_id and part_id:
                faults += [
                    fault(row, column_of(one.at), one.detail) for one in quote_faults(call, data, None)
                ]
        if faults:
            report.refuse(list(dict.fromkeys(faults)))
            return None
        quote = Quote()
        write_quote(call, quote, data)
        return Entry(row, data, quote, content_of(quote))

    def _raw(self, row: SheetRow, faults: list[InputFault]) -> Body:
        """Return a row as the body of a quote, without what it refers to."""
        given = {name: text for name, text in row.cells.items() if text.strip()}
        raw: Body = {}
        for name, text in given.items():
            try:
                if name in AMOUNTS:
                    raw[name] = self._money(text, given.get("currency", ""))
                elif name in NUMBERS:
                    raw[name] = self.sheet.number_text(text).strip()
                elif name in DATES:
                    raw[name] = cells.read_date(text)
                elif name == "price_breaks":
                    raw[name] = cells.read_json(text)
                elif name == "includes":
                    raw[name] = cells.read_list(text)
                elif name in WORDS:
                    raw[name] = text.strip()
            except CellError as error:
                faults.append(fault(row, name, str(error)))
                raw.pop(name, None)
        return raw

    def _money(self, text: str, currency: str) -> object:
        """Return an amount with the row's currency, or as it was written with its own."""
        if text.lstrip().startswith("{"):
            return cells.read_json(text)
        return {"amount": self.sheet.number_text(text).strip(), "currency": currency.strip()}

    def _write(self, call: Call, batch: Batch) -> None:
        """Store what is new and what has changed, each with its line in the audit trail."""
        if not batch.created and not batch.updated:
            return
        revision = records.next_revision(call.session)
        new = [entry.quote for entry in batch.created]
        records.add_records(call.session, new, now=call.now, revision=revision)
        self._claimed.update(quote.id for quote in new)
        for quote in new:
            if quote.includes:
                attach_needs(call, quote)
            audit(call, QUOTES, quote, Action.CREATE, None)
        for entry, quote in batch.updated:
            before = read_quote(quote)
            write_quote(call, quote, entry.data)
            records.touch(call.session, quote, now=call.now, revision=revision)
            attach_needs(call, quote)
            audit(call, QUOTES, quote, Action.UPDATE, before)


def column_of(pointer: str) -> str:
    """Return the column that a fault in a quote's body came from."""
    name = cells.column_of(pointer, {"part_id": "part", "supplier_id": "supplier"})
    return "currency" if pointer.endswith("/currency") and name in AMOUNTS else name


def content_of(quote: Quote) -> str:
    """Return a text that is equal where two quotes' content is."""
    return json.dumps(jsonable(read_quote(quote)), sort_keys=True)
