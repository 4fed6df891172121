"""Invented catalogues whose true designs are known, and questions about removed parts with true answers.

`make_world(flavour, size, seed)` gives a `World`; `world.ask(n)` gives questions. Neither reads anything of
the match but the catalogue it fills. Readings are sound up to a normal error or, with the recipe's share,
gross: then any size of the dimension's range is as likely, whatever the part.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fitworth.families.model import Family
from fitworth.matching.answer import FitQuery
from fitworth.matching.catalogue import Catalogue
from fitworth.quantities.quantity import Quantity, Value
from tests.benchmarks.fit_quality.designs import Palette, make_palette
from tests.benchmarks.fit_quality.recipes import RECIPES, UNMEASURED, Recipe, load_family
from tests.benchmarks.fit_quality.sheets import misread, word_value, write_sheets
from tests.benchmarks.fit_quality.windows import Floats, Ints, Mask, window_mm, word_table

NOT_ON_FILE = -1  # group of a removed part whose design is not on file
MOST_CANDIDATES = 20
SINGLES = 0.2  # share of groups that are one part by itself
SIZE_SPREAD = 0.9  # standard deviation of the logarithm of the other groups' sizes
PARTS_IN_A_GROUP = ((1_000, 6.0), (10_000, 10.0), (math.inf, 20.0))  # up to so many parts: mean size
WORDS_MEASURED = 3  # none, one or two


@dataclass(frozen=True)
class Question:
    """A removed part as far as it was measured, and what is true of it.

    Attributes:
        query: what the program is asked.
        truth: (n_parts,) whether each part on file fits, as it comes or after its cure.
        as_it_comes: (n_parts,) whether it fits without any work.
        not_on_file: whether the removed part's design is on no file.
        group: the group of the removed part, NOT_ON_FILE without one.
        sizes_mm: (n_l,) the removed part's true sizes [mm].
        codes: (n_w,) places of its true words.
        read_mm: (n_l,) what is measured, not-a-number where it is not [mm].
        read_codes: (n_w,) places of the words seen, -1 where not looked at.
        readings: what each dimension would read if it were measured, those of the query among them.
    """

    query: FitQuery
    truth: Mask
    as_it_comes: Mask
    not_on_file: bool
    group: int
    sizes_mm: Floats
    codes: Ints
    read_mm: Floats
    read_codes: Ints
    readings: dict[str, Value]

    @property
    def none_fits(self) -> bool:
        """Whether no part on file fits."""
        return not self.truth.any()


@dataclass(frozen=True)
class World:
    """A catalogue and the truth behind it.

    Attributes:
        flavour: its name.
        seed: what it was made from.
        palette: what designs are drawn from.
        family: the family.
        catalogue: what the program sees; the id of the part in row r is r + 1.
        centres_mm: (n_groups, n_l) the designs [mm].
        words: (n_groups, n_w) places of their words.
        group: (n_parts,) the group of each part.
        sizes_mm: (n_parts, n_l) true sizes [mm].
        least_mm, greatest_mm: (n_parts, n_l) the removed sizes that each part can stand in for [mm].
        does: for each word, (n_values, n_values) whether a candidate's does the job of a removed part's.
    """

    flavour: str
    seed: int
    palette: Palette
    family: Family
    catalogue: Catalogue
    centres_mm: Floats
    words: Ints
    group: Ints
    sizes_mm: Floats
    least_mm: Floats
    greatest_mm: Floats
    does: tuple[Mask, ...]

    @property
    def recipe(self) -> Recipe:
        """The figures by which the world was made."""
        return self.palette.recipe

    def fits(self, sizes_mm: Floats, codes: Ints) -> Mask:
        """Return which parts on file fit in place of a removed part, as they come or after their cure."""
        fits = np.asarray(((sizes_mm >= self.least_mm) & (sizes_mm <= self.greatest_mm)).all(axis=1))
        for place, table in enumerate(self.does):
            fits &= table[self.words[self.group, place], codes[place]]
        return fits

    def fits_as_it_comes(self, sizes_mm: Floats, codes: Ints) -> Mask:
        """Return which parts on file fit without any work."""
        fits = np.ones(len(self.group), np.bool_)
        for place, dimension in enumerate(self.palette.lengths):
            least, greatest = window_mm(dimension, self.sizes_mm[:, place], cured=False)
            fits &= (sizes_mm[place] >= least) & (sizes_mm[place] <= greatest)
        for place, dimension in enumerate(self.palette.words):
            table = word_table(dimension, self.palette.values[place], cured=False)
            fits &= table[self.words[self.group, place], codes[place]]
        return fits

    def ask(
        self,
        count: int,
        *,
        seed: int = 0,
        lengths: tuple[int, int] = (3, 6),
        by_group: bool = False,
        limit: int = MOST_CANDIDATES,
    ) -> list[Question]:
        """Return questions.

        Args:
            count: how many.
            seed: of the questions; the same gives the same.
            lengths: the least and greatest number of lengths that are measured.
            by_group: draw the removed part's group evenly instead of in proportion to its parts.
            limit: how many candidates the query asks for.
        """
        rng = np.random.default_rng([self.seed, len(self.group), seed, 1])
        groups = self._draw_groups(count, by_group, rng)
        centres, codes = self.centres_mm[groups], self.words[groups]
        new = np.flatnonzero(groups == NOT_ON_FILE)
        centres[new], codes[new] = self._draw_new(len(new), rng)
        sizes = self.palette.scatter(rng, centres)
        read_mm, read_codes = self._read(sizes, codes, rng)
        return [
            self._question(
                int(groups[one]), (sizes[one], codes[one]), (read_mm[one], read_codes[one]), keys, limit
            )
            for one, keys in enumerate(self._choose(count, lengths, rng))
        ]

    def _draw_groups(self, count: int, by_group: bool, rng: np.random.Generator) -> Ints:
        by_part = self.group[rng.integers(len(self.group), size=count)]
        groups = rng.integers(len(self.centres_mm), size=count) if by_group else by_part
        return np.where(rng.random(count) < self.recipe.new_share, NOT_ON_FILE, groups)

    def _draw_new(self, count: int, rng: np.random.Generator) -> tuple[Floats, Ints]:
        """Return designs that are not on file, near twins of those on file among them."""
        centres, codes = self.palette.draw(rng, count)
        twins = np.flatnonzero(rng.random(count) < self.recipe.twin_share)
        like = rng.integers(len(self.centres_mm), size=len(twins))
        centres[twins], codes[twins] = self.palette.draw_twins(rng, self.centres_mm[like], self.words[like])
        return centres, codes

    def _read(self, sizes: Floats, codes: Ints, rng: np.random.Generator) -> tuple[Floats, Ints]:
        """Return what every dimension would read on some removed parts, errors included."""
        recipe, ends = self.recipe, self.palette.ends_mm
        sound = np.round(rng.normal(sizes, recipe.measured_u_mm), 2)
        anywhere = np.round(ends[:, 0] + (ends[:, 1] - ends[:, 0]) * rng.random(sizes.shape), 2)
        read = np.where(rng.random(sizes.shape) < recipe.gross_measured, anywhere, sound)
        seen = codes.copy()
        for place, values in enumerate(self.palette.values):
            seen[:, place] = misread(codes[:, place], len(values), recipe.word_wrong_measured, rng)
        return read, seen

    def _choose(self, count: int, lengths: tuple[int, int], rng: np.random.Generator) -> Iterator[list[str]]:
        open_ones = [one.key for one in self.palette.lengths if one.key not in UNMEASURED]
        words = [one.key for one in self.palette.words]
        for _ in range(count):
            n_lengths = min(int(rng.integers(lengths[0], lengths[1] + 1)), len(open_ones))
            n_words = int(rng.integers(WORDS_MEASURED))
            chosen = rng.choice(open_ones, n_lengths, replace=False)
            yield [str(key) for key in (*chosen, *rng.choice(words, n_words, replace=False))]

    def _question(
        self,
        group: int,
        true: tuple[Floats, Ints],
        read: tuple[Floats, Ints],
        keys: Sequence[str],
        limit: int,
    ) -> Question:
        u = self.recipe.measured_u_mm
        readings: dict[str, Value] = {}
        for one, length in zip(self.palette.lengths, read[0].tolist(), strict=True):
            readings[one.key] = Quantity(length, "mm", u, f"{length:g} mm")
        for place, one in enumerate(self.palette.words):
            word = self.palette.values[place][read[1][place]]
            readings[one.key] = word_value(self.palette, place, word)
        measured = [one.key in keys for one in self.palette.lengths]
        seen = [one.key in keys for one in self.palette.words]
        return Question(
            query=FitQuery({key: readings[key] for key in keys}, limit=limit),
            truth=self.fits(*true),
            as_it_comes=self.fits_as_it_comes(*true),
            not_on_file=group == NOT_ON_FILE,
            group=group,
            sizes_mm=true[0],
            codes=true[1],
            read_mm=np.where(measured, read[0], np.nan),
            read_codes=np.where(seen, read[1], -1),
            readings=readings,
        )


def make_world(flavour: str, size: int, seed: int) -> World:
    """Return an invented catalogue of `size` parts; the same arguments give the same one."""
    recipe = RECIPES[flavour]
    rng = np.random.default_rng([seed, size, sorted(RECIPES).index(flavour)])
    palette = make_palette(recipe, rng)
    group = _draw_groups(size, rng)
    n_groups = int(group.max()) + 1
    centres, words = palette.draw(rng, n_groups)
    # The first group is no twin, so that there is one to copy.
    is_twin = (rng.random(n_groups) < recipe.twin_share) & (np.arange(n_groups) > 0)
    twins, patterns = np.flatnonzero(is_twin), np.flatnonzero(~is_twin)
    like = patterns[rng.integers(len(patterns), size=len(twins))]
    centres[twins], words[twins] = palette.draw_twins(rng, centres[like], words[like])
    sizes = palette.scatter(rng, centres[group])
    family = load_family(recipe.family)
    windows = [window_mm(one, sizes[:, place], cured=True) for place, one in enumerate(palette.lengths)]
    return World(
        flavour=flavour,
        seed=seed,
        palette=palette,
        family=family,
        catalogue=write_sheets(palette, family, (sizes, words[group]), rng),
        centres_mm=centres,
        words=words,
        group=group,
        sizes_mm=sizes,
        least_mm=np.stack([least for least, _ in windows], axis=1),
        greatest_mm=np.stack([greatest for _, greatest in windows], axis=1),
        does=tuple(
            word_table(one, palette.values[place], cured=True) for place, one in enumerate(palette.words)
        ),
    )


def _draw_groups(size: int, rng: np.random.Generator) -> Ints:
    """Return the group of each part: many small groups and a few large ones."""
    mean = next(mean for up_to, mean in PARTS_IN_A_GROUP if size <= up_to)
    middle = math.log((mean - SINGLES) / (1.0 - SINGLES)) - SIZE_SPREAD**2 / 2.0
    counts = np.ceil(rng.lognormal(middle, SIZE_SPREAD, size)).astype(np.int64)
    counts[rng.random(size) < SINGLES] = 1
    # In no order: nothing may be told from which parts were entered one after the other.
    return rng.permutation(np.repeat(np.arange(size), counts)[:size])
