"""The supplier and the part that a row of a sheet of quotes names: in words, or by their ids.

Words win over ids, since a sheet from another database has the ids of that one. An id decides between parts
that the words leave open.
"""

from collections.abc import Sequence

from sqlalchemy.orm import Session

from api.errors import InputFault
from api.services.cells import fault
from api.services.resource import record_id
from api.services.sheet import SheetRow, meant
from db import loading, records
from db import parts as stored_parts
from db.models import Part, Supplier
from fitworth.matching.numbers import normalise

MOST_NAMES = 1_000  # suppliers among which a mistyped name is looked for; own choice


class Quoted:
    """The suppliers and parts that a batch of rows may mean."""

    def __init__(self, session: Session, rows: Sequence[SheetRow]) -> None:
        self._session = session
        self._suppliers: dict[str, list[Supplier]] = {}
        for supplier in loading.list_suppliers_by_name(session, {word(row, "supplier") for row in rows}):
            self._suppliers.setdefault(supplier.name, []).append(supplier)
        self._numbered: dict[str, list[Part]] = {}
        keys = {normalise(number) for row in rows if (number := word(row, "number"))}
        for part in loading.list_parts_by_own_number(session, keys):
            self._numbered.setdefault(part.number_key or "", []).append(part)
        bare = [row for row in rows if word(row, "maker") and not word(row, "number")]
        self._unnumbered = loading.list_unnumbered_parts(
            session, {word(row, "maker") for row in bare}, {row.cells.get("title", "") for row in bare}
        )
        ids = [record_id(word(row, "part_id")) for row in rows]
        self._by_id = {part.id: part for part in stored_parts.list_parts_by_ids(session, ids)}

    def supplier(self, row: SheetRow, faults: list[InputFault]) -> int | None:
        """Return the id of the supplier that a row names, or None with what is wrong."""
        name = word(row, "supplier")
        if not name:
            found = records.find_record(self._session, Supplier, record_id(word(row, "supplier_id")))
            if found is not None:
                return found.id
            says = (
                "There is no supplier with this id" if word(row, "supplier_id") else "The supplier is missing"
            )
            faults.append(fault(row, "supplier_id", f"{says}; give its name, or the id of one on file."))
            return None
        suppliers = self._suppliers.get(name, [])
        if len(suppliers) == 1:
            return suppliers[0].id
        if suppliers:
            faults.append(
                fault(row, "supplier", "Several suppliers have this name; give them names of their own.")
            )
        else:
            names = [one.name for one in records.list_page(self._session, Supplier, limit=MOST_NAMES)]
            says = f"There is no supplier of this name on file.{meant(name, names)}"
            faults.append(fault(row, "supplier", f"{says} Suppliers are entered before their quotes."))
        return None

    def part(self, row: SheetRow, faults: list[InputFault]) -> int | None:
        """Return the id of the part that a row names, or None with what is wrong."""
        maker, number = word(row, "maker"), word(row, "number")
        named = self._by_id.get(record_id(word(row, "part_id")))
        if not maker and not number:
            if named is not None:
                return named.id
            says = "There is no part with this id" if word(row, "part_id") else "The part is missing"
            faults.append(
                fault(row, "part_id", f"{says}; give maker, number and grade, or the id of one on file.")
            )
            return None
        found = [part for part in self._candidates(row, number) if agrees(part, row)]
        if named is not None and any(part.id == named.id for part in found):
            return named.id
        if len(found) == 1:
            return found[0].id
        if found:
            ids = ", ".join(str(part.id) for part in found)
            says = f"Parts {ids} are such parts; say which by family, grade and title, or by part_id."
        elif number:
            says = (
                "There is no part of this maker, number and grade on file; parts are entered before quotes."
            )
        else:
            says = "There is no part without a number of this maker and title on file; give its number."
        faults.append(fault(row, "number", says))
        return None

    def _candidates(self, row: SheetRow, number: str) -> Sequence[Part]:
        if number:
            return self._numbered.get(normalise(number), ())
        title = row.cells.get("title", "")
        return [part for part in self._unnumbered if part.title == title]


def agrees(part: Part, row: SheetRow) -> bool:
    """Return whether a part is what a row's words say; those left empty leave it open."""
    said = {name: word(row, name) for name in ("family", "maker", "grade")}
    return all(not text or text == str(getattr(part, name)) for name, text in said.items())


def word(row: SheetRow, column: str) -> str:
    """Return a cell's text without blanks around it, "" for an empty one."""
    return row.cells.get(column, "").strip()
