"""The ways out of one job, each with its goods, its chance and its cost as an attempt."""

from dataclasses import dataclass, replace

import numpy as np

from fitworth.advice.assumptions import Asked
from fitworth.advice.case import Candidate, ComparisonCase, KitOffer, PartOffer
from fitworth.advice.condition import CURE_TABLES, Cure, CureTable, find_cures
from fitworth.advice.purchases import Buyer, Purchase
from fitworth.advice.wear import WearBook, find_grade_sold
from fitworth.costing.expected import Attempt, Wear
from fitworth.costing.fallback import Belief, KitAttempt, Ways
from fitworth.costing.reliability import expect_failures
from fitworth.errors import InvalidValueError, NotComputableError
from fitworth.vocabulary import Grade, OptionKind, Verdict

MINUTES_PER_HOUR = 60


@dataclass(frozen=True, slots=True, eq=False)
class Option:
    """One way out besides stopping.

    Attributes:
        kind: clean, rebuild or replace.
        attempt: its cost as a first attempt; the option's id stands there.
        purchase: what is bought for it.
        label: the goods' name, "" for a cleaning.
        supplier: who sells them, "" for a cleaning.
        quote_id: None for a cleaning.
        candidate: the part that replaces, else None.
        after_clean: a kit's attempt after a cleaning in vain, else None.
        notes: what to know about it.
    """

    kind: OptionKind
    attempt: Attempt
    purchase: Purchase
    label: str
    supplier: str
    quote_id: int | None
    candidate: Candidate | None
    after_clean: Attempt | None
    notes: tuple[str, ...]


class Workbench:
    """Builds the options of one comparison."""

    def __init__(self, case: ComparisonCase, buyer: Buyer, asked: Asked) -> None:
        self._case, self._buyer, self._asked = case, buyer, asked
        self._parts = case.work.count_parts(case.family.key)
        self._wear = WearBook(case.family, case.machine, self._parts, asked)
        self._failures: dict[Wear, float] = {}
        self._hour = float(case.machine.hour_value)
        self._lost_use = float(case.work.waiting_cost_per_day) * case.work.days_lost_per_failure
        self._done_before_misfit = asked.value("labour_done_before_misfit_shows")
        self._cures: tuple[Cure, Cure] | None = None
        repair = case.family.repair
        table = CURE_TABLES.get(repair.cure_table) if repair is not None else None
        if table is not None:
            self._cures = _find_cures(table, case, asked)
        self._kit_family = repair.kit_family if repair is not None else ""

    @property
    def can_be_saved(self) -> bool:
        """Whether cleaning and kits are ways for this family."""
        return self._cures is not None

    def build_clean(self) -> Option:
        """Return the cleaning of the removed part."""
        cure, _ = self._get_cures()
        labour = self._cost_labour(self._minutes("clean"))
        purchase = self._buyer.buy_nothing()
        attempt = self._build_attempt(
            "clean", purchase, cure.chance, labour, self._wear.get_cured_wear(cure, 0.0), labour_lost=labour
        )
        notes = (f"The finding that decides: {cure.row.replace('_', ' ')}.", *purchase.notes)
        return Option(OptionKind.CLEAN, attempt, purchase, "", "", None, None, None, notes)

    def build_rebuild(self, kit: KitOffer) -> Option:
        """Return the rebuild with a kit, alone and after a cleaning in vain."""
        clean, cure = self._get_cures()
        labour = self._cost_labour(self._minutes("rebuild"))
        purchase = self._buyer.buy(kit.goods, kit.supplier)
        sold = find_grade_sold(kit.grade, kit.condition)
        dead_on_arrival = self._asked.value(f"dead_on_arrival.{self._kit_family}.{sold.value}")
        wear = self._wear.get_cured_wear(cure, dead_on_arrival)

        def attempt(chance: float) -> Attempt:
            """Return the attempt where the kit cures with this chance, given that it serves."""
            failing = 1 - chance * kit.serves
            misfit = (1 - kit.serves) / failing if failing > 0 else 0.0
            built = self._build_attempt(
                f"rebuild:{kit.goods.quote_id}",
                purchase,
                chance * kit.serves,
                labour,
                wear,
                labour_lost=labour * (misfit * self._done_before_misfit + 1 - misfit),
            )
            return replace(built, return_net=float(purchase.return_net) * misfit)

        after = max(0.0, cure.chance - clean.chance) / (1 - clean.chance) if clean.chance < 1 else 0.0
        finding = f"The finding that decides: {cure.row.replace('_', ' ')}."
        notes = (finding, *_list_grade_notes(kit.grade, sold), *purchase.notes)
        return Option(
            OptionKind.REBUILD,
            attempt(cure.chance),
            purchase,
            kit.label,
            kit.supplier.name,
            kit.goods.quote_id,
            None,
            attempt(after),
            notes,
        )

    def build_replace(self, offer: PartOffer, candidate: Candidate, row: int, fit: float) -> Option:
        """Return the replacement by one quote.

        Args:
            offer: the quote.
            candidate: its part.
            row: of the candidate in the belief.
            fit: its fit confidence there.
        """
        minutes = self._case.work.labour_minutes
        labour = self._cost_labour(self._minutes("replace") if minutes is None else minutes)
        purchase = self._buyer.buy(offer.goods, offer.supplier)
        sold = find_grade_sold(candidate.grade, offer.condition)
        work = candidate.with_work
        attempt = self._build_attempt(
            f"replace:{offer.goods.quote_id}",
            purchase,
            fit,
            labour,
            self._wear.get_wear(sold),
            labour_lost=labour * self._done_before_misfit,
        )
        attempt = replace(
            attempt,
            work_share=min(1.0, work.probability / fit) if fit > 0 else 0.0,
            work_cost=self._parts * (self._cost_labour(work.minutes) + float(work.cost)),
            return_net=float(purchase.return_net),
            candidate=row,
        )
        notes = (*_list_fit_notes(candidate), *_list_grade_notes(candidate.grade, sold), *purchase.notes)
        return Option(
            OptionKind.REPLACE,
            attempt,
            purchase,
            candidate.label,
            offer.supplier.name,
            offer.goods.quote_id,
            candidate,
            None,
            notes,
        )

    def _build_attempt(
        self,
        option_id: str,
        purchase: Purchase,
        chance: float,
        labour: float,
        wear: Wear,
        *,
        labour_lost: float,
    ) -> Attempt:
        """Return an attempt without work and without a return."""
        landed, needs = float(purchase.landed), float(purchase.needs_total)
        return Attempt(
            option_id=option_id,
            chance=chance,
            landed=landed,
            missing_needs=needs,
            waiting=purchase.days * float(self._case.work.waiting_cost_per_day),
            work_share=0.0,
            work_cost=0.0,
            labour=labour,
            labour_lost=labour_lost,
            return_net=0.0,
            failure_cost=float(purchase.landed_again) + (needs + labour) / self._parts + self._lost_use,
            failures=self._expect_failures(wear),
            failures_as_oem=self._expect_failures(self._wear.get_wear(Grade.OEM)),
            wear=wear,
        )

    def _expect_failures(self, wear: Wear) -> float:
        if wear not in self._failures:
            self._failures[wear] = wear.parts * expect_failures(wear.reliability, wear.horizon)
        return self._failures[wear]

    def _get_cures(self) -> tuple[Cure, Cure]:
        if self._cures is None:
            raise NotComputableError(
                f"A {self._case.family.label.lower()} cannot be saved by cleaning or a kit."
            )
        return self._cures

    def _minutes(self, action: str) -> float:
        return self._parts * self._asked.value(f"minutes.{self._case.family.key}.{action}")

    def _cost_labour(self, minutes: float) -> float:
        return minutes / MINUTES_PER_HOUR * self._hour


def pose_ways(options: tuple[Option, ...], belief: Belief, stop_cost: float) -> Ways:
    """Return the options as the ways among which chains are sought."""
    clean = next((option.attempt for option in options if option.kind is OptionKind.CLEAN), None)
    return Ways(
        replacements=tuple(option.attempt for option in options if option.kind is OptionKind.REPLACE),
        belief=belief,
        clean=clean,
        kits=tuple(
            KitAttempt(option.attempt, option.after_clean)
            for option in options
            if option.after_clean is not None
        ),
        stop_cost=stop_cost,
    )


def restrict_belief(case: ComparisonCase, positions: list[int]) -> Belief:
    """Return the belief over some of the candidates; without one, each fits on its own."""
    if case.belief is not None:
        return Belief(case.belief.weights, case.belief.fits_given[positions])
    fits = [case.candidates[i].fit_confidence for i in positions]
    return Belief(np.ones(1), np.array(fits, dtype=np.float64).reshape(-1, 1))


def _find_cures(table: CureTable, case: ComparisonCase, asked: Asked) -> tuple[Cure, Cure]:
    """Return what cleaning and a kit promise; faults point to the removed part's condition."""
    try:
        return find_cures(table, case.work.condition, case.work.seat_replaceable, asked)
    except InvalidValueError as error:
        raise InvalidValueError(fault.under("/removed_part/condition") for fault in error.faults) from error


def _list_fit_notes(candidate: Candidate) -> list[str]:
    notes = []
    if candidate.verdict is Verdict.UNCERTAIN:
        notes.append("Whether it fits is uncertain: measure more before you buy.")
    if candidate.with_work.probability > 0 and candidate.with_work.items:
        items = ", ".join(item.replace("_", " ") for item in candidate.with_work.items)
        notes.append(f"It may need work to fit: {items}, {candidate.with_work.minutes:g} min.")
    return notes


def _list_grade_notes(grade: Grade, sold: Grade) -> list[str]:
    return (
        [] if sold is grade else [f"It is sold {sold.value}, and counts as failing as {sold.value} parts do."]
    )
