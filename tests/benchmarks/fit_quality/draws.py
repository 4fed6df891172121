"""How likely no part on file fits: removed parts are drawn from what is believed and tried on all parts.

The draws are shared out over the hypotheses in proportion to their weights (systematic sampling), so that
only what is open within a hypothesis is left to chance; `error` says how much that is.
"""

import math
from dataclasses import dataclass

import numpy as np

from tests.benchmarks.fit_quality.beliefs import Belief, Knower
from tests.benchmarks.fit_quality.mixtures import pick
from tests.benchmarks.fit_quality.windows import Floats, Ints, Mask
from tests.benchmarks.fit_quality.worlds import Question

DRAWS = 1000


@dataclass(frozen=True, slots=True)
class NoneFits:
    """The probability that no part on file fits, with its standard error from the sampling."""

    probability: float
    error: float


class Trial:
    """Tries drawn removed parts on all parts of a world."""

    def __init__(self, knower: Knower) -> None:
        self.knower = knower
        world = knower.world
        order = np.argsort(world.group, kind="stable")
        starts = np.searchsorted(world.group[order], np.arange(len(world.centres_mm)))
        self._members = np.split(order, starts[1:])
        self._least = np.minimum.reduceat(world.least_mm[order], starts)
        self._greatest = np.maximum.reduceat(world.greatest_mm[order], starts)

    def none_fits(self, question: Question, belief: Belief, draws: int = DRAWS) -> NoneFits:
        """Return how likely no part fits."""
        rng = np.random.default_rng(draws)
        n_groups, n_dims = belief.twins.shape
        weights = np.concatenate((belief.groups, belief.twins.ravel(), belief.new))
        places = (np.arange(draws) + rng.random()) / draws * weights.sum()
        chosen = np.minimum(np.searchsorted(np.cumsum(weights), places), len(weights) - 1)
        fits, doubt = 0.0, 0.0
        for one, count in zip(*np.unique(chosen, return_counts=True), strict=True):
            of_twins = one - n_groups
            if of_twins < 0:
                hits = self._try_group(question, belief, (int(one), None), int(count), rng)
            elif of_twins < n_groups * n_dims:
                which = int(of_twins // n_dims), int(of_twins % n_dims)
                hits = self._try_group(question, belief, which, int(count), rng)
            else:
                hits = self._try_new(question, belief, int(of_twins - n_groups * n_dims), int(count), rng)
            share = float(hits.mean())
            fits += count * share
            doubt += count * share * (1.0 - share)
        return NoneFits(1.0 - fits / draws, math.sqrt(doubt) / draws)

    def _try_group(
        self,
        question: Question,
        belief: Belief,
        which: tuple[int, int | None],
        count: int,
        rng: np.random.Generator,
    ) -> Mask:
        """Return whether any part fits, for draws of a group or of its twin with one dimension changed."""
        knower, world = self.knower, self.knower.world
        group, changed = which
        reach = knower.reach(group)
        n_dims = knower.n_lengths + knower.n_words
        rows = reach.rows[
            (reach.misses == n_dims) | (reach.misses == (n_dims if changed is None else changed))
        ]
        centres = np.repeat(world.centres_mm[group][None], count, axis=0)
        codes = np.repeat(world.words[group][None], count, axis=0)
        if changed is not None and changed < knower.n_lengths:
            shifted = centres[0, changed] + world.palette.shifts_mm(changed, centres[:1, changed])[0]
            weights = np.repeat(belief.gauges[changed].density(shifted)[None], count, axis=0)
            centres[:, changed] = shifted[pick(rng, weights)]
        elif changed is not None:
            place = changed - knower.n_lengths
            weights = self._word_weights(question, place).copy()
            weights[codes[0, place]] = 0.0
            codes[:, place] = pick(rng, np.repeat(weights[None], count, axis=0))
        sizes = np.stack(
            [
                gauge.draw(centres[:, place], np.zeros(count), rng)
                for place, gauge in enumerate(belief.gauges)
            ],
            axis=1,
        )
        inside = (sizes[:, None] >= world.least_mm[rows]) & (sizes[:, None] <= world.greatest_mm[rows])
        fits = inside.all(axis=2)
        for place, table in enumerate(world.does):
            fits &= table[world.words[world.group[rows], place][None], codes[:, place, None]]
        return np.asarray(fits.any(axis=1))

    def _try_new(
        self, question: Question, belief: Belief, engine: int, count: int, rng: np.random.Generator
    ) -> Mask:
        """Return whether any part fits, for draws of a new design for one size of engine."""
        palette = self.knower.world.palette
        sizes = np.empty((count, self.knower.n_lengths))
        for place, gauge in enumerate(belief.gauges):
            popular, spread = palette.popular_mm[place], float(palette.other_sd_mm[place])
            mean = np.append(popular, palette.other_mm[engine, place])
            shares = np.append(palette.popular_share[engine, place], 1.0 - palette.recipe.popular_share)
            shares[:-1] *= gauge.density(popular)
            shares[-1:] *= gauge.density(mean[-1:], spread)
            chosen = pick(rng, np.repeat(shares[None], count, axis=0))
            spreads = np.where(chosen == len(popular), spread, 0.0)
            sizes[:, place] = gauge.draw(mean[chosen], spreads, rng)
        codes = np.empty((count, self.knower.n_words), np.int64)
        for place, table in enumerate(palette.word_share):
            weights = table[engine] * self._word_weights(question, place)
            codes[:, place] = pick(rng, np.repeat(weights[None], count, axis=0))
        return self._any_fits(sizes, codes)

    def _word_weights(self, question: Question, place: int) -> Floats:
        read = question.read_codes[place]
        misread = self.knower.misread[place]
        return misread[read] if read >= 0 else np.ones(len(misread))

    def _any_fits(self, sizes: Floats, codes: Ints) -> Mask:
        """Return whether any part fits each removed part; groups none of whose parts can are passed over."""
        world = self.knower.world
        possible = np.ones((len(sizes), len(self._members)), np.bool_)
        for place, table in enumerate(world.does):
            possible &= table.T[codes[:, place]][:, world.words[:, place]]
        for place in range(sizes.shape[1]):
            one = sizes[:, place, None]
            possible &= (one >= self._least[:, place]) & (one <= self._greatest[:, place])
        fits = np.zeros(len(sizes), np.bool_)
        for draw in np.flatnonzero(possible.any(axis=1)):
            rows = np.concatenate([self._members[group] for group in np.flatnonzero(possible[draw])])
            inside = (sizes[draw] >= world.least_mm[rows]) & (sizes[draw] <= world.greatest_mm[rows])
            fits[draw] = bool(inside.all(axis=1).any())
        return fits
