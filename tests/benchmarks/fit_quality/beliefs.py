"""What somebody would believe of a removed part who knows how its world was made.

He knows every design, whose parts are whose, every part's true sizes, how often each group is asked about and
how readings go wrong. What he does not know is the removed part. It is of a group on file, of a near twin of
one, or of a new design; given that, its dimensions are independent, so that

    P(reading, part c fits) = sum over hypotheses of P(hypothesis)
                              * product over dimensions d of P(reading, size in c's window | hypothesis)

A sum over groups, twins (each of every group, dimension and shift) and sizes of engine of products of normal
distribution functions: nothing is approximated, but that hypotheses which hold less than `LEFT_OUT` together
are left out. That no part fits at all is the measure of a union of windows; it is sampled (draws.py).
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from tests.benchmarks.fit_quality.mixtures import Gauge
from tests.benchmarks.fit_quality.windows import Floats, Ints, Mask
from tests.benchmarks.fit_quality.worlds import Question, World

LEFT_OUT = 1e-5  # [probability] of all the groups, twins included, that are not looked at one by one
FAR = 7.0  # standard deviations beyond which a part cannot fit
FAINT = 1e-9  # share of the largest density below which a centre cannot have been read


@dataclass(frozen=True, slots=True)
class Reach:
    """The parts that can fit in place of a group, or of a twin of it.

    Attributes:
        rows: (n,) parts that are out of reach in one dimension at most.
        misses: (n,) the dimension, the number of all of them where there is none.
        before: (n_dims, n) probability that they fit the group in each, whatever is read.
        twin_before: (n_dims, n) the same for a twin with that dimension changed.
    """

    rows: Ints
    misses: Ints
    before: Floats
    twin_before: Floats


@dataclass(frozen=True, slots=True)
class Belief:
    """What a question leaves open; all weights add up to 1.

    Attributes:
        gauges: of each length.
        groups: (n_groups,) the removed part is of a group on file.
        twins: (n_groups, n_dims) of a twin of it, not on file, with that dimension changed.
        new: (n_classes,) of a new design for that size of engine.
        evidence: the probability of the readings, by which the weights were divided.
    """

    gauges: tuple[Gauge, ...]
    groups: Floats
    twins: Floats
    new: Floats
    evidence: float


class Knower:
    """Answers questions about one world.

    Attributes:
        world: the world.
        misread: for each word, (n_read, n_true) probabilities.
        group_share: (n_groups,) of removed parts on file.
    """

    def __init__(self, world: World, *, by_group: bool = False) -> None:
        self.world = world
        recipe = world.recipe
        self.misread: list[Floats] = []
        for values in world.palette.values:
            wrong = recipe.word_wrong_measured / (len(values) - 1)
            self.misread.append(wrong + (1.0 - wrong * len(values)) * np.eye(len(values)))
        counts = np.bincount(world.group).astype(np.float64)
        self.group_share: Floats = (np.ones_like(counts) if by_group else counts) / (
            len(counts) if by_group else counts.sum()
        )
        self.n_lengths, self.n_words = len(world.palette.lengths), len(world.palette.words)
        n_groups, n_dims = len(counts), self.n_lengths + self.n_words
        self.shares = (
            (1.0 - recipe.new_share) * self.group_share,
            recipe.new_share * recipe.twin_share / (n_groups * n_dims),
            recipe.new_share * (1.0 - recipe.twin_share) * world.palette.class_share,
        )
        self._reaches: dict[int, Reach] = {}
        unread = np.full(self.n_lengths, np.nan)
        self._blank = self.gauges(unread)
        self._shifts = [
            world.palette.shifts_mm(place, world.centres_mm[:, place]) for place in range(self.n_lengths)
        ]

    def gauges(self, read_mm: Floats) -> tuple[Gauge, ...]:
        """Return how each length was read."""
        recipe = self.world.recipe
        found = []
        for (low, high), read in zip(self.world.palette.ends_mm, read_mm, strict=True):
            possible = low <= read <= high  # a reading outside the range is none of the gross ones
            density = 1.0 / (high - low) if possible else 0.0
            found.append(
                Gauge(recipe.scatter, recipe.measured_u_mm, recipe.gross_measured, density, float(read))
            )
        return tuple(found)

    def believe(self, question: Question) -> Belief:
        """Return the weights of all hypotheses once the readings are in."""
        world, gauges = self.world, self.gauges(question.read_mm)
        seen = np.ones((len(world.centres_mm), self.n_lengths + self.n_words))
        changed = np.ones_like(seen)
        new = self.shares[2].copy()
        for place, gauge in enumerate(gauges):
            if gauge.measured:
                centres = world.centres_mm[:, place]
                seen[:, place] = gauge.density(centres)
                changed[:, place] = gauge.density(centres[:, None] + self._shifts[place]).mean(axis=1)
                new *= self._new_density(place, gauge)
        for place, read in enumerate(question.read_codes):
            if read >= 0:
                of_read = self.misread[place][read]
                at = self.n_lengths + place
                seen[:, at] = of_read[world.words[:, place]]
                changed[:, at] = (of_read.sum() - seen[:, at]) / (len(of_read) - 1)
                new *= world.palette.word_share[place] @ of_read
        groups = self.shares[0] * seen.prod(axis=1)
        twins = self.shares[1] * all_but_one(seen.T).T * changed
        evidence = float(groups.sum() + twins.sum() + new.sum())
        return Belief(gauges, groups / evidence, twins / evidence, new / evidence, evidence)

    def fits(self, question: Question, belief: Belief) -> Floats:
        """Return the probability that each part fits, (n_parts,)."""
        chance = self._fits_new(question, belief)
        mass = belief.groups + belief.twins.sum(axis=1)
        order = np.argsort(-mass)
        rest = mass.sum() - np.cumsum(mass[order])
        for group in order[: int(np.searchsorted(-rest, -LEFT_OUT)) + 1]:
            reach = self.reach(int(group))
            chance[reach.rows] += self._fits_group(question, belief, int(group), reach)
        return np.minimum(chance / belief.evidence, 1.0)

    def reach(self, group: int) -> Reach:
        """Return the parts that can fit in place of a group or a twin of it; it is kept."""
        if group not in self._reaches:
            self._reaches[group] = self._find_reach(group)
        return self._reaches[group]

    def _find_reach(self, group: int) -> Reach:
        world = self.world
        centre = world.centres_mm[group]
        margin = FAR * max(sd for _, sd in world.recipe.scatter)
        possible = np.hstack(
            (
                (centre >= world.least_mm - margin) & (centre <= world.greatest_mm + margin),
                np.stack(
                    [self._does(place, world.words[group, place]) for place in range(self.n_words)], axis=1
                ),
            )
        )
        missing = possible.shape[1] - possible.sum(axis=1)
        rows = np.flatnonzero(missing <= 1)
        misses = np.where(missing[rows] == 0, possible.shape[1], possible[rows].argmin(axis=1))
        before, twin_before = np.empty((2, possible.shape[1], len(rows)))
        for place, gauge in enumerate(self._blank):
            window = self.windows(place, rows)
            before[place] = gauge.before(centre[place], window)
            shifted = centre[place] + self._shifts[place][group][:, None]
            twin_before[place] = gauge.before(shifted, window).mean(axis=0)
        for place in range(self.n_words):
            own = world.words[group, place]
            table = world.does[place][world.words[world.group[rows], place]]
            before[self.n_lengths + place] = table[:, own]
            twin_before[self.n_lengths + place] = (table.sum(axis=1) - table[:, own]) / (table.shape[1] - 1)
        return Reach(rows, misses, before, twin_before)

    def windows(self, place: int, rows: Ints) -> tuple[Floats, Floats]:
        """Return the windows of some parts in a length [mm]."""
        return self.world.least_mm[rows, place], self.world.greatest_mm[rows, place]

    def _does(self, place: int, removed: int) -> Mask:
        return np.asarray(self.world.does[place][:, removed][self.world.words[self.world.group, place]])

    def _fits_group(self, question: Question, belief: Belief, group: int, reach: Reach) -> Floats:
        """Return the joint probability of the readings and that parts within reach fit, (n,)."""
        world = self.world
        fits, twin = reach.before.copy(), reach.twin_before.copy()
        for place, gauge in enumerate(belief.gauges):
            if not gauge.measured:
                continue
            window = self.windows(place, reach.rows)
            centre = world.centres_mm[group, place]
            fits[place] = gauge.inside(fits[place], gauge.sound_inside(centre, window))
            shifted = centre + self._shifts[place][group]
            heard = gauge.sound_density(shifted)
            heard_ones = shifted[heard > FAINT * gauge.density(shifted).max()]
            sound = gauge.sound_inside(heard_ones[:, None], window).sum(axis=0) / len(shifted)
            twin[place] = gauge.inside(twin[place], sound)
        for place, read in enumerate(question.read_codes):
            if read >= 0:
                own, at = world.words[group, place], self.n_lengths + place
                table = world.does[place][world.words[world.group[reach.rows], place]]
                of_read = self.misread[place][read]
                fits[at] *= of_read[own]
                twin[at] = (table @ of_read - table[:, own] * of_read[own]) / (len(of_read) - 1)
        chance = self.shares[0][group] * fits.prod(axis=0)
        if self.shares[1]:
            chance += self.shares[1] * (all_but_one(fits) * twin).sum(axis=0)
        return np.asarray(chance)

    def _new_density(self, place: int, gauge: Gauge) -> Floats:
        palette = self.world.palette
        popular = palette.popular_share[:, place] @ gauge.density(palette.popular_mm[place])
        other = gauge.density(palette.other_mm[:, place], float(palette.other_sd_mm[place]))
        return np.asarray(popular + (1.0 - palette.recipe.popular_share) * other)

    @cached_property
    def _new_before(self) -> list[Floats]:
        """For each dimension (n_classes, n_parts): the probability that a part fits a new design there."""
        palette, world = self.world.palette, self.world
        found: list[Floats] = []
        for place, gauge in enumerate(self._blank):
            window = world.least_mm[:, place], world.greatest_mm[:, place]
            popular = gauge.before(palette.popular_mm[place][:, None], window)
            other = gauge.before(palette.other_mm[:, place, None], window, float(palette.other_sd_mm[place]))
            share = 1.0 - palette.recipe.popular_share
            found.append(palette.popular_share[:, place] @ popular + share * other)
        for place, shares in enumerate(palette.word_share):
            found.append((shares @ world.does[place].T)[:, world.words[world.group, place]])
        return found

    def _fits_new(self, question: Question, belief: Belief) -> Floats:
        """Return the joint probability of the readings, a new design, and that each part fits, (n_parts,)."""
        palette, world = self.world.palette, self.world
        chance = np.repeat(self.shares[2][:, None], len(world.group), axis=1)
        for place, gauge in enumerate(belief.gauges):
            before = self._new_before[place]
            if not gauge.measured:
                chance *= before
                continue
            window = world.least_mm[:, place], world.greatest_mm[:, place]
            heard = gauge.sound_density(palette.popular_mm[place])
            near = np.flatnonzero(heard > FAINT * gauge.density(palette.popular_mm[place]).max())
            sound = palette.popular_share[:, place, near] @ gauge.sound_inside(
                palette.popular_mm[place, near][:, None], window
            )
            spread = float(palette.other_sd_mm[place])
            other = gauge.sound_inside(palette.other_mm[:, place, None], window, spread)
            chance *= gauge.inside(before, sound + (1.0 - palette.recipe.popular_share) * other)
        for place, read in enumerate(question.read_codes):
            if read < 0:
                chance *= self._new_before[self.n_lengths + place]
            else:
                of_read = palette.word_share[place] * self.misread[place][read]
                chance *= (of_read @ world.does[place].T)[:, world.words[world.group, place]]
        return np.asarray(chance.sum(axis=0))


def all_but_one(factors: Floats) -> Floats:
    """Return, for each row, the product of all the other rows."""
    before, after = np.ones_like(factors), np.ones_like(factors)
    np.cumprod(factors[:-1], axis=0, out=before[1:])
    after[:-1] = np.cumprod(factors[:0:-1], axis=0)[::-1]
    return before * after
