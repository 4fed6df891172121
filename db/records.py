"""What is done alike to every kind of record: find, list, add, edit, delete, restore, audit.

Functions flush and never commit: one request is one transaction, and its caller ends it. The time is
passed in.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any, TypeVar

from sqlalchemy import ColumnElement, func, insert, select, update
from sqlalchemy.orm import Session

from db.base import Record
from db.models import CatalogueRevision, Change
from db.search_text import contains_words
from db.types import MAX_ID
from fitworth.vocabulary import Action

R = TypeVar("R", bound=Record)


@dataclass(frozen=True, slots=True)
class NewChange:
    """A line for the audit trail: `before` and `after` are the record as it is shown."""

    resource: str
    resource_id: int
    version: int
    revision: int
    action: Action
    actor: str
    at: datetime
    before: dict[str, Any] | None = None
    after: dict[str, Any] | None = None


def next_revision(session: Session) -> int:
    """Return a new revision of the catalogue, one above the last.

    Call it first in every writing transaction: the row stays locked until the end, so writers take turns on
    PostgreSQL too, and a revision that can be seen has no lower one still to come.
    """
    counted = (
        update(CatalogueRevision)
        .values(revision=CatalogueRevision.revision + 1)
        .returning(CatalogueRevision.revision)
        .execution_options(synchronize_session=False)
    )
    return session.scalars(counted).one()


def get_revision(session: Session) -> int:
    """Return the catalogue's latest revision; 0 in one that never changed."""
    return session.scalars(select(CatalogueRevision.revision)).one()


def lock_revision(session: Session) -> int:
    """Return the latest revision as soon as it is this writer's turn, without counting it up."""
    return session.scalars(select(CatalogueRevision.revision).with_for_update()).one()


def is_id(number: int) -> bool:
    """Return whether a number can be a key at all; larger ones are an error to both databases."""
    return 0 < number <= MAX_ID


def find_record(
    session: Session, model: type[R], record_id: int, *, include_deleted: bool = False
) -> R | None:
    """Return a record, or None where there is none or it was deleted."""
    if not is_id(record_id):
        return None
    record = session.get(model, record_id)
    if record is None or (record.deleted_at is not None and not include_deleted):
        return None
    return record


def list_page(
    session: Session,
    model: type[R],
    filters: Mapping[str, object] | None = None,
    *,
    limit: int,
    after_id: int = 0,
    include_deleted: bool = False,
    search: str | None = None,
) -> list[R]:
    """List records in the order of their ids, at most `limit` of them, those after `after_id`.

    Args:
        session: the transaction to read in.
        model: the kind of record.
        filters: column name to the value it must have; None as a value means that it is absent.
        limit: the most to list.
        after_id: the last id of the page before; 0 for the first page.
        include_deleted: whether deleted ones are listed too.
        search: words that must all stand in the record's `search_text`, for the models that have one.
    """
    conditions: list[ColumnElement[bool]] = [
        getattr(model, name) == value for name, value in (filters or {}).items()
    ]
    if search is not None:
        conditions += contains_words(getattr(model, "search_text"), search)  # noqa: B009 - not every record has it
    if after_id >= MAX_ID:
        return []
    query = select(model).where(model.id > max(after_id, 0), *conditions).order_by(model.id).limit(limit)
    if not include_deleted:
        query = query.where(model.deleted_at.is_(None))
    return list(session.scalars(query))


def count_records(session: Session, model: type[Record]) -> int:
    """Return how many records of a kind there are, deleted ones apart."""
    counted = select(func.count()).select_from(model).where(model.deleted_at.is_(None))
    return session.scalars(counted).one()


def add_record(session: Session, record: R, *, now: datetime, revision: int) -> R:
    """Return the record stored as its first version, with its id."""
    add_records(session, [record], now=now, revision=revision)
    return record


def add_records(session: Session, new: Sequence[Record], *, now: datetime, revision: int) -> None:
    """Store records as their first version; they then have their ids."""
    for record in new:
        record.version = 1
        record.created_at = now
        record.updated_at = now
        record.deleted_at = None
        record.revision = revision
    session.add_all(new)
    session.flush()


def touch(session: Session, record: Record, *, now: datetime, revision: int) -> None:
    """Store an edited record as its next version.

    Raises:
        sqlalchemy.orm.exc.StaleDataError: somebody else stored a version since this one was read.
    """
    record.version += 1
    record.updated_at = now
    record.revision = revision
    session.flush()


def soft_delete(session: Session, record: Record, *, now: datetime, revision: int) -> None:
    """Mark a record as deleted; it stays on file and can be restored."""
    record.deleted_at = now
    touch(session, record, now=now, revision=revision)


def restore_record(session: Session, record: Record, *, now: datetime, revision: int) -> None:
    """Take a record's deletion back.

    Raises:
        sqlalchemy.exc.IntegrityError: another one stands in its place, a part of the same number say.
    """
    record.deleted_at = None
    touch(session, record, now=now, revision=revision)


def append_change(
    session: Session,
    record: Record,
    *,
    resource: str,
    action: Action,
    actor: str,
    at: datetime,
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
) -> None:
    """Write a stored record's change into the audit trail, in the same transaction.

    Args:
        session: the transaction that changes the record.
        record: the record as it now stands, with its new version and revision.
        resource: what the audit trail calls this kind of record: "parts".
        action: what was done.
        actor: who did it.
        at: when.
        before: the record as it was shown before; None for a new one.
        after: the record as it is shown now; None for a deleted one.
    """
    change = NewChange(resource, record.id, record.version, record.revision, action, actor, at, before, after)
    append_changes(session, [change])


def append_changes(session: Session, changes: Sequence[NewChange]) -> None:
    """Write many changes into the audit trail at once, as an import makes them."""
    if changes:
        # Not `asdict`, which copies every body to its last leaf: half the time of an import.
        names = [field.name for field in fields(NewChange)]
        session.execute(
            insert(Change), [{name: getattr(change, name) for name in names} for change in changes]
        )


def list_changes(session: Session, resource: str, resource_id: int) -> list[Change]:
    """List a record's changes, the oldest first."""
    if not is_id(resource_id):
        return []
    query = (
        select(Change)
        .where(Change.resource == resource, Change.resource_id == resource_id)
        .order_by(Change.id)
    )
    return list(session.scalars(query))
