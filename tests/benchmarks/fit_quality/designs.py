"""How designs come about: popular sizes, other sizes, words, all by the size of the engine; near twins.

A world is a finite mixture of normals on purpose (the size of engine is one of a few classes, a twin's shift
one of a few values), so that the exact answer to every question about it is a finite sum (oracle.py).
"""

from dataclasses import dataclass

import numpy as np

from fitworth.families.model import Dimension
from fitworth.vocabulary import Kind
from tests.benchmarks.fit_quality.mixtures import pick
from tests.benchmarks.fit_quality.recipes import COUNTS, RANGES, Recipe, load_family
from tests.benchmarks.fit_quality.windows import Floats, Ints, twin_shifts_mm

Word = str | bool | int
FINE_RANGE_MM = 10.0  # [mm] shorter ranges have their popular sizes at tenths, others at halves
MIDDLE_CLASS, CLASS_SPREAD = 0.5, 0.28  # [share of all classes] most engines are of middling size
WORD_SLOPE = 1.5  # [1] standard deviation of how the words' log odds follow the size of engine


@dataclass(frozen=True, slots=True)
class Palette:
    """Everything that a design is drawn from.

    Attributes:
        recipe: the figures.
        lengths: the lengths that the world fills, n_l.
        words: its choices, flags and counts, n_w.
        values: for each of `words`, its possible values.
        ends_mm: (n_l, 2) range of each length [mm].
        class_share: (n_s,) of the sizes of engine.
        popular_mm: (n_l, n_k) the popular sizes [mm].
        popular_share: (n_s, n_l, n_k) of designs that have each; they add up to the recipe's share.
        other_mm: (n_s, n_l) mean of the other sizes [mm].
        other_sd_mm: (n_l,) and their standard deviation [mm].
        word_share: for each of `words`, (n_s, n_values).
    """

    recipe: Recipe
    lengths: tuple[Dimension, ...]
    words: tuple[Dimension, ...]
    values: tuple[tuple[Word, ...], ...]
    ends_mm: Floats
    class_share: Floats
    popular_mm: Floats
    popular_share: Floats
    other_mm: Floats
    other_sd_mm: Floats
    word_share: tuple[Floats, ...]

    def draw(self, rng: np.random.Generator, count: int) -> tuple[Floats, Ints]:
        """Return new designs: sizes (count, n_l) [mm] and places of words (count, n_w)."""
        engine = rng.choice(len(self.class_share), count, p=self.class_share)
        sizes = np.empty((count, len(self.lengths)))
        for place in range(len(self.lengths)):
            popular = pick(rng, self.popular_share[engine, place])
            other = rng.normal(self.other_mm[engine, place], self.other_sd_mm[place])
            plain = rng.random(count) >= self.recipe.popular_share
            sizes[:, place] = np.where(plain, other, self.popular_mm[place, popular])
        codes = np.empty((count, len(self.words)), np.int64)
        for place, shares in enumerate(self.word_share):
            codes[:, place] = pick(rng, shares[engine])
        return sizes, codes

    def draw_twins(self, rng: np.random.Generator, sizes: Floats, codes: Ints) -> tuple[Floats, Ints]:
        """Return near twins of designs: each with one dimension changed, any of them as likely."""
        sizes, codes = sizes.copy(), codes.copy()
        changed = rng.integers(len(self.lengths) + len(self.words), size=len(sizes))
        for place in range(len(self.lengths)):
            rows = np.flatnonzero(changed == place)
            shifts = self.shifts_mm(place, sizes[rows, place])
            sizes[rows, place] += shifts[np.arange(len(rows)), rng.integers(shifts.shape[1], size=len(rows))]
        for place, values in enumerate(self.values):
            rows = np.flatnonzero(changed == len(self.lengths) + place)
            codes[rows, place] += rng.integers(1, len(values), size=len(rows))
            codes[rows, place] %= len(values)
        return sizes, codes

    def shifts_mm(self, place: int, sizes_mm: Floats) -> Floats:
        """Return the shifts by which twins of some designs may differ in a length, (n, n_shifts) [mm]."""
        return twin_shifts_mm(self.lengths[place], sizes_mm, self.recipe.twin_factors)

    def scatter(self, rng: np.random.Generator, sizes: Floats) -> Floats:
        """Return the true sizes of parts made to some designs [mm]."""
        shares, sds_mm = np.array(self.recipe.scatter).T
        return np.asarray(rng.normal(sizes, sds_mm[rng.choice(len(shares), sizes.shape, p=shares)]))


def make_palette(recipe: Recipe, rng: np.random.Generator) -> Palette:
    """Return what a world's designs are drawn from."""
    ranges = RANGES[recipe.family]
    filled = [one for one in load_family(recipe.family).dimensions if one.key in ranges]
    lengths = tuple(one for one in filled if one.kind is Kind.LENGTH)
    words = tuple(one for one in filled if one.kind is not Kind.LENGTH)
    ends = np.array([ranges[one.key] for one in lengths])
    wide = ends[:, 1] - ends[:, 0]
    classes = (np.arange(recipe.size_classes) + 0.5) / recipe.size_classes
    share = np.exp(-0.5 * ((classes - MIDDLE_CLASS) / CLASS_SPREAD) ** 2)
    fine = np.where(wide < FINE_RANGE_MM, 0.1, 0.5)[:, None]
    popular = ends[:, :1] + wide[:, None] * rng.random((len(lengths), recipe.popular_sizes))
    popular = np.round(popular / fine) * fine
    other = ends[:, 0] + wide * (0.15 + 0.7 * classes[:, None])
    rank = (1.0 + np.arange(recipe.popular_sizes)) ** -recipe.popular_steepness
    near = rank * np.exp(-0.5 * ((popular - other[:, :, None]) / (recipe.follows * wide[:, None])) ** 2)
    values = tuple(_values(one) for one in words)
    return Palette(
        recipe=recipe,
        lengths=lengths,
        words=words,
        values=values,
        ends_mm=ends,
        class_share=share / share.sum(),
        popular_mm=popular,
        popular_share=recipe.popular_share * near / near.sum(axis=2, keepdims=True),
        other_mm=other,
        other_sd_mm=recipe.follows * wide,
        word_share=tuple(_word_share(len(one), classes, rng) for one in values),
    )


def _values(dimension: Dimension) -> tuple[Word, ...]:
    if dimension.kind is Kind.FLAG:
        return (False, True)
    return COUNTS[dimension.key] if dimension.kind is Kind.COUNT else dimension.choices


def _word_share(count: int, classes: Floats, rng: np.random.Generator) -> Floats:
    odds = rng.permutation(-np.log(1.0 + np.arange(count)))
    odds = odds + np.outer(classes - MIDDLE_CLASS, rng.normal(0.0, WORD_SLOPE, count))
    shares = np.exp(odds)
    return np.asarray(shares / shares.sum(axis=1, keepdims=True))
