"""Queries about quotes and the suppliers that make them."""

from collections.abc import Sequence
from datetime import date

from sqlalchemy import Select, and_, delete, exists, insert, or_, select
from sqlalchemy.orm import Session, joinedload

from db.models import Part, PartInclude, Quote, QuoteInclude, Supplier
from db.parts import IDS_AT_ONCE, batches


def list_quotes_for_parts(session: Session, part_ids: Sequence[int]) -> list[Quote]:
    """List the quotes for these parts, expired ones too, with supplier and part; nothing deleted."""
    found: list[Quote] = []
    for some in batches(sorted(set(part_ids)), IDS_AT_ONCE):
        found += session.scalars(_select_living().where(Quote.part_id.in_(some)))
    return found


def list_currencies_of_supplier(session: Session, supplier_id: int) -> list[str]:
    """List the currencies that a supplier's quotes are in, deleted quotes apart."""
    query = select(Quote.currency).where(Quote.supplier_id == supplier_id, Quote.deleted_at.is_(None))
    return list(session.scalars(query.distinct().order_by(Quote.currency)))


def list_quotes_for_family(session: Session, family: str) -> list[Quote]:
    """List the quotes for the parts of a family, expired ones too, with supplier and part loaded."""
    return list(session.scalars(_select_living().where(Part.family == family)))


def list_offers_for_needs(session: Session, needs: Sequence[str], *, on: date) -> list[Quote]:
    """List the quotes whose box covers any of these needs and that can be taken on a day.

    The box is the quote's own list where it has one, else the part's. Both are kept row by row beside the
    JSON lists: a filter inside JSON is written differently on each database and reads every part on file.
    """
    if not needs:
        return []
    in_quote = exists().where(QuoteInclude.quote_id == Quote.id, QuoteInclude.need.in_(needs))
    in_part = exists().where(PartInclude.part_id == Quote.part_id, PartInclude.need.in_(needs))
    covered = or_(in_quote, and_(Quote.includes.is_(None), in_part))
    return list(session.scalars(_select_offers(on).where(covered)))


def set_quote_details(session: Session, quote: Quote) -> None:
    """Store the needs that a quote's own list covers, row by row, after the quote was added or edited."""
    session.execute(delete(QuoteInclude).where(QuoteInclude.quote_id == quote.id))
    rows = [{"quote_id": quote.id, "need": need} for need in sorted(set(quote.includes or ()))]
    if rows:
        session.execute(insert(QuoteInclude), rows)


def _select_with_terms() -> Select[Quote]:
    """Return the query of quotes with what their cost depends on."""
    return select(Quote).options(joinedload(Quote.supplier), joinedload(Quote.part)).order_by(Quote.id)


def _select_living() -> Select[Quote]:
    """Return the query of quotes of which nothing is deleted."""
    return (
        _select_with_terms()
        .join(Supplier, Supplier.id == Quote.supplier_id)
        .join(Part, Part.id == Quote.part_id)
        .where(Quote.deleted_at.is_(None), Supplier.deleted_at.is_(None), Part.deleted_at.is_(None))
    )


def _select_offers(on: date) -> Select[Quote]:
    """Return the query of quotes that can be taken on a day: seen by then, not expired, not deleted."""
    return (
        _select_living()
        .where(or_(Quote.valid_until.is_(None), Quote.valid_until >= on))
        .where(or_(Quote.seen_on.is_(None), Quote.seen_on <= on))
    )
