"""The life that all stored resources share: created, read, edited, deleted, restored, with an audit trail.

A `Resource` says what is particular to one of them. Every change counts the catalogue's revision up first:
that row's lock makes writers take turns, so that what a check reads cannot change before the write.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar

from pydantic import ValidationError
from pydantic_core import to_jsonable_python

from api.errors import ConflictError, InputFault, InvalidInputError, MissingError, StaleEditError
from api.schemas.context import reading_with
from api.schemas.fields import Input
from api.services.call import Call
from api.tabular import Table
from db import records
from db.base import Record
from fitworth.vocabulary import Action

RecordT = TypeVar("RecordT", bound=Record)
InputT = TypeVar("InputT", bound=Input)
Body = dict[str, Any]

LONGEST_ID = 18  # digits that always fit into 64 bits


@dataclass(frozen=True)
class Resource(Generic[RecordT, InputT]):
    """What is particular to one stored resource.

    Attributes:
        name: as in its path: "quotes".
        noun: as in a sentence: "quote".
        model: its table.
        schema: what comes in.
        write: sets a row's columns from what came in.
        read: returns a row as it came in.
        shown: returns what a row shows besides, and what does not come in.
        faults: lists what the database has against it: missing references, doubles.
        attach: writes what hangs on the row in other tables, once it has an id.
        columns: the columns of its CSV, in order.
        filters: query parameter of its list to column.
        rows: lists its rows; resources that can be searched have their own.
        spread: turns a body into cells, where it has more of them than columns.
    """

    name: str
    noun: str
    model: type[RecordT]
    schema: type[InputT]
    write: Callable[[Call, RecordT, InputT], None]
    read: Callable[[RecordT], Body]
    columns: tuple[str, ...]
    faults: Callable[[Call, InputT, int | None], Iterable[InputFault]] = lambda _call, _data, _own: ()
    conflicts: Callable[[Call, InputT, int | None], Iterable[InputFault]] = lambda _call, _data, _own: ()
    attach: Callable[[Call, RecordT], None] = lambda _call, _row: None
    shown: Callable[[RecordT], Body] = lambda _row: {}
    filters: Mapping[str, str] = field(default_factory=dict)
    rows: Callable[..., list[RecordT]] | None = None
    spread: Callable[[list[Body]], Table] | None = None

    def table(self, items: list[Body]) -> Table:
        """Return bodies as a table."""
        if self.spread is not None:
            return self.spread(items)
        return Table(self.columns, ([item.get(name) for name in self.columns] for item in items))


@dataclass(frozen=True, slots=True)
class Found:
    """A record's body and the version that it is at."""

    body: Body
    version: int


def record_id(text: str | None) -> int:
    """Return the id behind its text; 0, which no record has, where it cannot be one."""
    if text is None or not (text.isascii() and text.isdigit() and len(text) <= LONGEST_ID):
        return 0
    return int(text)


def get_record(
    call: Call, resource: Resource[RecordT, InputT], text: str, *, deleted: bool = False
) -> RecordT:
    """Return the row of an id.

    Raises:
        MissingError: there is none, or it was deleted.
    """
    row = records.find_record(call.session, resource.model, record_id(text), include_deleted=True)
    if row is None:
        raise MissingError(f"There is no {resource.noun} with this id.")
    if row.deleted_at is not None and not deleted:
        raise MissingError(
            f"This {resource.noun} was deleted. POST /v1/{resource.name}/{row.id}/restore brings it back."
        )
    return row


def body_of(resource: Resource[RecordT, InputT], row: RecordT) -> Body:
    """Return a row as it is shown."""
    return {
        "id": str(row.id),
        **resource.read(row),
        **resource.shown(row),
        "version": row.version,
        "created_at": row.created_at,
        "updated_at": row.updated_at,
        "deleted_at": row.deleted_at,
    }


def get(call: Call, resource: Resource[RecordT, InputT], text: str) -> Found:
    """Return one record."""
    row = get_record(call, resource, text)
    return Found(body_of(resource, row), row.version)


def list_bodies(
    call: Call,
    resource: Resource[RecordT, InputT],
    wanted: Mapping[str, str],
    *,
    limit: int,
    after_id: int,
) -> tuple[list[Body], int | None]:
    """Return a page of records that meet the filters, and the id to go on after, or None at the end."""
    filters: dict[str, object] = {
        resource.filters[name]: record_id(value) if name.endswith("_id") else value
        for name, value in wanted.items()
        if name in resource.filters
    }
    if resource.rows is None:
        rows = records.list_page(call.session, resource.model, filters, limit=limit + 1, after_id=after_id)
    else:
        rows = resource.rows(call.session, filters, limit=limit + 1, after_id=after_id)
    page = rows[:limit]
    return [body_of(resource, row) for row in page], page[-1].id if len(rows) > limit else None


def create(call: Call, resource: Resource[RecordT, InputT], data: InputT) -> Found:
    """Store a new record."""
    revision = records.next_revision(call.session)
    check(call, resource, data, None)
    row = resource.model()
    resource.write(call, row, data)
    records.add_record(call.session, row, now=call.now, revision=revision)
    resource.attach(call, row)
    audit(call, resource, row, Action.CREATE, None)
    return Found(body_of(resource, row), row.version)


def replace(
    call: Call, resource: Resource[RecordT, InputT], text: str, version: int | None, data: InputT
) -> Found:
    """Put other content in a record's place."""
    revision = records.next_revision(call.session)
    row = get_record(call, resource, text)
    check_version(resource, row, version)
    return store_edit(call, resource, row, data, revision)


def patch(
    call: Call,
    resource: Resource[RecordT, InputT],
    text: str,
    version: int | None,
    changes: Mapping[str, Any],
) -> Found:
    """Change parts of a record by a merge patch (RFC 7396)."""
    # The row is read once it is this writer's turn: one read before would be another writer's past.
    revision = records.next_revision(call.session)
    row = get_record(call, resource, text)
    check_version(resource, row, version)
    merged = merge(resource.read(row), changes)
    with reading_with(call.knowledge.families):
        data = resource.schema.model_validate(jsonable(merged))
    return store_edit(call, resource, row, data, revision)


def store_edit(
    call: Call, resource: Resource[RecordT, InputT], row: RecordT, data: InputT, revision: int
) -> Found:
    """Store a record's new content as its next version."""
    check(call, resource, data, row.id)
    before = resource.read(row)
    resource.write(call, row, data)
    records.touch(call.session, row, now=call.now, revision=revision)
    resource.attach(call, row)
    audit(call, resource, row, Action.UPDATE, before)
    return Found(body_of(resource, row), row.version)


def merge(target: Any, changes: Any) -> Any:
    """Return a value with a merge patch applied (RFC 7396, section 2)."""
    if not isinstance(changes, Mapping):
        return changes
    merged = dict(target) if isinstance(target, Mapping) else {}
    for name, value in changes.items():
        if value is None:
            merged.pop(name, None)
        else:
            merged[name] = merge(merged.get(name), value)
    return merged


def delete(call: Call, resource: Resource[RecordT, InputT], text: str, version: int | None) -> None:
    """Delete a record; it is kept, and can be restored."""
    revision = records.next_revision(call.session)
    row = get_record(call, resource, text)
    check_version(resource, row, version)
    before = resource.read(row)
    records.soft_delete(call.session, row, now=call.now, revision=revision)
    audit(call, resource, row, Action.DELETE, before)


def restore(call: Call, resource: Resource[RecordT, InputT], text: str) -> Found:
    """Bring a deleted record back.

    Raises:
        ConflictError: it is not deleted, or another one stands in its place by now.
    """
    revision = records.next_revision(call.session)
    row = get_record(call, resource, text, deleted=True)
    if row.deleted_at is None:
        raise ConflictError(f"This {resource.noun} is not deleted.")
    check(call, resource, stored_input(call, resource, row), row.id)
    records.restore_record(call.session, row, now=call.now, revision=revision)
    audit(call, resource, row, Action.RESTORE, None)
    return Found(body_of(resource, row), row.version)


def stored_input(call: Call, resource: Resource[RecordT, InputT], row: RecordT) -> InputT:
    """Return a row as it came in.

    Fields that cannot be read any more, because their family's file was changed or taken away since, are left
    out where they may be: the row keeps them, and comes back with them.
    """
    content = jsonable(resource.read(row))
    try:
        with reading_with(call.knowledge.families):
            return resource.schema.model_validate(content)
    except ValidationError as error:
        unreadable = {entry["loc"][0] for entry in error.errors() if entry["loc"]}
    fields = resource.schema.model_fields
    kept = {name for name in content if name not in unreadable or fields[name].is_required()}
    unchecked: Any = resource.schema
    built: InputT = unchecked.model_construct(**{name: content[name] for name in kept})
    return built


def history(call: Call, resource: Resource[RecordT, InputT], text: str) -> list[Body]:
    """Return all changes of a record, oldest first; a deleted one has them still."""
    row = get_record(call, resource, text, deleted=True)
    return [
        {
            "at": change.at,
            "actor": change.actor,
            "action": change.action,
            "version": change.version,
            "revision": change.revision,
            "before": change.before,
            "after": change.after,
        }
        for change in records.list_changes(call.session, resource.name, row.id)
    ]


def check(call: Call, resource: Resource[RecordT, InputT], data: InputT, own_id: int | None) -> None:
    """Raise every fault that the database has against what came in."""
    faults = list(resource.faults(call, data, own_id))
    if faults:
        raise InvalidInputError("It refers to what is not there.", faults)
    conflicts = list(resource.conflicts(call, data, own_id))
    if conflicts:
        raise ConflictError(f"This {resource.noun} stands against what is on file.", conflicts)


def check_version(resource: Resource[RecordT, InputT], row: RecordT, version: int | None) -> None:
    """Raise StaleEditError where an edit was made from another version than the stored one."""
    if version is not None and version != row.version:
        raise StaleEditError(
            f"This {resource.noun} is at version {row.version} by now. Read it again, then edit that.",
            [InputFault("This is not the ETag of the present version.", "header", "If-Match")],
        )


def audit(
    call: Call, resource: Resource[RecordT, InputT], row: RecordT, action: Action, before: Body | None
) -> None:
    """Write a change into the audit trail, in the same transaction."""
    records.append_change(
        call.session,
        row,
        resource=resource.name,
        action=action,
        actor=call.actor,
        at=call.now,
        before=None if before is None else jsonable(before),
        after=None if action is Action.DELETE else jsonable(resource.read(row)),
    )


def jsonable(body: Body) -> Body:
    """Return a body as JSON would hold it."""
    plain: Body = to_jsonable_python(body)
    return plain
