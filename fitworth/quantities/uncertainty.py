"""Standard uncertainty: of an interval, of repeated readings, of several sources together.

All after the Guide to the expression of uncertainty in measurement (GUM, JCGM 100:2008).
"""

import math
import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fitworth.quantities.quantity import SQRT3


@dataclass(frozen=True, slots=True)
class Component:
    """One source of uncertainty.

    Attributes:
        standard_uncertainty: one standard deviation [unit of the value].
        degrees_of_freedom: how well that is itself known; infinite for a stated limit.
    """

    standard_uncertainty: float
    degrees_of_freedom: float = math.inf


def rectangular(half_width: float) -> Component:
    """Return the component of a value known to lie within a half-width, nothing said about where.

    The standard uncertainty is a / sqrt(3): GUM 4.3.7.

    Args:
        half_width: a [unit of the value], at least 0.
    """
    return Component(half_width / SQRT3)


def repeated(readings: Sequence[float]) -> Component:
    """Return the type A component of the mean of repeated readings.

    s / sqrt(n) with n - 1 degrees of freedom, GUM 4.2.3. A single reading says nothing about its own scatter:
    its component is 0.

    Args:
        readings: (n,) values in one unit, n at least 1.
    """
    n = len(readings)
    if n == 1:
        return Component(0.0)
    return Component(statistics.stdev(readings) / math.sqrt(n), n - 1)


def combine(components: Iterable[Component]) -> Component:
    """Return independent components combined, with the effective degrees of freedom.

    Root sum of squares, GUM 5.1.2 with sensitivity coefficients already applied; degrees of freedom by the
    Welch-Satterthwaite formula, GUM G.4.1.

    Args:
        components: independent sources in one unit.

    Examples:
        >>> round(combine([Component(3.0), Component(4.0, 10)]).standard_uncertainty, 6)
        5.0
    """
    parts = tuple(components)
    total = math.hypot(*(part.standard_uncertainty for part in parts))
    if total == 0.0:
        return Component(0.0)
    shares = sum((part.standard_uncertainty / total) ** 4 / part.degrees_of_freedom for part in parts)
    return Component(total, 1.0 / shares if shares > 0.0 else math.inf)
