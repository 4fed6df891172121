"""Which ways out of a job are compared, and what had to be left out of the comparison."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import partial

from fitworth.advice.assumptions import Asked
from fitworth.advice.case import Candidate, ComparisonCase, PartOffer
from fitworth.advice.options import Option, Workbench, restrict_belief
from fitworth.advice.purchases import Buyer, check_rates
from fitworth.costing.fallback import Belief
from fitworth.errors import NotComputableError
from fitworth.vocabulary import Verdict


@dataclass(frozen=True, slots=True, eq=False)
class Lineup:
    """The options that are compared: cleaning, kits, replacements, in this order.

    Attributes:
        options: besides stopping.
        belief: over the candidates that the replacements name.
        warnings: what was left out, and why.
    """

    options: tuple[Option, ...]
    belief: Belief
    warnings: tuple[str, ...]


def line_up(case: ComparisonCase, asked: Asked) -> Lineup:
    """Return the options of a case; what does not fit is none, what cannot be had is left out and told.

    Raises:
        InvalidValueError: words for the condition that are not known, all at once.
        NotComputableError: exchange rates that are not on file, all at once.
    """
    door = _Door(case)
    offers = [(offer, door.get_position(offer)) for offer in case.offers if door.lets_in(offer)]
    kits = [
        kit
        for kit in case.kits
        if door.is_valid(kit.label, kit.goods.quote_id, kit.valid_until)
        and door.is_enough(kit.label, kit.goods.quote_id, kit.stock)
    ]
    needs = [
        dated.offer
        for dated in case.need_offers
        if door.is_valid(dated.label, dated.offer.goods.quote_id, dated.valid_until)
    ]
    check_rates(case.prices, [*(offer.supplier for offer, _ in offers), *(kit.supplier for kit in kits)])
    bench = Workbench(case, Buyer(case, tuple(needs), asked), asked)
    if bench.can_be_saved:
        door.add("Cleaning", bench.build_clean)
    elif case.work.condition:
        door.warnings.append(f"The condition of a {case.family.label.lower()} tells nothing about saving it.")
    for kit in kits:
        door.add(f"The {kit.label}", partial(bench.build_rebuild, kit))
    positions = sorted({position for _, position in offers})
    belief = restrict_belief(case, positions)
    fits = belief.fits.tolist()
    for offer, position in offers:
        candidate, row = case.candidates[position], positions.index(position)
        build = partial(bench.build_replace, offer, candidate, row, fits[row])
        door.add(f"The {candidate.label} (quote {offer.goods.quote_id})", build)
    return Lineup(tuple(door.options), belief, tuple(door.warnings))


class _Door:
    """Lets options in, and notes what stays outside."""

    def __init__(self, case: ComparisonCase) -> None:
        self._case = case
        self._positions = {candidate.part_id: i for i, candidate in enumerate(case.candidates)}
        self.options: list[Option] = []
        self.warnings: list[str] = []

    def get_position(self, offer: PartOffer) -> int:
        """Return where the offer's candidate stands in the case."""
        return self._positions[offer.part_id]

    def lets_in(self, offer: PartOffer) -> bool:
        """Return whether an offer counts: of a part that may fit, and still valid."""
        candidate: Candidate = self._case.candidates[self.get_position(offer)]
        if candidate.verdict is Verdict.DOES_NOT_FIT:
            return False
        label, quote_id = candidate.label, offer.goods.quote_id
        return self.is_valid(label, quote_id, offer.valid_until) and self.is_enough(
            label, quote_id, offer.stock
        )

    def is_valid(self, label: str, quote_id: int, valid_until: date | None) -> bool:
        """Return whether a quote's last day has not passed; says so where it has."""
        if valid_until is None or valid_until >= self._case.prices.as_of:
            return True
        day = valid_until.isoformat()
        self.warnings.append(f"Quote {quote_id} for {label} is left out: it was valid until {day}.")
        return False

    def is_enough(self, label: str, quote_id: int, stock: int | None) -> bool:
        """Return whether a shop has as many as the job needs; says so where it has not."""
        needed = self._case.work.count_parts(self._case.family.key)
        if stock is None or stock >= needed:
            return True
        self.warnings.append(
            f"Quote {quote_id} for {label} is left out: {stock} in stock, and {needed} are needed."
        )
        return False

    def add(self, name: str, build: Callable[[], Option]) -> None:
        """Add an option, or say why it cannot be had."""
        try:
            self.options.append(build())
        except NotComputableError as error:
            self.warnings.append(f"{name} is left out: {error.faults[0].says}")
