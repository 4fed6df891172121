"""What a comparison is given: machine, candidates and the belief about them, offers, needs, assumptions."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from fitworth.advice.assumptions import Assumptions
from fitworth.costing.fallback import Belief
from fitworth.costing.need_bounds import NeedOffer
from fitworth.costing.rates import Rate
from fitworth.costing.terms import ZERO, Destination, Goods, SupplierTerms
from fitworth.errors import Fault, raise_faults
from fitworth.families.model import Family
from fitworth.vocabulary import Condition, Grade, Verdict

CONFIDENCE_OFF = 1e-3  # how far a candidate's confidence may be from the belief's: a rounding for show


@dataclass(frozen=True, slots=True)
class MachineValues:
    """What a machine is worth and how it is used; amounts in the job's currency.

    Attributes:
        worth_running: with the job done.
        worth_as_is: as it stands, at most worth_running.
        hour_value: of the worker [currency/h], from 0.
        hours_per_season: running hours [h], from 0.
        seasons: planned, one a year, from 0.
        history_known: whether its past is known.
    """

    worth_running: Decimal
    worth_as_is: Decimal
    hour_value: Decimal
    hours_per_season: float
    seasons: float
    history_known: bool

    def __post_init__(self) -> None:
        """Refuse values that no machine has, all at once."""
        raise_faults(self._list_faults())

    def _list_faults(self) -> Iterator[Fault]:
        for name in ("worth_as_is", "hour_value", "hours_per_season", "seasons"):
            if not getattr(self, name) >= 0:
                yield Fault(f"/{name}", f"The {name.replace('_', ' ')} must be zero or more.")
        if not self.worth_running >= self.worth_as_is:
            yield Fault(
                "/worth_running",
                "The machine must be worth at least as much running as it is now; check both amounts.",
            )


@dataclass(frozen=True, slots=True)
class WithWork:
    """The work that may be needed to make a candidate fit.

    Attributes:
        probability: that it runs only after the work, at most the fit confidence.
        items: needs of the work.
        minutes: of the work [min].
        cost: of its goods [job's currency].
    """

    probability: float = 0.0
    items: tuple[str, ...] = ()
    minutes: float = 0.0
    cost: Decimal = ZERO


@dataclass(frozen=True, slots=True)
class Candidate:
    """A part on file that may stand in for the removed one."""

    part_id: int
    label: str
    maker: str
    number: str
    grade: Grade
    fit_confidence: float
    verdict: Verdict
    with_work: WithWork = field(default_factory=WithWork)


@dataclass(frozen=True, slots=True)
class PartOffer:
    """A quote for a candidate; what is in the box stands in its goods, inheritance resolved.

    Its goods' quantity is not looked at: as many are bought as the job needs. `stock` is None where unknown.
    """

    part_id: int
    goods: Goods
    supplier: SupplierTerms
    valid_until: date | None = None
    condition: Condition = Condition.NEW
    stock: int | None = None


@dataclass(frozen=True, slots=True)
class KitOffer:
    """A quote for a rebuild kit, with the chance that the kit serves the removed part."""

    label: str
    grade: Grade
    serves: float
    goods: Goods
    supplier: SupplierTerms
    valid_until: date | None = None
    condition: Condition = Condition.NEW
    stock: int | None = None


@dataclass(frozen=True, slots=True)
class DatedNeedOffer:
    """A quote for needs; `label` names it to people."""

    label: str
    offer: NeedOffer
    valid_until: date | None = None


@dataclass(frozen=True, slots=True)
class Prices:
    """Where prices are told and reckoned: currency of the job, destination, exchange rates of a day."""

    currency: str
    destination: Destination
    rates: tuple[Rate, ...]
    as_of: date


@dataclass(frozen=True, slots=True)
class Work:
    """What the job asks for besides the part; amounts in the job's currency.

    Attributes:
        needs: items and how many of each; the part itself may stand among them under its family's key, else
            one of it is needed.
        on_hand: items that need not be bought.
        labour_minutes: of putting the replacement on, all parts of it [min], or None for the family's
            assumption for each.
        waiting_cost_per_day: of each day until the goods are there.
        days_lost_per_failure: of the machine's use [d].
        other_spending: on the machine besides this job.
        condition: state of the removed part by aspect.
        seat_replaceable: whether its seat can be changed, or None where nobody has looked.
        checks: checks made on the machine, with their results.
    """

    needs: Mapping[str, int] = field(default_factory=dict)
    on_hand: Mapping[str, int] = field(default_factory=dict)
    labour_minutes: float | None = None
    waiting_cost_per_day: Decimal = ZERO
    days_lost_per_failure: float = 0.0
    other_spending: Decimal = ZERO
    condition: Mapping[str, str] = field(default_factory=dict)
    seat_replaceable: bool | None = None
    checks: tuple[tuple[str, str], ...] = ()

    def __post_init__(self) -> None:
        """Refuse negative sums, times and counts, all at once."""
        raise_faults(self._list_faults())

    def count_parts(self, family_key: str) -> int:
        """Return how many of the part itself are to be had: at least one, else nothing would be compared."""
        return max(1, self.needs.get(family_key, 1) - self.on_hand.get(family_key, 0))

    def _list_faults(self) -> Iterator[Fault]:
        sums = {
            name: getattr(self, name)
            for name in ("waiting_cost_per_day", "days_lost_per_failure", "other_spending", "labour_minutes")
        }
        for name, value in sums.items():
            if value is not None and not value >= 0:
                yield Fault(f"/{name}", f"The {name.replace('_', ' ')} must be zero or more.")
        for name, counts in (("needs", self.needs), ("on_hand", self.on_hand)):
            for need, count in counts.items():
                if count < 0:
                    yield Fault(f"/{name}/{need}", f"The quantity of {need} must be zero or more.")


@dataclass(frozen=True, slots=True, eq=False)
class ComparisonCase:
    """Everything that a comparison is reckoned from.

    Attributes:
        family: of the removed part.
        machine: its values and use.
        prices: currency, destination, rates and day.
        candidates: parts that may fit.
        belief: over the candidates, row by row; None where their fits are independent of each other.
        offers: quotes for candidates.
        kits: quotes for rebuild kits.
        need_offers: quotes for needs.
        work: what the job asks for.
        assumptions: in their last layer.
    """

    family: Family
    machine: MachineValues
    prices: Prices
    candidates: tuple[Candidate, ...]
    belief: Belief | None
    offers: tuple[PartOffer, ...]
    kits: tuple[KitOffer, ...]
    need_offers: tuple[DatedNeedOffer, ...]
    work: Work
    assumptions: Assumptions

    def __post_init__(self) -> None:
        """Refuse candidates, offers and belief that do not belong together, all at once."""
        raise_faults(self._list_faults())

    def _list_faults(self) -> Iterator[Fault]:
        for i, candidate in enumerate(self.candidates):
            if not 0 <= candidate.fit_confidence <= 1:
                yield Fault(f"/candidates/{i}/fit_confidence", "A probability from 0 to 1 is needed.")
            if not 0 <= candidate.with_work.probability <= candidate.fit_confidence + CONFIDENCE_OFF:
                says = "The chance of running after work must lie from 0 to the fit confidence."
                yield Fault(f"/candidates/{i}/with_work/probability", says)
        for i, kit in enumerate(self.kits):
            if not 0 <= kit.serves <= 1:
                yield Fault(f"/kits/{i}/serves", "A probability from 0 to 1 is needed.")
        known = {candidate.part_id for candidate in self.candidates}
        for i, offer in enumerate(self.offers):
            if offer.part_id not in known:
                yield Fault(f"/offers/{i}/part_id", "The offer is for a part that is no candidate.")
        yield from self._list_belief_faults()

    def _list_belief_faults(self) -> Iterator[Fault]:
        if self.belief is None:
            return
        if len(self.belief.fits_given) != len(self.candidates):
            yield Fault("/belief", "The belief must have one row a candidate.")
            return
        for i, (candidate, fit) in enumerate(zip(self.candidates, self.belief.fits, strict=True)):
            if abs(candidate.fit_confidence - fit) > CONFIDENCE_OFF:
                says = f"The fit confidence differs from the belief's {fit:.4f}."
                yield Fault(f"/candidates/{i}/fit_confidence", says)
