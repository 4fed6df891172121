"""What an import looks up: the records on file that a sheet's rows may be about."""

from collections.abc import Collection, Iterator, Sequence
from typing import TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from db.models import Part, Supplier

T = TypeVar("T")

AT_ONCE = 5_000
"""Values in one statement; SQLite takes 32,766 parameters, PostgreSQL 65,535."""


def list_parts_by_own_number(session: Session, number_keys: Collection[str]) -> list[Part]:
    """List the parts whose own number, as compared, is one of these; not those that bear it besides."""
    found: list[Part] = []
    for some in _batches(sorted(number_keys)):
        query = select(Part).where(Part.number_key.in_(some), Part.deleted_at.is_(None)).order_by(Part.id)
        found += session.scalars(query)
    return found


def list_unnumbered_parts(session: Session, makers: Collection[str], titles: Collection[str]) -> list[Part]:
    """List the parts without a number that are of one of these makers and have one of these titles."""
    found: list[Part] = []
    for some_makers in _batches(sorted(makers)):
        for some_titles in _batches(sorted(titles)):
            query = (
                select(Part)
                .where(Part.number_key.is_(None), Part.deleted_at.is_(None))
                .where(Part.maker.in_(some_makers), Part.title.in_(some_titles))
                .order_by(Part.id)
            )
            found += session.scalars(query)
    return found


def list_suppliers_by_name(session: Session, names: Collection[str]) -> list[Supplier]:
    """List the suppliers that have one of these names."""
    found: list[Supplier] = []
    for some in _batches(sorted(names)):
        query = select(Supplier).where(Supplier.name.in_(some), Supplier.deleted_at.is_(None))
        found += session.scalars(query.order_by(Supplier.id))
    return found


def _batches(items: Sequence[T]) -> Iterator[Sequence[T]]:
    """Yield the items in lists of at most AT_ONCE."""
    for start in range(0, len(items), AT_ONCE):
        yield items[start : start + AT_ONCE]
