"""Parts on file whose sizes have a proportion that no other part of the family has.

A family file says which proportions are usual. The logarithm of a sound proportion follows Student's t with 3
degrees of freedom, the usual range its middle 95 %; what the parts on file have counts beside it, so that an
odd proportion that several parts share is sound. With a wrong entry on either side it lies anywhere, within a
factor of ten or so of what is usual.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

import numpy as np

from fitworth.families.model import Ratio
from fitworth.matching.answer import Floats, Ints
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.doubtful_entry import DoubtfulEntry
from fitworth.matching.entry_slips import DoubtModel
from fitworth.matching.groups.sizes import student_density
from fitworth.matching.proportions import is_unit_slip, say_odd_proportion
from fitworth.matching.supposed import listed_values
from fitworth.vocabulary import Doubt, EntrySlip

if TYPE_CHECKING:
    from fitworth.quantities.quantity import Quantity

MIDDLE_95 = 3.182  # quantile of Student's t with 3 degrees of freedom, two-sided; any table has it
SLACK = 2.0  # standard uncertainties by which a proportion must be out, as for measurements
DIGITS = 6  # of a probability


@dataclass(frozen=True, slots=True)
class _Found:
    """The proportions of the parts that list both sizes.

    Attributes:
        rows: (n,) of the catalogue.
        log: (n,) natural logarithm of the proportion.
        u: (n,) its standard uncertainty.
    """

    rows: Ints
    log: Floats
    u: Floats


def list_doubtful_proportions(
    catalogue: Catalogue, gross: float, doubts: DoubtModel
) -> Iterator[DoubtfulEntry]:
    """Yield the proportions of parts on file that are probably wrong.

    Args:
        catalogue: the parts.
        gross: share of listed numbers that are wrong.
        doubts: by which entries are doubted.
    """
    for ratio in catalogue.family.ratios:
        found = _proportions(catalogue, ratio)
        probability = _chance_wrong(found, ratio, gross, doubts)
        beyond = (found.log < math.log(ratio.low) - SLACK * found.u) | (
            found.log > math.log(ratio.high) + SLACK * found.u
        )
        for at in np.flatnonzero(beyond & (probability >= doubts.least_probability)).tolist():
            yield _entry(catalogue, ratio, int(found.rows[at]), float(probability[at]))


def _proportions(catalogue: Catalogue, ratio: Ratio) -> _Found:
    (above, above_u), (below, below_u) = (
        catalogue.numbers(key) for key in (ratio.numerator, ratio.denominator)
    )
    rows = np.flatnonzero((above > 0.0) & (below > 0.0))
    sizes = [column[rows].astype(np.float64) for column in (above, above_u, below, below_u)]
    return _Found(rows, np.log(sizes[0] / sizes[2]), np.hypot(sizes[1] / sizes[0], sizes[3] / sizes[2]))


def _chance_wrong(found: _Found, ratio: Ratio, gross: float, doubts: DoubtModel) -> Floats:
    """Return the probability that either size is wrong, (n,)."""
    low, high = math.log(ratio.low), math.log(ratio.high)
    off = found.log - (low + high) / 2.0
    usual = student_density(off, (high - low) / 2.0 / MIDDLE_95)
    ordered = np.sort(found.log)
    width = SLACK * found.u + 1e-6  # two exact sizes are alike to the last digit that is stored
    alike = np.searchsorted(ordered, found.log + width, "right") - np.searchsorted(ordered, found.log - width)
    seen = np.maximum(alike - 1 - doubts.ratio_spare, 0) / (2.0 * width)
    sound = (doubts.ratio_weight * usual + seen) / (doubts.ratio_weight + len(found.log))
    either = 2.0 * gross
    astray = either * student_density(off, doubts.ratio_error)
    return np.asarray(np.round(astray / (astray + (1.0 - either) * sound), DIGITS))


def _entry(catalogue: Catalogue, ratio: Ratio, row: int, probability: float) -> DoubtfulEntry:
    family = catalogue.family
    above, below = (
        cast("Quantity", listed_values(catalogue, family.by_key[key], np.array([row]))[0])
        for key in (ratio.numerator, ratio.denominator)
    )
    return DoubtfulEntry(
        part_id=int(catalogue.ids[row]),
        doubt=Doubt.PROPORTION,
        keys=(ratio.numerator, ratio.denominator),
        listed=(above, below),
        supposed=None,
        say_so=0,
        probability=probability,
        slip=EntrySlip.INCHES if is_unit_slip(ratio, above.value / below.value) else None,
        says=say_odd_proportion(family, ratio, above, below),
    )
