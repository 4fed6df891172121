"""The spec sheets that users enter for the parts of a world, with holes and errors; as a catalogue."""

import numpy as np

from fitworth.families.model import Family
from fitworth.matching.catalogue import Catalogue
from fitworth.quantities.quantity import Quantity, Value
from fitworth.vocabulary import Kind
from tests.benchmarks.fit_quality.designs import Palette, Word
from tests.benchmarks.fit_quality.recipes import MM_PER_INCH
from tests.benchmarks.fit_quality.windows import Floats, Ints, Mask

MAKERS = ("Harrowmere", "Brackwell", "Quillon", "Vennor", "Ostler")  # invented
ANY_SIZE, SWAPPED_DIGITS, INCH_SLIP = range(3)  # the kinds of gross error, each as frequent
COUNT_U = 0.01  # [1] standard uncertainty of a count; it keeps the packed cell from reading as exact


def write_sheets(
    palette: Palette, family: Family, truth: tuple[Floats, Ints], rng: np.random.Generator
) -> Catalogue:
    """Return the catalogue of parts as their sheets describe them; ids are 1, 2, ...

    Args:
        palette: for the recipe and the ranges.
        family: the whole family.
        truth: the parts' true sizes (n, n_l) [mm] and places of words (n, n_w).
        rng: the source of chance.
    """
    sizes, codes = truth
    recipe = palette.recipe
    catalogue = Catalogue(family)
    empty = np.frombuffer(catalogue.layout.pack({}), catalogue.layout.dtype)
    rows = np.repeat(empty, len(sizes))
    habit = rng.integers(len(recipe.steps_mm), size=len(sizes))
    step = np.array(recipe.steps_mm)[habit]
    u = (
        np.array(recipe.read_u_mm)[habit]
        if recipe.read_u_mm
        else np.hypot(recipe.listing_sd_mm, step / 12**0.5)
    )
    for place, dimension in enumerate(palette.lengths):
        read = sizes[:, place] + recipe.listing_sd_mm * rng.standard_normal(len(sizes))
        wrong = _gross(palette, place, sizes[:, place], rng)
        read = np.where(rng.random(len(sizes)) < recipe.gross_listed, wrong, read)
        listed = rng.random(len(sizes)) >= recipe.missing
        rows[dimension.key] = np.where(listed, np.round(read / step) * step, np.nan)
        rows[f"{dimension.key}.u"] = np.where(listed, u, 0.0)
    for place, values in enumerate(palette.values):
        code = misread(codes[:, place], len(values), recipe.word_wrong_listed, rng)
        _write_words(rows, palette, place, (code, rng.random(len(sizes)) >= recipe.missing))
    makers = [MAKERS[maker] for maker in rng.integers(len(MAKERS), size=len(sizes))]
    packed = [row.tobytes() for row in rows]
    catalogue.upsert(range(1, len(sizes) + 1), packed, makers, [()] * len(sizes))
    return catalogue


def misread(codes: Ints, count: int, share: float, rng: np.random.Generator) -> Ints:
    """Return places of words with a share of them wrong, each other word as likely."""
    wrong = (codes + rng.integers(1, count, size=len(codes))) % count
    return np.where(rng.random(len(codes)) < share, wrong, codes)


def word_value(palette: Palette, place: int, word: Word) -> Value:
    """Return a word of a dimension as the program holds it."""
    if palette.words[place].kind is Kind.COUNT:
        return Quantity(float(word), palette.words[place].unit, COUNT_U, str(word))
    return word if isinstance(word, bool) else str(word)


def _write_words(rows: np.ndarray, palette: Palette, place: int, cells: tuple[Ints, Mask]) -> None:
    dimension, (code, listed) = palette.words[place], cells
    if dimension.kind is Kind.COUNT:
        numbers = np.array(palette.values[place], np.float64)[code]
        rows[dimension.key] = np.where(listed, numbers, np.nan)
        rows[f"{dimension.key}.u"] = np.where(listed, COUNT_U, 0.0)
    else:
        rows[dimension.key] = np.where(listed, code, rows[dimension.key])


def _gross(palette: Palette, place: int, sizes_mm: Floats, rng: np.random.Generator) -> Floats:
    """Return what each size would be listed as if its entry were a gross error [mm].

    Slips that the family's plausible range would refuse are any size instead.
    """
    low, high = palette.ends_mm[place]
    reach = palette.recipe.slip_mm
    least, most = np.maximum(low, sizes_mm - reach), np.minimum(high, sizes_mm + reach)
    any_size = least + (most - least) * rng.random(len(sizes_mm))
    inches = np.where(rng.random(len(sizes_mm)) < 0.5, sizes_mm / MM_PER_INCH, sizes_mm * MM_PER_INCH)
    if palette.lengths[place].plausible is not None:
        least_mm, most_mm = palette.lengths[place].plausible or (low, high)
        inches = np.where((inches < least_mm) | (inches > most_mm), any_size, inches)
    kind = rng.integers(3, size=len(sizes_mm))
    return np.select([kind == ANY_SIZE, kind == SWAPPED_DIGITS], [any_size, _swapped(sizes_mm, rng)], inches)


def _swapped(sizes_mm: Floats, rng: np.random.Generator) -> Floats:
    """Return sizes with two neighbouring digits of their tenths, units and tens exchanged [mm]."""
    tenths = np.round(10.0 * sizes_mm).astype(np.int64)
    unit = np.where(rng.random(len(tenths)) < 0.5, 1, 10)
    right, left = tenths // unit % 10, tenths // (10 * unit) % 10
    return np.asarray((tenths + (left - right) * unit - 10 * unit * (left - right)) / 10.0)
