"""How likely a new design is to have a given size or word, from the designs on file.

Makers share popular sizes: a third of all designs may have one bolt spacing to the hundredth, and the others
are spread. So the sizes of designs follow a Pitman-Yor process (J. Pitman and M. Yor, Annals of Probability
25 (1997), 855-900; attribution from memory): the next design takes a size that n_v of n designs have with
probability (n_v - d) / (n + t), and otherwise a fresh one from a smooth density. The discount d is estimated
as the share of distinct sizes that only one design has, to which it tends in long lists. So a size that one
design alone has, perhaps a slip, makes no peak for others.
"""

import math
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
from scipy.ndimage import gaussian_filter1d

from fitworth.matching.answer import Floats

STRENGTH = 1.0  # t of the Pitman-Yor process; own choice
LEAST_DISCOUNT, MOST_DISCOUNT = 0.1, 0.95  # own choice: never all peaks, never none
STEPS_A_KERNEL = 3.0  # grid steps in the narrowest kernel, so that interpolation is good to a percent
MOST_STEPS = 100_000  # of the grid; a dimension with absurd entries gets a coarser one
MOST_BEYOND = 0.5  # of the fresh sizes; so much lies anywhere where one design alone is on file
LEAST_BEYOND = 0.1  # share of the fresh sizes that lies anywhere, far from all on file
SPREAD_QUANTILES = (0.05, 0.95)
WIDE_SCALE = 0.3  # of the spread; a t density of that scale is about as high as a uniform one over the spread
LEAST_DENSITY = 1e-20  # keeps a ratio of two densities finite, however absurd the entry
APART = 3.0  # standard uncertainties between two distinct sizes
USUAL = 1.5  # spreads from the centre within which sizes count
REACH = 4.0  # kernels beyond the outermost size that the grid spans
LEAST_WIDTH = 0.3  # grid steps of the narrowest kernel
CLASS = 1.25  # factor between the uncertainties for which kernels are kept
LOG_CLASS = math.log(CLASS)


@dataclass(frozen=True, slots=True)
class Wide:
    """A dimension over all designs: Student's t with 3 degrees of freedom.

    Attributes:
        centre: the median of what is listed [unit].
        spread: from the 5th to the 95th percentile, stretched to the whole [unit].
    """

    centre: float
    spread: float

    def density(self, value: npt.ArrayLike, u: npt.ArrayLike) -> Floats:
        """Return the density at a reading with a standard uncertainty [1/unit]."""
        far = np.asarray(value, np.float64) - self.centre
        scale = np.hypot(WIDE_SCALE * self.spread, u)
        return np.maximum(student_density(far, scale), LEAST_DENSITY)


def student_density(far: Floats, scale: npt.ArrayLike) -> Floats:
    """Return the density of Student's t with 3 degrees of freedom, `far` from its centre [1/unit]."""
    width = np.asarray(scale)
    return np.asarray(6.0 * math.sqrt(3.0) / (math.pi * width * (3.0 + (far / width) ** 2) ** 2))


def wide_of(listed: Floats, least_spread: float) -> Wide:
    """Return the spread of some sizes.

    Args:
        listed: (n,) at least one [unit].
        least_spread: share of the median that a dimension is taken to vary at least; a short list shows too
            little of it.
    """
    low, centre, high = np.quantile(listed, (SPREAD_QUANTILES[0], 0.5, SPREAD_QUANTILES[1])).tolist()
    whole = (high - low) / (SPREAD_QUANTILES[1] - SPREAD_QUANTILES[0])
    return Wide(centre, max(whole, least_spread * abs(centre), least_spread))


@dataclass(slots=True)
class Sizes:
    """The sizes of designs in one numeric dimension.

    Attributes:
        wide: the dimension over all designs; where gross errors land.
        low: the grid's first size [unit].
        step: the grid's step [unit].
        peaks: (n_grid,) popular sizes, not yet smoothed [1/unit].
        smooth: (n_grid,) density of fresh sizes [1/unit].
        beyond: share that lies anywhere.
    """

    wide: Wide
    low: float
    step: float
    peaks: Floats
    smooth: Floats
    beyond: float
    kept: dict[int, Floats] = field(default_factory=dict)

    def density(self, value: npt.ArrayLike, u: npt.ArrayLike) -> Floats:
        """Return the density of reading a new design's size with a standard uncertainty [1/unit].

        Args:
            value: any shape [unit].
            u: of the reading and the makers' scatter together [unit]; one for all, or one for each.
        """
        x = np.asarray(value, np.float64)
        classes = np.round(np.log(np.asarray(u, np.float64)) / LOG_CLASS).astype(np.int64)
        found = np.empty(np.broadcast_shapes(x.shape, classes.shape))
        first = classes.flat[0] if classes.size else 0
        if (classes == first).all():
            found[...] = self._with_kernel(x, int(first))
        else:
            x, classes = np.broadcast_arrays(x, classes)
            for one in np.unique(classes).tolist():
                some = classes == one
                found[some] = self._with_kernel(x[some], one)
        return found + self.beyond * self.wide.density(x, u)

    def _with_kernel(self, x: Floats, class_: int) -> Floats:
        grid = self.kept.get(class_)
        if grid is None:
            # Beyond the grid's own length a kernel is flat, and would only cost memory.
            width = min(max(CLASS**class_ / self.step, LEAST_WIDTH), len(self.peaks) / REACH)
            blurred = gaussian_filter1d(self.peaks, width, mode="constant")
            grid = self.kept[class_] = blurred + self.smooth
        place = (x - self.low) / self.step
        inside = (place >= 0.0) & (place < len(grid) - 1)
        place = np.where(inside, place, 0.0)
        below = place.astype(np.int64)
        share = place - below
        return np.asarray(np.where(inside, grid[below] * (1.0 - share) + grid[below + 1] * share, 0.0))

    def gross(self, value: npt.ArrayLike, u: npt.ArrayLike) -> Floats:
        """Return the density of a gross error [1/unit]: it lands anywhere."""
        return self.wide.density(value, u)


@dataclass(frozen=True, slots=True)
class Words:
    """The words of designs in one dimension that is no number.

    Attributes:
        shares: (n_words,) by code; the last is that of a word on no file.
    """

    shares: Floats

    def density(self, value: npt.ArrayLike, u: npt.ArrayLike) -> Floats:  # noqa: ARG002  # as for sizes
        """Return the probability of a code; an unknown one has the last share."""
        codes = np.nan_to_num(np.asarray(value, np.float64), nan=-1.0).astype(np.int64)
        return np.asarray(self.shares[np.where((codes < 0) | (codes >= len(self.shares)), -1, codes)])

    def gross(self, value: npt.ArrayLike, u: npt.ArrayLike) -> Floats:
        """Return the probability of a code seen wrongly: as often as it is seen at all."""
        return self.density(value, u)


def distinct_sizes(listed: Floats, u: float) -> Floats:
    """Return the centres of the distinct sizes among some, farther apart than uncertainty explains [unit].

    Args:
        listed: (n,) at least one [unit].
        u: standard uncertainty of a listed size with the makers' scatter [unit].
    """
    size = np.sort(listed)
    first = np.flatnonzero(np.diff(size, prepend=-np.inf) > APART * u)
    return np.asarray(np.add.reduceat(size, first) / np.diff(np.append(first, len(size))))


def sizes_of(listed: Floats, least_spread: float, u: float) -> Sizes:
    """Return the sizes of designs in one dimension.

    Args:
        listed: (n,) one size of each design, at least one [unit].
        least_spread: share of the median that a dimension is taken to vary at least.
        u: standard uncertainty of a listed size with the makers' scatter [unit].
    """
    wide = wide_of(listed, least_spread)
    # What lies far out is likelier a slip than a design, and must not make itself usual.
    size = np.sort(listed[np.abs(listed - wide.centre) <= USUAL * wide.spread])
    first = np.flatnonzero(np.diff(size, prepend=-np.inf) > APART * u)
    designs = np.diff(np.append(first, len(size)))
    centre = np.add.reduceat(size, first) / designs
    alone = int((designs == 1).sum())
    discount = min(max((alone + 1.0) / (len(designs) + 2.0), LEAST_DISCOUNT), MOST_DISCOUNT)
    popular = np.maximum(designs - discount, 0.0) / (len(size) + STRENGTH)
    fresh = 1.0 - float(popular.sum())
    # Silverman's rule (B. W. Silverman, Density Estimation, 1986, eq. 3.31; from memory).
    kernel = max(0.9 * min(float(size.std()), wide.spread / 3.0) * len(designs) ** -0.2, 3.0 * u)
    low, high = float(size[0]) - REACH * kernel, float(size[-1]) + REACH * kernel
    step = max(u / STEPS_A_KERNEL, (high - low) / MOST_STEPS)
    count = int((high - low) / step) + 2
    place = ((centre - low) / step + 0.5).astype(np.int64)
    peaks = np.bincount(place, weights=popular, minlength=count) / step
    # Of n sizes in no order the next is the largest or the smallest with probability 2 / (n + 1).
    beyond = min(MOST_BEYOND, max(LEAST_BEYOND, 2.0 / (len(designs) + 1.0)))
    # A wide kernel needs no fine grid: it is summed on a coarse one.
    coarse = np.arange(low, high + kernel, kernel / STEPS_A_KERNEL)
    far = (coarse[:, None] - centre) / kernel
    each = np.exp(-0.5 * far * far).sum(axis=1) / (math.sqrt(2.0 * math.pi) * kernel * len(designs))
    smooth = (1.0 - beyond) * fresh * np.interp(low + step * np.arange(count), coarse, each)
    return Sizes(wide, low, step, peaks, smooth, beyond * fresh)


def words_of(codes: Floats, choices: int) -> Words:
    """Return the words of designs in one dimension.

    Args:
        codes: (n,) one code of each design.
        choices: how many words the dimension has; 0 where any text goes.
    """
    known = max(choices, int(codes.max(initial=-1.0)) + 1)
    counts = np.bincount(codes.astype(np.int64), minlength=known + 1) + 0.5
    return Words(counts / counts.sum())
