"""Queries about interchange statements, and about the parts that bear the numbers of them."""

from collections.abc import Collection
from typing import NamedTuple

from sqlalchemy import ColumnElement, func, or_, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from db.models import Interchange, InterchangeDecision, Part, PartNumber
from db.parts import IDS_AT_ONCE, batches
from fitworth.vocabulary import Decision, Relation


class StoredStatement(NamedTuple):
    """A statement on file: columns of `Interchange`."""

    id: int
    from_number: str
    from_key: str
    to_number: str
    to_key: str
    relation: Relation
    confidence: float
    source: str


class Bearer(NamedTuple):
    """A part on file that goes under a number, and that number as it is compared."""

    number_key: str
    part_id: int
    family: str


def list_statements_about(session: Session, number_keys: Collection[str]) -> list[Interchange]:
    """List the statements that name any of these numbers, on either side: one step of walking the graph."""
    found: dict[int, Interchange] = {}
    for some in batches(sorted(set(number_keys)), IDS_AT_ONCE):
        query = (
            select(Interchange)
            .where(or_(Interchange.from_key.in_(some), Interchange.to_key.in_(some)))
            .where(Interchange.deleted_at.is_(None))
        )
        found.update((row.id, row) for row in session.scalars(query))
    return [found[statement_id] for statement_id in sorted(found)]


def list_statements(session: Session) -> list[StoredStatement]:
    """List every statement, in the order of the ids; as tuples, for records take three times as long."""
    columns = (getattr(Interchange, name) for name in StoredStatement._fields)
    query = select(*columns).where(Interchange.deleted_at.is_(None)).order_by(Interchange.id)
    return [StoredStatement(*row) for row in session.execute(query)]


def list_linking(session: Session, family: str) -> list[StoredStatement]:
    """List the statements both of whose numbers parts of a family bear, in the order of the ids."""

    def borne(number_key: InstrumentedAttribute[str]) -> ColumnElement[bool]:
        bearers = (
            select(PartNumber.part_id)
            .join(Part, Part.id == PartNumber.part_id)
            .where(PartNumber.number_key == number_key)
            .where(Part.family == family, Part.deleted_at.is_(None))
        )
        return bearers.exists()

    columns = (getattr(Interchange, name) for name in StoredStatement._fields)
    query = (
        select(*columns)
        .where(Interchange.deleted_at.is_(None), borne(Interchange.from_key), borne(Interchange.to_key))
        .order_by(Interchange.id)
    )
    return [StoredStatement(*row) for row in session.execute(query)]


def get_last_revision(session: Session) -> int:
    """Return the catalogue's revision of the last change to a statement or a decision; 0 without any."""
    last = (session.scalar(select(func.max(model.revision))) for model in (Interchange, InterchangeDecision))
    return max(revision or 0 for revision in last)


def list_bearers(
    session: Session, number_keys: Collection[str], *, family: str | None = None
) -> list[Bearer]:
    """List the parts that go under any of these numbers, of one family or of all, in the order of the ids."""
    found: list[Bearer] = []
    for some in batches(sorted(set(number_keys)), IDS_AT_ONCE):
        query = (
            select(PartNumber.number_key, PartNumber.part_id, Part.family)
            .join(Part, Part.id == PartNumber.part_id)
            .where(PartNumber.number_key.in_(some), Part.deleted_at.is_(None))
            .order_by(PartNumber.part_id, PartNumber.position)
        )
        if family is not None:
            query = query.where(Part.family == family)
        found += (Bearer(*row) for row in session.execute(query))
    return found


def find_decision(session: Session, low_part_id: int, high_part_id: int) -> InterchangeDecision | None:
    """Return the decision about a pair of parts, the lower id first; None where it is still open."""
    query = select(InterchangeDecision).where(
        InterchangeDecision.low_part_id == low_part_id,
        InterchangeDecision.high_part_id == high_part_id,
        InterchangeDecision.deleted_at.is_(None),
    )
    return session.scalars(query).one_or_none()


def list_decided(session: Session) -> set[tuple[int, int]]:
    """Return the pairs of parts that were decided, the lower id first."""
    query = select(InterchangeDecision.low_part_id, InterchangeDecision.high_part_id).where(
        InterchangeDecision.deleted_at.is_(None)
    )
    return {(low, high) for low, high in session.execute(query)}


def list_rejected(session: Session, family: str) -> list[tuple[int, int]]:
    """List the pairs of parts of a family that were rejected, the lower id first, in that order."""
    query = (
        select(InterchangeDecision.low_part_id, InterchangeDecision.high_part_id)
        .join(Part, Part.id == InterchangeDecision.low_part_id)
        .where(InterchangeDecision.decision == Decision.REJECTED, InterchangeDecision.deleted_at.is_(None))
        .where(Part.family == family)
        .order_by(InterchangeDecision.low_part_id, InterchangeDecision.high_part_id)
    )
    return [(low, high) for low, high in session.execute(query)]
