"""The methods that are compared: the program, the oracle, and independent chances for each dimension."""

import time
from collections.abc import Sequence
from dataclasses import replace
from typing import Protocol

import numpy as np
from scipy.special import ndtr

from fitworth.matching.fit import find_fits
from fitworth.matching.parameters import FitModel
from fitworth.vocabulary import Kind
from tests.benchmarks.fit_quality.metrics import Ranked
from tests.benchmarks.fit_quality.oracle import Known
from tests.benchmarks.fit_quality.windows import Floats, Mask, ends_mm
from tests.benchmarks.fit_quality.worlds import MOST_CANDIDATES, Question, World

NO_HIDDEN_MISFIT = replace(FitModel(), unlisted_misfit=0.0)
"""The worlds have no misfit that no dimension records."""

USUAL_PAIRS = 4000  # pairs of parts by which an independent reader learns how often parts agree
SILENT = np.empty(0)


class Method(Protocol):
    """Something that answers questions about a world."""

    name: str

    def answer(self, world: World, questions: Sequence[Question]) -> list[Ranked]:
        """Return its answers."""


class Program:
    """What the program answers."""

    name = "fitworth"

    def __init__(self, model: FitModel = NO_HIDDEN_MISFIT) -> None:
        self.model = model

    def answer(self, world: World, questions: Sequence[Question]) -> list[Ranked]:
        """Return its answers with the time of each; one is asked beforehand so that all is warm."""
        find_fits(world.catalogue, questions[0].query, self.model)
        return [self._answer(world, question) for question in questions]

    def _answer(self, world: World, question: Question) -> Ranked:
        start = time.perf_counter()
        answer = find_fits(world.catalogue, question.query, self.model)
        spent_ms = (time.perf_counter() - start) * 1000.0
        fits = answer.fits[:MOST_CANDIDATES]
        return Ranked(
            rows=np.array([fit.part_id - 1 for fit in fits]),
            confidence=np.array([fit.fit_confidence for fit in fits]),
            nothing_fits=answer.nothing_on_file_fits,
            as_it_comes=np.array([fit.fit_confidence - fit.with_work.probability for fit in fits]),
            ms=spent_ms,
        )


def ranked(confidence: Floats, nothing_fits: float | None = None) -> Ranked:
    """Return the first candidates by confidence; without a word on nothing, no candidate is the rest to 1."""
    rows = np.argsort(-confidence, kind="stable")[:MOST_CANDIDATES]
    rest = 1.0 - float(confidence.max()) if nothing_fits is None else nothing_fits
    return Ranked(rows, confidence[rows], rest, SILENT)


class Exact:
    """The oracle's answers, worked out before."""

    name = "oracle"

    def __init__(self, known: Sequence[Known]) -> None:
        self._known = iter(known)

    def answer(self, world: World, questions: Sequence[Question]) -> list[Ranked]:
        """Return the answers of the next questions."""
        found = [next(self._known) for _ in questions]
        return [ranked(known.fits, known.none_fits) for known in found]


class Independent:
    """Each dimension by itself: its probability of agreeing, multiplied; holes agree as often as parts do."""

    name = "independent"

    def answer(self, world: World, questions: Sequence[Question]) -> list[Ranked]:
        """Return its answers."""
        usual = _usual_agreement(world)
        return [ranked(self._confidence(world, question, usual)) for question in questions]

    def _confidence(self, world: World, question: Question, usual: dict[str, float]) -> Floats:
        chance = np.ones(len(world.catalogue))
        recipe = world.recipe
        scatter_mm = min(sd for _, sd in recipe.scatter)
        for dimension, read in zip(world.palette.lengths, question.read_mm.tolist(), strict=True):
            listed, u = (column.astype(np.float64) for column in world.catalogue.numbers(dimension.key))
            low, high = _bridged(world, dimension.key, read)
            spread = np.sqrt(u**2 + recipe.measured_u_mm**2 + 2.0 * scatter_mm**2)
            differs = listed - read
            within = ndtr((high - differs) / spread) - ndtr((low - differs) / spread)
            gross = recipe.gross_listed + recipe.gross_measured
            agrees = (1.0 - gross) * within + gross * usual[dimension.key]
            chance *= np.where(np.isnan(agrees), usual[dimension.key], agrees)
        wrong = recipe.word_wrong_listed + recipe.word_wrong_measured
        for place, read_code in enumerate(question.read_codes.tolist()):
            dimension = world.palette.words[place]
            codes = _listed_codes(world, place)
            does = world.does[place][codes, read_code]
            agrees = (1.0 - wrong) * does + wrong * usual[dimension.key]
            chance *= np.where((codes < 0) | (read_code < 0), usual[dimension.key], agrees)
        return chance


def _bridged(world: World, key: str, size_mm: float) -> tuple[float, float]:
    """Return the differences that allowance and cure cover together [mm]."""
    dimension = world.family.by_key[key]
    low, high = ends_mm(dimension, size_mm)
    if dimension.cure:
        low, high = min(low, dimension.cure.low), max(high, dimension.cure.high)
    return low, high


def _listed_codes(world: World, place: int) -> np.ndarray:
    """Return the places of the listed words, -1 where none is listed."""
    dimension = world.palette.words[place]
    if dimension.kind is not Kind.COUNT:
        return world.catalogue.codes(dimension.key)
    listed, _ = world.catalogue.numbers(dimension.key)
    codes = np.full(len(listed), -1)
    for code, count in enumerate(world.palette.values[place]):
        codes[listed == count] = code
    return codes


def _usual_agreement(world: World) -> dict[str, float]:
    """Return how often the listed values of two parts agree, by dimension."""
    rng = np.random.default_rng(len(world.catalogue))
    old, new = rng.integers(len(world.catalogue), size=(2, USUAL_PAIRS))
    usual = {}
    for dimension in world.palette.lengths:
        listed = world.catalogue.numbers(dimension.key)[0].astype(np.float64)
        low, high = _bridged(world, dimension.key, float(np.nanmean(listed)))
        differs = listed[new] - listed[old]
        usual[dimension.key] = _share((differs >= low) & (differs <= high), ~np.isnan(differs))
    for place, dimension in enumerate(world.palette.words):
        codes = _listed_codes(world, place)
        known = (codes[new] >= 0) & (codes[old] >= 0)
        usual[dimension.key] = _share(world.does[place][codes[new], codes[old]], known)
    return usual


def _share(agrees: Mask, known: Mask) -> float:
    return float((agrees & known).sum() + 1.0) / float(known.sum() + 2.0)
