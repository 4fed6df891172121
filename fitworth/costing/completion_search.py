"""Exact search for the cheapest cover of needs by offers whose parcels share their delivery.

A cover is a count of units for each candidate such that every need is met. Only covers without a superfluous
unit count (own choice: nothing is bought that no need asks for, not even to reach free delivery). The search
goes need by need, branches on the candidates that cover it, and leaves a branch once its lower bound is not
below the best cover found: the result equals that of trying all covers. Needs of many units from many parcels
can ask for more than anybody waits for: such a search ends early, with the best found so far, and says so.
"""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class SearchModel:
    """Numbers that tune the search; own choices."""

    most_branches: int = (
        20_000  # beyond which the best found stands: about 0.1 s; usual jobs take some hundred
    )


MODEL = SearchModel()

Picks = tuple[tuple[int, int], ...]
"""Candidates and their counts, by rising candidate."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """One offer as the search sees it.

    Attributes:
        covers: the needs of which one unit covers one each.
        parcel: the parcel that it travels in.
        least_cost: lower bound of what one unit adds to its parcel, delivery not counted [currency].
    """

    covers: frozenset[int]
    parcel: int
    least_cost: float


@dataclass(frozen=True, slots=True)
class Delivery:
    """A lower bound of one method's charge, and the goods sum from which it asks nothing [currency]."""

    charge: float
    free_from: float


@dataclass(frozen=True, slots=True)
class ParcelPrice:
    """What a parcel costs [currency] and its days from order to bench [d]."""

    cost: Decimal
    days: float


@dataclass(frozen=True, slots=True)
class SentParcel:
    """A parcel of a cover, with its picks and its price."""

    parcel: int
    picks: Picks
    price: ParcelPrice


Cover = tuple[SentParcel, ...]
"""The parcels that together meet every need."""


@dataclass(frozen=True, slots=True)
class Problem:
    """What is to be covered, by what, at which price.

    Attributes:
        demands: units of each need, 1 or more.
        candidates: the offers; those that come first are tried first.
        deliveries: of each parcel, what its methods charge.
        start_sums: of each parcel, lower bound of the goods that travel in it anyway [currency].
        base_cost: lower bound of the waiting, less what the option's own parcel costs alone [currency].
        slack: how far rounding may push a cost below its bound [currency].
        price: the price of a parcel with these picks, or None where it cannot be sent.
        waiting_cost_per_day: what each day until the last parcel costs [currency].
        own_parcel: the parcel that goes anyway, if any offer can travel in it.
        own_days: until that parcel, or one that no offer travels in, is on the bench [d].
    """

    demands: tuple[int, ...]
    candidates: tuple[Candidate, ...]
    deliveries: tuple[tuple[Delivery, ...], ...]
    start_sums: tuple[float, ...]
    base_cost: float
    slack: float
    price: Callable[[int, Picks], ParcelPrice | None]
    waiting_cost_per_day: Decimal
    own_parcel: int | None
    own_days: float


@dataclass(slots=True)
class _Search:
    problem: Problem
    covering: list[list[int]] = field(init=False)
    least_share: list[float] = field(init=False)
    counts: list[int] = field(init=False)
    remaining: list[int] = field(init=False)
    least_delivery: list[float] = field(init=False)
    sums: list[float] = field(init=False)
    opened: list[int] = field(init=False)
    best: Cover | None = None
    best_cost: Decimal = Decimal("Infinity")
    limit: float = float("inf")
    visited: int = 0

    @property
    def is_spent(self) -> bool:
        """Whether a cover was found and the search has gone on for long enough."""
        return self.best is not None and self.visited > MODEL.most_branches

    def __post_init__(self) -> None:
        candidates, needs = self.problem.candidates, range(len(self.problem.demands))
        self.covering = [[j for j, one in enumerate(candidates) if need in one.covers] for need in needs]
        self.least_share = [
            min(candidates[j].least_cost / len(candidates[j].covers) for j in covering)
            for covering in self.covering
        ]
        self.counts = [0] * len(candidates)
        self.remaining = list(self.problem.demands)
        self.least_delivery = [
            min(0.0 if math.isfinite(way.free_from) else way.charge for way in ways)
            for ways in self.problem.deliveries
        ]
        self.sums = list(self.problem.start_sums)
        self.opened = [int(parcel == self.problem.own_parcel) for parcel in range(len(self.sums))]

    def run(self) -> None:
        """Try every way to cover the needs, unit by unit; as a loop, for needs may ask for thousands."""
        branches = [self._list_branches(-1, 0)]
        path: list[int] = []
        while branches and not self.is_spent:
            step = next(branches[-1], None)
            if step is not None:
                need, j = step
                self._count(j, 1)
                path.append(j)
                branches.append(self._list_branches(need, j))
                continue
            branches.pop()
            if path:
                self._count(path.pop(), -1)

    def _list_branches(self, last_need: int, first: int) -> Iterator[tuple[int, int]]:
        """Return the need to cover next with each candidate for its next unit; none where the branch ends.

        `first` keeps the units of one need in one order.
        """
        self.visited += 1
        if self._bound() >= self.limit:
            return iter(())
        need = min(
            (need for need, left in enumerate(self.remaining) if left > 0),
            key=lambda need: (len(self.covering[need]), need),
            default=None,
        )
        if need is None:
            self._settle()
            return iter(())
        return iter([(need, j) for j in self.covering[need] if need != last_need or j >= first])

    def _bound(self) -> float:
        """Return a lower bound of every cover that has these counts at least.

        A parcel's cost never falls as goods are added, and grows by no more than they cost only up to the sum
        that makes delivery free. So both are bounds: what the parcels cost now, and the goods of now and of
        what remains with the least delivery.
        """
        now = filled = self.problem.base_cost
        for parcel, goods in enumerate(self.sums):
            if self.opened[parcel]:
                deliveries = self.problem.deliveries[parcel]
                now += min(min(goods + way.charge, max(goods, way.free_from)) for way in deliveries)
                filled += goods + self.least_delivery[parcel]
        for left, share in zip(self.remaining, self.least_share, strict=True):
            if left > 0:
                filled += left * share
        return max(now, filled)

    def _count(self, j: int, step: int) -> None:
        chosen = self.problem.candidates[j]
        self.counts[j] += step
        self.opened[chosen.parcel] += step
        self.sums[chosen.parcel] += step * chosen.least_cost
        for need in chosen.covers:
            self.remaining[need] -= step

    def _settle(self) -> None:
        picks = tuple((j, count) for j, count in enumerate(self.counts) if count)
        # Every unit must be the last but for which some need would be short.
        if any(all(self.remaining[need] < 0 for need in self.problem.candidates[j].covers) for j, _ in picks):
            return
        cover = _price_picks(self.problem, picks)
        if cover is None:
            return
        waiting = self.problem.waiting_cost_per_day * Decimal(find_last_days(self.problem, cover))
        cost = sum((sent.price.cost for sent in cover), waiting)
        if cost < self.best_cost:
            self.best, self.best_cost = cover, cost
            self.limit = float(cost) + self.problem.slack


@dataclass(frozen=True, slots=True)
class Cheapest:
    """The cheapest cover, or None where no cover can be sent; `proven` where no other can be cheaper."""

    cover: Cover | None
    proven: bool


def find_cheapest(problem: Problem) -> Cheapest:
    """Return the cheapest cover without a superfluous unit; of those that cost the same, the first found."""
    search = _Search(problem)
    search.run()
    return Cheapest(search.best, not search.is_spent)


def find_last_days(problem: Problem, cover: Cover) -> float:
    """Return the days until the last parcel, the option's own too, is on the bench [d]."""
    own_is_in = any(sent.parcel == problem.own_parcel for sent in cover)
    return max([0.0 if own_is_in else problem.own_days, *(sent.price.days for sent in cover)])


def _price_picks(problem: Problem, picks: Picks) -> Cover | None:
    parcels: dict[int, Picks] = {}
    for j, count in picks:
        parcel = problem.candidates[j].parcel
        parcels[parcel] = (*parcels.get(parcel, ()), (j, count))
    cover: list[SentParcel] = []
    for parcel, its_picks in parcels.items():
        price = problem.price(parcel, its_picks)
        if price is None:
            return None
        cover.append(SentParcel(parcel, its_picks, price))
    return tuple(cover)
