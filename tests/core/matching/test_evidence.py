"""Numbers and engines as evidence."""

from collections.abc import Callable

import numpy as np
import pytest

from fitworth.matching.catalogue import Catalogue
from fitworth.matching.evidence import NumberEvidence, engine_ratio, number_ratio
from fitworth.matching.numbers import NumberMatch
from fitworth.matching.parameters import FitModel

MODEL = FitModel()
Filled = Callable[..., Catalogue]


def read(**similarities: float) -> NumberEvidence:
    return NumberEvidence("marking", {int(k[1:]): NumberMatch("708", s) for k, s in similarities.items()})


def test_a_match_that_is_not_on_file_is_passed_over(filled: Filled) -> None:
    found = number_ratio(filled(*[{}] * 3), read(p9=1.0), MODEL)
    assert found.ratio.tolist() == [0.5, 0.5, 0.5]


def test_a_number_read_in_full_speaks_louder_on_a_long_file(filled: Filled) -> None:
    short, long = (number_ratio(filled(*[{}] * n), read(p1=1.0), MODEL) for n in (4, 400))
    assert long.ratio[0] > short.ratio[0] > 1.0 > short.ratio[1]
    assert short.ratio[0] == pytest.approx(0.5 + 0.5 * 4 / 2)


def test_two_numbers_as_like_share_what_one_says(filled: Filled) -> None:
    catalogue = filled(*[{}] * 10)
    alone = number_ratio(catalogue, read(p1=0.9), MODEL).ratio[0]
    shared = number_ratio(catalogue, read(p1=0.9, p2=0.9), MODEL).ratio
    assert alone > shared[0] == shared[1] > shared[2]


def test_nothing_stated_says_nothing(filled: Filled) -> None:
    found = engine_ratio(filled({}, {}), "Harrowmere H206", MODEL)
    assert found.ratio.tolist() == [1.0, 1.0]
    assert found.silent.all()


def test_a_listing_that_names_the_engine_speaks_for_its_part(filled: Filled) -> None:
    stated = [["Harrowmere H206", "Ostler 163"], ["Harrowmere H389"], [], ["Vennor V88"], ["H 206"]]
    found = engine_ratio(filled(*[{}] * 5, stated=stated), "harrowmere h206", MODEL)
    named, other, silent, stranger, spaced = found.ratio
    assert named > silent == 1.0 > other >= stranger
    assert found.similarity[0] == 1.0
    assert found.silent.tolist() == [False, False, True, False, False]
    assert spaced < named


def test_an_engine_that_every_listing_names_tells_nothing_against_them(filled: Filled) -> None:
    found = engine_ratio(filled(*[{}] * 9, stated=[["H206"]] * 9), "H206", MODEL)
    assert np.all(found.ratio == 1.0)
