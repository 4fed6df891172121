"""Queries about parts: lists and text search, their numbers, the rows of the search index, bulk loading."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from typing import Any, NamedTuple, TypeVar

from sqlalchemy import (
    Text,
    and_,
    cast,
    delete,
    func,
    insert,
    select,
    text,
    type_coerce,
)
from sqlalchemy.orm import Session
from sqlalchemy.types import NULLTYPE

from db.base import Base
from db.models import Part, PartInclude, PartNumber
from db.records import list_page
from db.search_text import fold_lines
from fitworth.vocabulary import Grade

T = TypeVar("T")

CHUNK_ROWS = 20_000
"""Rows read from the driver at once: many enough to be fast, few enough for any memory."""

IDS_AT_ONCE = 5_000
"""Keys in one statement; SQLite takes 32,766 parameters, PostgreSQL 65,535."""


class Number(NamedTuple):
    """A part's number as written, and as numbers are compared."""

    number: str
    number_key: str


class StoredNumber(NamedTuple):
    """A number on file: of which part, as written, as compared; position 0 is the part's own."""

    part_id: int
    number: str
    number_key: str
    position: int


class PackedParts(NamedTuple):
    """Rows of the search index as columns of equal length, in the order of the ids."""

    ids: tuple[int, ...]
    revisions: tuple[int, ...]
    deleted: tuple[bool, ...]
    makers: tuple[str, ...]
    grades: tuple[str, ...]
    packed: tuple[bytes, ...]
    stated_for: tuple[str, ...]  # JSON lists as text: nearly all are empty, parsing a million takes a second


@dataclass(frozen=True, slots=True)
class PartFilter:
    """Which parts to list; None lets all through. `q`: words that all stand in the part's text."""

    q: str | None = None
    family: str | None = None
    maker: str | None = None
    grade: Grade | None = None


@dataclass(frozen=True, slots=True)
class NewPart:
    """A part to load: columns of `Part` by name, not those of the record; its numbers, own one first."""

    values: Mapping[str, Any]
    numbers: Sequence[Number] = ()


def list_parts(
    session: Session, wanted: PartFilter, *, limit: int, after_id: int = 0, include_deleted: bool = False
) -> list[Part]:
    """List a page of the parts that pass a filter, in the order of their ids."""
    filters = {"family": wanted.family, "maker": wanted.maker, "grade": wanted.grade}
    return list_page(
        session,
        Part,
        {name: value for name, value in filters.items() if value is not None},
        limit=limit,
        after_id=after_id,
        include_deleted=include_deleted,
        search=wanted.q,
    )


def list_parts_by_ids(
    session: Session, part_ids: Sequence[int], *, include_deleted: bool = False
) -> list[Part]:
    """List the parts with these ids in the order of the ids; what is not on file is left out."""
    found: list[Part] = []
    for some in batches(sorted(set(part_ids)), IDS_AT_ONCE):
        query = select(Part).where(Part.id.in_(some)).order_by(Part.id)
        if not include_deleted:
            query = query.where(Part.deleted_at.is_(None))
        found += session.scalars(query)
    return found


def set_part_details(session: Session, part: Part, numbers: Sequence[Number]) -> None:
    """Store what hangs on a part on file: its numbers, its box's needs, the text that `q` looks in.

    Call it after the part was added or edited and before the transaction ends; the old rows are replaced.
    """
    session.execute(delete(PartNumber).where(PartNumber.part_id == part.id))
    session.execute(delete(PartInclude).where(PartInclude.part_id == part.id))
    values = {name: getattr(part, name) for name in _TEXT_COLUMNS}
    part.search_text = _search_text(values, numbers)
    session.flush()
    _insert_details(session, [(part.id, NewPart({"includes": part.includes}, numbers))])


def list_numbers(session: Session, part_ids: Sequence[int]) -> list[StoredNumber]:
    """List the numbers of these parts, each part's own first."""
    found: list[StoredNumber] = []
    for some in batches(sorted(set(part_ids)), IDS_AT_ONCE):
        query = (
            select(PartNumber.part_id, PartNumber.number, PartNumber.number_key, PartNumber.position)
            .where(PartNumber.part_id.in_(some))
            .order_by(PartNumber.part_id, PartNumber.position)
        )
        found += [StoredNumber(*row) for row in session.execute(query)]
    return found


def list_unnumbered(session: Session, family: str) -> list[int]:
    """List the ids of a family's parts that go under no number."""
    numbers = select(PartNumber.part_id).where(PartNumber.part_id == Part.id)
    query = select(Part.id).where(Part.family == family, Part.deleted_at.is_(None), ~numbers.exists())
    return list(session.scalars(query.order_by(Part.id)))


def list_parts_by_number(session: Session, number_key: str, *, family: str | None = None) -> list[Part]:
    """List the parts known by a number, compared as `number_key`."""
    query = (
        select(Part)
        .where(Part.id.in_(select(PartNumber.part_id).where(PartNumber.number_key == number_key)))
        .where(Part.deleted_at.is_(None))
        .order_by(Part.id)
    )
    if family is not None:
        query = query.where(Part.family == family)
    return list(session.scalars(query))


def list_families(session: Session) -> list[str]:
    """List the families of which a part was ever on file, each by one look at the index."""
    found: list[str] = []
    following = select(func.min(Part.family))
    while (family := session.scalar(following)) is not None:
        found.append(family)
        following = select(func.min(Part.family)).where(Part.family > family)
    return found


def list_numbers_changed(
    session: Session, family: str, after: int, until: int
) -> list[tuple[int, str | None]]:
    """List the numbers of a family's parts that changed after one revision and no later than another.

    A part's numbers follow one another, its own first; a deleted part and one without numbers come once, with
    None. All of a million take some seconds.
    """
    borne = and_(PartNumber.part_id == Part.id, Part.deleted_at.is_(None))
    query = (
        select(Part.id, PartNumber.number)
        .outerjoin(PartNumber, borne)
        .where(Part.family == family, Part.revision > after, Part.revision <= until)
        .order_by(Part.id, PartNumber.position)
    )
    return [(part_id, number) for part_id, number in session.connection().execute(query)]


def iter_packed(session: Session, family: str, since_revision: int = 0) -> Iterator[PackedParts]:
    """Yield the rows of the search index of a family, those changed after a revision, in large chunks.

    Deleted parts come too where `since_revision` is not 0, marked, so that an index can drop them; a full
    load leaves them out. Read `get_revision` in the same session to know what the rows are up to date with.
    """
    part = _PART_TABLE.c
    columns = (part.id, part.revision, part.deleted_at.is_not(None), part.maker, part.grade, part.packed)
    # Values as the driver gives them: a call a value to convert them takes longer than to read them.
    query = select(*(type_coerce(column, NULLTYPE) for column in columns), cast(part.stated_for, Text))
    changed = part.revision > since_revision if since_revision else part.deleted_at.is_(None)
    # One statement, so that all rows are of one moment; on the connection, for the session wraps rows twice.
    rows = session.connection().execute(
        query.where(part.family == family, changed).order_by(part.id),
        execution_options={"stream_results": True, "max_row_buffer": CHUNK_ROWS},
    )
    for chunk in rows.partitions(CHUNK_ROWS):
        ids, revisions, deleted, makers, grades, packed, stated_for = zip(*chunk, strict=True)
        yield PackedParts(ids, revisions, tuple(map(bool, deleted)), makers, grades, packed, stated_for)


def bulk_insert(session: Session, parts: Sequence[NewPart], *, now: datetime, revision: int) -> list[int]:
    """Store many new parts with their numbers and needs, and return their ids in the order given.

    The audit trail is the caller's, as everywhere. Commit every few thousand parts.
    """
    if not parts:
        return []
    record = {"version": 1, "created_at": now, "updated_at": now, "deleted_at": None, "revision": revision}
    ids = _reserve_ids(session, len(parts))
    rows = [
        {
            **_PART_DEFAULTS,
            **part.values,
            **record,
            "id": part_id,
            "search_text": _search_text(part.values, part.numbers),
        }
        for part_id, part in zip(ids, parts, strict=True)
    ]
    session.execute(insert(_PART_TABLE), rows)
    _insert_details(session, list(zip(ids, parts, strict=True)))
    return ids


def batches(items: Sequence[T], size: int) -> Iterator[list[T]]:
    """Yield the items in lists of at most `size`."""
    rest = iter(items)
    while some := list(islice(rest, size)):
        yield some


_PART_TABLE = Base.metadata.tables["part"]  # for statements that need nothing of the object mapper
_PART_DEFAULTS: Mapping[str, Any] = {
    "packed": b"",
    "number": None,
    "number_key": None,
    "other_numbers": [],
    "title": "",
    "dimensions": {},
    "includes": [],
    "serves": [],
    "stated_for": [],
    "notes": "",
}

_TEXT_COLUMNS = ("maker", "title", "stated_for", "serves", "notes")


def _reserve_ids(session: Session, count: int) -> list[int]:
    """Return ids for new parts, in rising order.

    Asking the INSERT itself for them takes one statement a row on SQLite, three times as long.
    """
    if session.get_bind().dialect.name == "postgresql":
        reserved = text(
            "SELECT nextval(pg_get_serial_sequence('part', 'id')) FROM generate_series(1, :count)"
        )
        return list(session.scalars(reserved, {"count": count}))
    # A SQLite writer is alone from its first statement on, and rows are never removed.
    last = session.scalar(select(func.max(Part.id))) or 0
    return list(range(last + 1, last + 1 + count))


def _search_text(values: Mapping[str, Any], numbers: Sequence[Number]) -> str:
    """Return the folded text that `q` looks in: maker, numbers as written and as compared, all words."""
    lines = [values["maker"], values.get("title", ""), values.get("notes", "")]
    lines += [line for number in numbers for line in number]
    lines += [*values.get("stated_for", ()), *values.get("serves", ())]
    return fold_lines(lines)


def _insert_details(session: Session, parts: Sequence[tuple[int, NewPart]]) -> None:
    """Store the numbers and the needs of parts that are on file."""
    numbers = [
        {"part_id": part_id, "position": position, "number": number.number, "number_key": number.number_key}
        for part_id, part in parts
        for position, number in enumerate(part.numbers)
    ]
    includes = [
        {"part_id": part_id, "need": need}
        for part_id, part in parts
        for need in sorted(set(part.values.get("includes", ())))
    ]
    if numbers:
        session.execute(insert(PartNumber), numbers)
    if includes:
        session.execute(insert(PartInclude), includes)
