"""What is known of a part's failures, and how many of them to expect.

A part may be dead on arrival (chance p, each time one is bought) and fails with age (Weibull life). Each
failure is made good by the same again, so over a horizon T: installs = (1 + M(T)) / (1 - p), and failures =
installs - 1.
"""

import math
from dataclasses import dataclass

from fitworth.costing.renewal import GammaRate, mean_renewals
from fitworth.errors import Fault, InvalidValueError, raise_faults
from fitworth.vocabulary import LifeClock


@dataclass(frozen=True, slots=True)
class Reliability:
    """How a part fails.

    Attributes:
        dead_on_arrival: chance that one does not work when it comes, from 0 to below 1.
        failure_rate: of lambda = scale ** -shape [1 / year ** shape]; for a life by hours the year is
            one of the reference hours.
        weibull_shape: of the life; 1 is a steady rate, above 1 wear, below 1 early failures.
    """

    dead_on_arrival: float
    failure_rate: GammaRate
    weibull_shape: float

    def __post_init__(self) -> None:
        """Refuse a chance that would need endless parts."""
        raise_faults(
            [Fault("/dead_on_arrival", f"a chance of 0 to below 1 is needed, not {self.dead_on_arrival}")]
            if not 0 <= self.dead_on_arrival < 1
            else []
        )


@dataclass(frozen=True, slots=True)
class Use:
    """How long and how hard a machine will be used.

    Attributes:
        seasons: planned, one a year, from 0.
        hours_per_season: running hours [h], from 0.
        retired_a_year: chance that the machine goes out of use in a year for another reason, 0 to below 1.
        reference_hours_a_year: the use that failure rates by hours refer to [h], above 0.
    """

    seasons: float
    hours_per_season: float
    retired_a_year: float
    reference_hours_a_year: float

    def __post_init__(self) -> None:
        """Refuse what no machine does, all at once."""
        sound = (
            ("seasons", self.seasons, 0 <= self.seasons < math.inf, "from 0"),
            ("hours_per_season", self.hours_per_season, 0 <= self.hours_per_season < math.inf, "from 0"),
            ("retired_a_year", self.retired_a_year, 0 <= self.retired_a_year < 1, "from 0 to below 1"),
            (
                "reference_hours_a_year",
                self.reference_hours_a_year,
                0 < self.reference_hours_a_year < math.inf,
                "above 0",
            ),
        )
        raise_faults(
            Fault(f"/{name}", f"a number {range_text} is needed, not {value}")
            for name, value, ok, range_text in sound
            if not ok
        )

    @property
    def seasons_in_use(self) -> float:
        """The seasons that the machine is expected to see: 1 + (1 - q) + (1 - q) ** 2 ..., the last in part.

        Own choice, because a part's failures after the machine is gone cost nobody anything, and the expected
        seasons keep one horizon for all options. Machines go out of use between seasons, so that a plan of
        less than one season is seen to its end.
        """
        if self.retired_a_year == 0:
            return self.seasons
        whole = math.floor(self.seasons)
        staying = math.pow(1 - self.retired_a_year, whole)
        return (1 - staying) / self.retired_a_year + (self.seasons - whole) * staying

    def horizon(self, clock: LifeClock) -> float:
        """Return the planning horizon in the unit of the failure rates [year, or year of reference hours]."""
        if clock is LifeClock.CALENDAR:
            return self.seasons_in_use
        return self.seasons_in_use * self.hours_per_season / self.reference_hours_a_year


def believe_rate(failures_a_year: float, strength_failures: float) -> GammaRate:
    """Return the gamma distribution with this mean, as sure as if so many failures had been seen.

    Args:
        failures_a_year: expected failures of the first year [1/year], above 0.
        strength_failures: how many failures the belief is worth [1], above 0.

    Source: the gamma prior of the NIST/SEMATECH e-Handbook, 8.4.6: shape = failures, rate = time on test.
    """
    if not failures_a_year > 0:
        raise InvalidValueError(f"a failure rate must be above 0, not {failures_a_year}")
    return GammaRate(strength_failures, strength_failures / failures_a_year)


def expect_failures(reliability: Reliability, horizon: float) -> float:
    """Return the expected number of failures over a horizon, parts dead on arrival included, from 0.

    Args:
        reliability: of the part.
        horizon: [unit of the failure rate], from 0.

    Raises:
        InvalidValueError: a negative horizon, or a Weibull shape outside 0.3 to 10.

    >>> expect_failures(Reliability(0.5, GammaRate(2, 20), 1.0), 0.0)
    1.0
    """
    renewals = mean_renewals(reliability.failure_rate, reliability.weibull_shape, horizon)
    return (1 + renewals) / (1 - reliability.dead_on_arrival) - 1
