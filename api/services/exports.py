"""Exports: everything of a resource, page by page, as a table or as JSON; an import takes both kinds back.

A quote names its supplier and part in words too, so that it means the same in another database.
"""

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

from sqlalchemy.orm import Session

from api.errors import InputFault, InvalidInputError, MissingError
from api.services.bench import JOBS, MACHINES, OUTCOMES
from api.services.call import Call
from api.services.import_quotes import COLUMNS as QUOTE_COLUMNS
from api.services.numbers import check_family
from api.services.parts import INTERCHANGE, PARTS, part_table
from api.services.proposals import DECISIONS
from api.services.resource import Body, Resource, list_bodies
from api.services.supply import DESTINATIONS, EXCHANGE_RATES, QUOTES, SUPPLIERS
from api.tabular import Table
from db import parts as stored_parts
from db import records
from db.models import Part, Supplier

ROWS_AT_ONCE = 1_000  # own choice: few enough for any memory

RESOURCES: Mapping[str, Resource[Any, Any]] = {
    resource.name: resource
    for resource in (
        PARTS,
        INTERCHANGE,
        DECISIONS,
        SUPPLIERS,
        QUOTES,
        EXCHANGE_RATES,
        DESTINATIONS,
        MACHINES,
        JOBS,
        OUTCOMES,
    )
}


def get_resource(name: str) -> Resource[Any, Any]:
    """Return the resource of a name.

    Raises:
        MissingError: there is none.
    """
    if name not in RESOURCES:
        raise MissingError(f"There is no resource of this name; there are {', '.join(RESOURCES)}.")
    return RESOURCES[name]


def filters_of(call: Call, resource: Resource[Any, Any], family: str | None) -> dict[str, str]:
    """Return the filter by family; only parts have one.

    Raises:
        InvalidInputError: there is no such family, or the resource has none.
    """
    if family is None:
        return {}
    check_family(call, family)
    if "family" not in resource.filters:
        raise InvalidInputError(
            f"The {resource.name} are of no family.",
            [InputFault("Leave this out; only parts have a family.", "parameter", "family")],
        )
    return {"family": family}


def pages(call: Call, resource: Resource[Any, Any], wanted: Mapping[str, str]) -> Iterator[list[Body]]:
    """Yield all records that pass a filter, in the order of their ids, a page at a time."""
    after: int | None = 0
    while after is not None:
        page, after = list_bodies(call, resource, wanted, limit=ROWS_AT_ONCE, after_id=after)
        yield page


def items(call: Call, resource: Resource[Any, Any], wanted: Mapping[str, str]) -> Iterator[Body]:
    """Yield all records that pass a filter, as they are shown."""
    for page in pages(call, resource, wanted):
        yield from page


def table(call: Call, resource: Resource[Any, Any], wanted: Mapping[str, str]) -> Table:
    """Return all records that pass a filter as a table, whose rows are read as they are asked for."""
    if resource is PARTS:
        used = dict.fromkeys(key for item in items(call, resource, wanted) for key in item["dimensions"])
        return part_table(items(call, resource, wanted), list(used))
    if resource is QUOTES:
        return Table(QUOTE_COLUMNS, quote_rows(call, wanted))
    rows = ([item.get(name) for name in resource.columns] for item in items(call, resource, wanted))
    return Table(resource.columns, rows)


def quote_rows(call: Call, wanted: Mapping[str, str]) -> Iterator[list[Any]]:
    """Yield all quotes as rows, with what they refer to in words."""
    suppliers: dict[str, Supplier] = {}
    for page in pages(call, QUOTES, wanted):
        part_ids = [int(item["part_id"]) for item in page]
        parts = {
            str(part.id): part
            for part in stored_parts.list_parts_by_ids(call.session, part_ids, include_deleted=True)
        }
        for item in page:
            supplier_id = item["supplier_id"]
            if supplier_id not in suppliers:
                suppliers[supplier_id] = get_supplier(call.session, supplier_id)
            shown = quote_cells(item, parts[item["part_id"]], suppliers[supplier_id])
            yield [shown[name] for name in QUOTE_COLUMNS]


def get_supplier(session: Session, supplier_id: str) -> Supplier:
    """Return a quote's supplier, which the database keeps even where it was deleted."""
    supplier = records.find_record(session, Supplier, int(supplier_id), include_deleted=True)
    if supplier is None:  # pragma: no cover - a foreign key forbids it
        raise LookupError(supplier_id)
    return supplier


def quote_cells(item: Body, part: Part, supplier: Supplier) -> Body:
    """Return a quote's cells by column; amounts are numbers in the row's one currency."""
    core_charge = item["core_charge"]
    return {
        **item,
        "supplier": supplier.name,
        "family": part.family,
        "maker": part.maker,
        "number": part.number,
        "grade": part.grade,
        "title": part.title,
        "price": Decimal(item["price"]["amount"]),
        "currency": item["price"]["currency"],
        "core_charge": None if core_charge is None else Decimal(core_charge["amount"]),
        # An empty cell inherits what is in the part's box; an empty list says that nothing is.
        "includes": "[]" if item["includes"] == [] else item["includes"],
    }
