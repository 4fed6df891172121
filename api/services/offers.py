"""The quotes that a comparison can take: for candidates, for rebuild kits, for what the job needs besides."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date

from api.schemas.bench import JobContent
from api.services.call import Call
from api.services.candidates import CandidateSet, label_of
from db import parts as stored_parts
from db import quotes as stored_quotes
from db.models import Quote, Supplier
from fitworth.advice.assumptions import Assumptions
from fitworth.advice.case import DatedNeedOffer, KitOffer, PartOffer
from fitworth.costing.need_bounds import NeedOffer
from fitworth.costing.terms import ZERO, Goods, PriceBreak, SupplierTerms
from fitworth.costing.terms_reading import read_delivery, read_returns
from fitworth.families.model import Family
from fitworth.matching.numbers import normalise
from fitworth.quantities.money import from_minor
from fitworth.vocabulary import Condition, Grade

SERVES_NOTHING = 0.05  # below it a kit is not offered, as a part is not that does not fit
COMPLETES = (
    0.5  # own choice: what completes an option counts as serving for sure, so it must do so likelier than not
)

LEGIBLE_NUMBER = "wrong_part_share.legible_number"


@dataclass(frozen=True, slots=True)
class Market:
    """What is on offer for one comparison, and the names of the assumptions that its chances stand on."""

    offers: tuple[PartOffer, ...]
    kits: tuple[KitOffer, ...]
    need_offers: tuple[DatedNeedOffer, ...]
    warnings: tuple[str, ...]
    assumed: tuple[str, ...]


def find_market(
    call: Call,
    family: Family,
    candidates: CandidateSet,
    content: JobContent,
    only: Collection[int],
    as_of: date,
    held_true: Assumptions,
) -> Market:
    """Return what is on offer; `only` keeps to the quotes named, where there are any."""
    quotes = stored_quotes.list_quotes_for_parts(call.session, list(candidates.rows))
    usable, unseen = split_by_day(quotes, as_of)
    served, assumed = serving_chances(call, candidates, content, held_true)
    kit_quotes, kits_unseen = split_by_day(kits_that_serve(call, family, served), as_of)
    needs = sorted(
        {*family.needs, *(line.need for line in content.needs or ()), *measured_needs(family, content)}
    )
    completing = [
        quote
        for quote in stored_quotes.list_offers_for_needs(call.session, needs, on=as_of)
        if quote.part.family != family.key and chance_to_serve(quote, served) >= COMPLETES
    ]
    need_quotes, needs_unseen = split_by_day(completing, as_of)
    terms = terms_by_supplier([*usable, *kit_quotes, *need_quotes])
    offers = tuple(
        PartOffer(
            quote.part_id,
            goods_of(quote),
            terms[quote.supplier_id],
            quote.valid_until,
            Condition(quote.condition),
            quote.stock,
        )
        for quote in usable
        if not only or quote.id in only
    )
    kits = tuple(
        kit_offer(quote, terms[quote.supplier_id], served)
        for quote in kit_quotes
        if not only or quote.id in only
    )
    need_offers = tuple(
        DatedNeedOffer(
            label_of(quote.part), NeedOffer(goods_of(quote), terms[quote.supplier_id]), quote.valid_until
        )
        for quote in need_quotes
    )
    warnings = tuple(dict.fromkeys([*unseen, *kits_unseen, *needs_unseen]))
    return Market(offers, kits, need_offers, warnings, assumed)


def split_by_day(quotes: Iterable[Quote], as_of: date) -> tuple[list[Quote], list[str]]:
    """Return the quotes that had been seen by a day, and a sentence for each that had not."""
    usable, warnings = [], []
    for quote in quotes:
        if quote.seen_on is not None and quote.seen_on > as_of:
            warnings.append(f"Quote {quote.id} was seen on {quote.seen_on}, after {as_of}: left out.")
        elif quote.stock == 0:
            warnings.append(f"Quote {quote.id} of {quote.supplier.name} has nothing in stock: left out.")
        else:
            usable.append(quote)
    return usable, warnings


def measured_needs(family: Family, content: JobContent) -> Iterable[str]:
    """Return what the removed part was fitted with, where that was looked at."""
    removed = content.removed_part
    found: Iterable[str] = () if removed is None else removed.measured.get(family.needs_from, ())
    return found


def serving_chances(
    call: Call, candidates: CandidateSet, content: JobContent, held_true: Assumptions
) -> tuple[dict[str, float], tuple[str, ...]]:
    """Return, by number, the chance that what serves it serves the removed part; and what is assumed.

    A kit serves the removed part as surely as a part of that number would replace it; the removed part's own
    number is as sure as such numbers have proved.
    """
    chances: dict[str, float] = {}
    confidence = {candidate.part_id: candidate.fit_confidence for candidate in candidates.candidates}
    for number in stored_parts.list_numbers(call.session, list(candidates.rows)):
        known = chances.get(number.number_key, 0.0)
        chances[number.number_key] = max(known, confidence[number.part_id])
    removed = content.removed_part
    if removed is None or removed.known_number is None:
        return chances, ()
    chances[normalise(removed.known_number)] = 1.0 - held_true.value(LEGIBLE_NUMBER)
    return chances, (LEGIBLE_NUMBER,)


def chance_to_serve(quote: Quote, served: dict[str, float]) -> float:
    """Return the chance that a kit or gasket serves the removed part; one without numbers serves any."""
    if not quote.part.serves:
        return 1.0
    return max(served.get(normalise(number), 0.0) for number in quote.part.serves)


def kits_that_serve(call: Call, family: Family, served: dict[str, float]) -> Iterable[Quote]:
    """Yield the quotes for kits that may rebuild the removed part."""
    if family.repair is None:
        return
    wanted = set(family.repair.kit_contains)
    for quote in stored_quotes.list_quotes_for_family(call.session, family.repair.kit_family):
        rebuilds = not wanted or not wanted.isdisjoint(includes_of(quote))
        if rebuilds and quote.part.serves and chance_to_serve(quote, served) >= SERVES_NOTHING:
            yield quote


def kit_offer(quote: Quote, terms: SupplierTerms, served: dict[str, float]) -> KitOffer:
    """Return a quote for a kit as the core takes it."""
    return KitOffer(
        label=label_of(quote.part),
        grade=Grade(quote.part.grade),
        serves=chance_to_serve(quote, served),
        goods=goods_of(quote),
        supplier=terms,
        valid_until=quote.valid_until,
        condition=Condition(quote.condition),
        stock=quote.stock,
    )


def includes_of(quote: Quote) -> frozenset[str]:
    """Return what is in the box: the quote's own list where it has one, else the part's."""
    return frozenset(quote.part.includes if quote.includes is None else quote.includes)


def goods_of(quote: Quote) -> Goods:
    """Return a quote's goods as the core takes them."""
    currency = quote.currency
    return Goods(
        quote_id=quote.id,
        family=quote.part.family,
        price=from_minor(quote.price_minor, currency).amount,
        price_breaks=tuple(
            PriceBreak(step["from_quantity"], from_minor(step["price_minor"], currency).amount)
            for step in quote.price_breaks
        ),
        quantity=1,
        weight_g=quote.weight_g,
        core_charge=ZERO
        if quote.core_charge_minor is None
        else from_minor(quote.core_charge_minor, currency).amount,
        includes=includes_of(quote),
    )


def terms_by_supplier(quotes: Iterable[Quote]) -> dict[int, SupplierTerms]:
    """Return the terms of the quotes' suppliers by id, each read once."""
    suppliers = {quote.supplier_id: quote.supplier for quote in quotes}
    return {supplier_id: terms_of(supplier) for supplier_id, supplier in suppliers.items()}


def terms_of(row: Supplier) -> SupplierTerms:
    """Return a supplier as the core takes it."""
    return SupplierTerms(
        supplier_id=row.id,
        name=row.name,
        country=row.country,
        currency=row.currency,
        delivery=read_delivery(row.delivery, row.currency),
        prices_include_tax=row.prices_include_tax,
        returns=read_returns(row.returns, row.currency),
        warranty_days=row.warranty_days or 0.0,
    )
