"""What truly fits: for each part on file, the sizes of removed parts that it can stand in for.

Written from the families' rules alone and independent of the match, so that one can be checked by the other.
A candidate of size x does the job of a removed part of size z where x - z is allowed; solved for z that is a
window. Where a cure bridges more, the window is what allowance and cure cover together.
"""

import math

import numpy as np
import numpy.typing as npt

from fitworth.families.model import Accepts, BoltPlay, Dimension, Equal, Interval, Percent
from fitworth.vocabulary import Kind

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Mask = npt.NDArray[np.bool_]

BOLT_PLAY_MM = 0.5
"""[mm] either way, for two bolts whose holes nobody measured: what the program says that it assumes."""


def ends_mm(dimension: Dimension, size_mm: float) -> tuple[float, float]:
    """Return the allowance for a removed part of one size, candidate minus removed [mm]."""
    match dimension.allowance:
        case Interval(low, high):
            return low, high
        case Percent(low, high):
            return low * size_mm / 100.0, high * size_mm / 100.0
        case BoltPlay():
            return -BOLT_PLAY_MM, BOLT_PLAY_MM
        case other:
            raise TypeError(f"{dimension.key}: the worlds have no lengths with the allowance {other}")


def window_mm(dimension: Dimension, size_mm: Floats, cured: bool) -> tuple[Floats, Floats]:
    """Return the least and greatest size of removed parts that parts of these sizes can stand in for [mm].

    Args:
        dimension: a length.
        size_mm: (n,) true sizes of the parts on file.
        cured: whether what the cure bridges counts.
    """
    if isinstance(dimension.allowance, Percent):
        least = size_mm / (1.0 + dimension.allowance.high / 100.0)
        greatest = size_mm / (1.0 + dimension.allowance.low / 100.0)
    else:
        low, high = ends_mm(dimension, math.nan)
        least, greatest = size_mm - high, size_mm - low
    if dimension.cure and cured:
        if isinstance(dimension.allowance, Percent) or dimension.cure.low > high or dimension.cure.high < low:
            raise TypeError(f"{dimension.key}: allowance and cure leave a gap between them")
        least = np.minimum(least, size_mm - dimension.cure.high)
        greatest = np.maximum(greatest, size_mm - dimension.cure.low)
    return least, greatest


def word_table(dimension: Dimension, words: tuple[object, ...], cured: bool) -> Mask:
    """Return whether a candidate with the word of a row does the job of a removed part with that of a column.

    Args:
        dimension: a choice, flag or count.
        words: its possible values.
        cured: whether what the cure bridges counts.
    """
    if dimension.kind is Kind.COUNT and not isinstance(dimension.allowance, Equal):
        raise TypeError(f"{dimension.key}: the worlds know counts only that must be equal")
    table = np.eye(len(words), dtype=np.bool_)
    if isinstance(dimension.allowance, Accepts):
        for place, removed in enumerate(words):
            accepted = dimension.allowance.table.get(str(removed), frozenset((str(removed),)))
            table[:, place] = [str(candidate) in accepted for candidate in words]
    if dimension.cure and cured:
        table[:] = True
    return table


def twin_shifts_mm(dimension: Dimension, centre_mm: Floats, factors: tuple[float, ...]) -> Floats:
    """Return by how much a near twin's design may differ from its pattern, (n, 2 * n_factors) [mm].

    Each factor times the end of the allowance on that side; where that is infinite or none, the other end.

    Args:
        dimension: a length.
        centre_mm: (n,) the patterns' sizes.
        factors: in allowances.
    """
    shifts = np.empty((len(centre_mm), 2 * len(factors)))
    for row, size in enumerate(centre_mm):
        low, high = (abs(end) if 0.0 < abs(end) < math.inf else math.nan for end in ends_mm(dimension, size))
        down, up = (high if math.isnan(low) else low), (low if math.isnan(high) else high)
        shifts[row] = [*(-down * factor for factor in factors), *(up * factor for factor in factors)]
    if np.isnan(shifts).any():
        raise TypeError(f"{dimension.key}: an allowance without a finite end has no near twins")
    return shifts
