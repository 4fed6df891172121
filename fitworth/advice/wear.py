"""What the assumptions say of failures: of a part by family and grade, and of a part that was saved."""

import math

from fitworth.advice.assumptions import Asked
from fitworth.advice.case import MachineValues
from fitworth.advice.condition import Cure
from fitworth.costing.expected import Wear
from fitworth.costing.reliability import Reliability, Use, believe_rate
from fitworth.families.model import Family
from fitworth.vocabulary import Condition, Grade, LifeClock

_GRADES_SOLD = {Condition.USED: Grade.USED, Condition.REMANUFACTURED: Grade.REMANUFACTURED}


def find_grade_sold(grade: Grade, condition: Condition) -> Grade:
    """Return the grade that goods fail as: a part that is sold used fails as used ones do, whoever made it.

    >>> find_grade_sold(Grade.OEM, Condition.USED).value, find_grade_sold(Grade.OEM, Condition.NEW).value
    ('used', 'oem')
    """
    return _GRADES_SOLD.get(condition, grade)


class WearBook:
    """The wear of each grade and cure in one comparison, read once from the assumptions."""

    def __init__(self, family: Family, machine: MachineValues, parts: int, asked: Asked) -> None:
        self._family, self._parts, self._asked = family, parts, asked
        history = "history_known" if machine.history_known else "history_unknown"
        self._use = Use(
            seasons=machine.seasons,
            hours_per_season=machine.hours_per_season,
            retired_a_year=asked.value(f"retired_a_year.{history}"),
            reference_hours_a_year=asked.value("reference_hours_a_year"),
        )
        self._strength = asked.value("prior_strength.failure_rate")
        self._fuel_adds = 0.0
        if family.life.clock is LifeClock.CALENDAR:
            winters = asked.value("winters_with_fuel_left_in")
            self._fuel_adds = winters * asked.value(f"fuel_left_in_adds.{family.key}")

    def get_wear(self, grade: Grade) -> Wear:
        """Return how a part of the family and this grade fails over the machine's remaining use."""
        key = f"{self._family.key}.{grade.value}"
        return self._wear(
            self._asked.value(f"dead_on_arrival.{key}"),
            self._asked.value(f"failures_a_year.{key}"),
            self._family.life.clock,
        )

    def get_cured_wear(self, cure: Cure, dead_on_arrival: float) -> Wear:
        """Return how a saved part fails: the rate whose first year fails with the chance of a relapse.

        A season is a year of the calendar here, whatever clock the family goes by.

        Args:
            cure: with the chance of a relapse in a season.
            dead_on_arrival: of the goods of the cure, 0 where there are none.
        """
        return self._wear(dead_on_arrival, -math.log1p(-cure.relapse_a_season), LifeClock.CALENDAR)

    def _wear(self, dead_on_arrival: float, failures_a_year: float, clock: LifeClock) -> Wear:
        rate = believe_rate(failures_a_year + self._fuel_adds, self._strength)
        reliability = Reliability(dead_on_arrival, rate, self._family.life.shape)
        return Wear(reliability, self._use.horizon(clock), self._parts)
