"""One removed part's true size in one dimension, before and after it is read: sums of normals, all exact.

A size is a centre plus scatter (a normal mixture); a reading is the size plus a normal error or, if it is
gross, any size of the dimension's range. So the joint probability of a reading and of the size lying in a
window is a sum of two products of a density with a difference of normal distribution functions.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from tests.benchmarks.fit_quality.windows import Floats, Ints

Window = tuple[Floats, Floats]
SQRT_2PI = math.sqrt(2.0 * math.pi)


@dataclass(frozen=True, slots=True)
class Gauge:
    """How sizes scatter and how they are read in one dimension.

    Attributes:
        scatter: shares and standard deviations of the scatter [mm].
        u_mm: standard deviation of a sound reading [mm].
        gross: probability that a reading is gross.
        gross_density: of a gross reading [1/mm].
        read_mm: the reading, not-a-number without one [mm].
    """

    scatter: tuple[tuple[float, float], ...]
    u_mm: float
    gross: float
    gross_density: float
    read_mm: float

    @property
    def measured(self) -> bool:
        """Whether there is a reading."""
        return not math.isnan(self.read_mm)

    def density(self, centre_mm: Floats, spread_mm: float = 0.0) -> Floats:
        """Return the density of the reading for each centre [1/mm]; 1 without a reading.

        Args:
            centre_mm: any shape.
            spread_mm: standard deviation of the centre itself about that.
        """
        if not self.measured:
            return np.ones(np.shape(centre_mm))
        return self.gross * self.gross_density + self.sound_density(centre_mm, spread_mm)

    def sound_density(self, centre_mm: Floats, spread_mm: float = 0.0) -> Floats:
        """Return that part of the density that sound readings make [1/mm]."""
        total = np.zeros(np.shape(centre_mm))
        for share, scatter_mm in self.scatter:
            sd = math.sqrt(scatter_mm**2 + spread_mm**2 + self.u_mm**2)
            total += (1.0 - self.gross) * share * _normal(self.read_mm - centre_mm, sd)
        return total

    def before(self, centre_mm: Floats, window_mm: Window, spread_mm: float = 0.0) -> Floats:
        """Return the probability, whatever is read, that a true size is in a window.

        Args:
            centre_mm: centres; they and the window's ends are broadcast [mm].
            window_mm: least and greatest size [mm].
            spread_mm: standard deviation of the centre itself.
        """
        total: Floats = np.zeros(np.broadcast_shapes(np.shape(centre_mm), window_mm[0].shape))
        for share, scatter_mm in self.scatter:
            total += share * _between(window_mm, centre_mm, math.hypot(scatter_mm, spread_mm))
        return total

    def sound_inside(self, centre_mm: Floats, window_mm: Window, spread_mm: float = 0.0) -> Floats:
        """Return the joint density of the reading, a sound one, and probability of a size in the window."""
        total: Floats = np.zeros(np.broadcast_shapes(np.shape(centre_mm), window_mm[0].shape))
        for share, scatter_mm in self.scatter:
            sd = math.hypot(scatter_mm, spread_mm)
            pull = sd**2 / (sd**2 + self.u_mm**2)
            after = centre_mm + pull * (self.read_mm - centre_mm)
            likely = _normal(self.read_mm - centre_mm, math.hypot(sd, self.u_mm))
            inside = _between(window_mm, after, self.u_mm * math.sqrt(pull))
            total += (1.0 - self.gross) * share * likely * inside
        return total

    def inside(self, before: Floats, sound: Floats) -> Floats:
        """Return the joint density of the reading and probability of a size in the window."""
        return np.asarray(sound + self.gross * self.gross_density * before)

    def draw(self, centre_mm: Floats, spread_mm: Floats, rng: np.random.Generator) -> Floats:
        """Return true sizes given the reading, one for each centre, (n,) [mm].

        Args:
            centre_mm: (n,) centres [mm].
            spread_mm: (n,) standard deviations of the centres themselves [mm].
            rng: the source of chance.
        """
        shares, scatter_mm = np.array(self.scatter).T
        sd = np.hypot(scatter_mm, spread_mm[:, None])
        mean = np.broadcast_to(centre_mm[:, None], sd.shape)
        weights = np.broadcast_to(shares, sd.shape)
        if self.measured:
            pull = sd**2 / (sd**2 + self.u_mm**2)
            sound = (1.0 - self.gross) * weights * _normal(self.read_mm - mean, np.hypot(sd, self.u_mm))
            weights = np.hstack((weights * self.gross * self.gross_density, sound))
            mean = np.hstack((mean, mean + pull * (self.read_mm - mean)))
            sd = np.hstack((sd, self.u_mm * np.sqrt(pull)))
        row = np.arange(len(centre_mm))
        place = pick(rng, weights)
        return np.asarray(rng.normal(mean[row, place], sd[row, place]))


def pick(rng: np.random.Generator, weights: Floats) -> Ints:
    """Return a column for each row, drawn in proportion to the row's weights."""
    heights = np.cumsum(weights, axis=1)
    return np.asarray((rng.random((len(weights), 1)) * heights[:, -1:] >= heights).sum(axis=1))


def _normal(differs: Floats, sd: Floats | float) -> Floats:
    return np.asarray(np.exp(-0.5 * (differs / sd) ** 2) / (SQRT_2PI * sd))


def _between(window: Window, mean: Floats, sd: float) -> Floats:
    return np.asarray(ndtr((window[1] - mean) / sd) - ndtr((window[0] - mean) / sd))
