"""The expected cost of one attempt at the repair, in lines, and of a chain of attempts.

An attempt succeeds (the part fits, the cure holds) with a chance, else the next attempt of its chain follows;
a chain whose last attempt fails ends in stopping. All amounts are in one currency, as plain numbers until
they are rounded line by line: the rounded lines add up to the rounded cost.
"""

from dataclasses import dataclass
from decimal import Decimal

from fitworth.costing.landed import CostLine
from fitworth.costing.reliability import Reliability
from fitworth.quantities.money import round_money


@dataclass(frozen=True, slots=True)
class Wear:
    """How the parts of an attempt fail over the planning horizon [unit of its failure rate]."""

    reliability: Reliability
    horizon: float
    parts: int = 1


@dataclass(frozen=True, slots=True)
class Attempt:
    """One way to get the machine running, as it is costed; amounts in the comparison's currency.

    Attributes:
        option_id: which option it is.
        chance: that it succeeds, given that the attempts before it in its chain failed.
        landed: paid until its goods are on the bench, whether or not it succeeds.
        missing_needs: paid for what its box lacks, whether or not it succeeds.
        waiting: cost of the days until its goods are there.
        work_share: chance that it succeeds only after extra work, given that it succeeds.
        work_cost: of that work, goods included.
        labour: of doing it, where it succeeds.
        labour_lost: of what was done in vain, where it fails.
        return_net: postage and restocking less refund where sending back pays, else 0; at most 0.
        failure_cost: of making one later failure good: the same part again, its labour, lost use.
        failures: expected failures of all its parts over the horizon, where it succeeds.
        failures_as_oem: those with the family's OEM grade.
        wear: what `failures` were reckoned from.
        candidate: row of the belief, or None where the chance does not depend on the removed part's design.
    """

    option_id: str
    chance: float
    landed: float
    missing_needs: float
    waiting: float
    work_share: float
    work_cost: float
    labour: float
    labour_lost: float
    return_net: float
    failure_cost: float
    failures: float
    failures_as_oem: float
    wear: Wear
    candidate: int | None = None

    @property
    def paid_anyway(self) -> float:
        """What it costs whether or not it succeeds."""
        return self.landed + self.missing_needs + self.waiting

    @property
    def paid_on_success(self) -> float:
        """What it costs besides where it succeeds, in expectation."""
        return self.work_share * self.work_cost + self.labour + self.failures * self.failure_cost

    @property
    def paid_on_failure(self) -> float:
        """What it costs besides where it fails, the next attempt not counted."""
        return self.return_net + self.labour_lost

    def expected_cost(self, fallback_cost: float) -> float:
        """Return its expected cost where failure is followed by something of this cost."""
        failing = (1 - self.chance) * (self.paid_on_failure + fallback_cost)
        return self.paid_anyway + self.chance * self.paid_on_success + failing


Chain = tuple[Attempt, ...]
"""Attempts in the order in which they are tried; after the last one comes stopping."""


def cost_chain(chain: Chain, stop_cost: float) -> float:
    """Return the expected cost of a chain; an empty one is stopping.

    Args:
        chain: each attempt's chance given the failure of those before it.
        stop_cost: gain forgone by stopping [currency].
    """
    cost = stop_cost
    for attempt in reversed(chain):
        cost = attempt.expected_cost(cost)
    return cost


def list_lines(chain: Chain, stop_cost: float, currency: str) -> tuple[CostLine, ...]:
    """Return the cost lines of a chain's first attempt, each rounded; the rest stands in `wrong_part`.

    `failures_as_oem` and `reliability_penalty` split the cost of failures at this attempt's own replacement
    cost, so that an OEM part's penalty is 0 and needs no OEM quote.

    Args:
        chain: at least one attempt.
        stop_cost: gain forgone by stopping [currency].
        currency: whose minor unit the lines are rounded to.
    """
    first, rest = chain[0], chain[1:]
    wrong = (1 - first.chance) * (first.paid_on_failure + cost_chain(rest, stop_cost))
    as_oem = first.chance * first.failures_as_oem * first.failure_cost
    penalty = first.chance * (first.failures - first.failures_as_oem) * first.failure_cost
    lines = (
        ("landed", first.landed),
        ("missing_needs", first.missing_needs),
        ("work", first.chance * first.work_share * first.work_cost),
        ("labour", first.chance * first.labour),
        ("wrong_part", wrong),
        ("failures_as_oem", as_oem),
        ("reliability_penalty", penalty),
        ("waiting", first.waiting),
    )
    return tuple(CostLine(line, to_money(amount, currency)) for line, amount in lines)


def to_money(amount: float, currency: str) -> Decimal:
    """Return a computed amount in the currency's minor unit, never as a negative zero."""
    return round_money(Decimal(amount), currency) + 0
