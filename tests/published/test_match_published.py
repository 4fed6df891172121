"""Statistics that the match relies on, against published figures.

R: read in the source, C: recomputed with the library named, M: from memory.
"""

from fractions import Fraction

import numpy as np
import pytest
from rapidfuzz.distance import OSA, JaroWinkler, Levenshtein
from scipy.stats import t

from fitworth.matching.breakdown import odds_bits
from fitworth.matching.groups.likeness import probability_within
from fitworth.matching.groups.sizes import Wide
from fitworth.matching.numbers import DAMAGE


@pytest.mark.parametrize(
    ("m", "u", "agree", "differ"),
    [
        (0.996, 0.004, 7.9600, -7.9600),
        (0.97, 0.007, 7.1145, -5.0488),
        (0.97, 0.03, 5.0150, -5.0150),
        (0.999, 0.001, 9.9643, -9.9643),
    ],
)
def test_weights_of_agreement(m: float, u: float, agree: float, differ: float) -> None:
    # Fellegi and Sunter, log2(m/u) and log2((1-m)/(1-u)) (C).
    # A ratio is the odds that it turns even ones into.
    assert odds_bits(np.array(m / (m + u))) == pytest.approx(agree, abs=5e-5)
    assert odds_bits(np.array((1 - m) / ((1 - m) + (1 - u)))) == pytest.approx(differ, abs=5e-5)


@pytest.mark.parametrize(("sigmas", "within"), [(1, 0.6826894921), (2, 0.9544997361), (3, 0.9973002039)])
def test_normal_within_some_sigmas(sigmas: int, within: float) -> None:
    # Standard normal tables (C with SciPy).
    found = probability_within(
        np.array([-0.2 * sigmas]), np.array([0.2 * sigmas]), np.array([0.0]), np.array([0.2])
    )
    assert float(found[0]) == pytest.approx(within, abs=5e-11)


def test_the_wide_density_is_students_t_with_three_degrees_of_freedom() -> None:
    # scipy.stats.t (C).
    wide = Wide(20.0, 10.0)
    for value in (0.0, 19.0, 20.0, 37.5):
        assert float(wide.density(value, 4.0)) == pytest.approx(t.pdf(value, 3, loc=20.0, scale=5.0))


@pytest.mark.parametrize(
    ("first", "second", "winkler", "jaro"),
    [
        ("MARHTA", "MARTHA", Fraction(173, 180), Fraction(17, 18)),
        ("DWAYNE", "DUANE", Fraction(21, 25), Fraction(37, 45)),
        ("DIXON", "DICKSONX", Fraction(61, 75), Fraction(23, 30)),
        ("JONES", "JOHNSON", Fraction(437, 525), Fraction(83, 105)),
        ("SHACKLEFORD", "SHACKELFORD", Fraction(54, 55), Fraction(32, 33)),
    ],
)
def test_the_text_library_measures_as_published(
    first: str, second: str, winkler: Fraction, jaro: Fraction
) -> None:
    # Winkler's table, US Census RR94/05 (R; C with rapidfuzz); the Jaro column C.
    assert JaroWinkler.similarity(first, second) == pytest.approx(float(winkler), abs=1e-9)
    assert JaroWinkler.similarity(first, second, prefix_weight=0.0) == pytest.approx(float(jaro), abs=1e-9)


def test_optimal_string_alignment_edits_no_substring_twice() -> None:
    # CA to ABC: Levenshtein 3, optimal string alignment 3 (R, C); the unrestricted distance would be 2.
    assert Levenshtein.distance("CA", "ABC") == 3
    assert OSA.distance("CA", "ABC") == 3
    assert OSA.distance("MARHTA", "MARTHA") == 1
    assert DAMAGE.distance("MARHTA", "MARTHA") == DAMAGE.swapped
    assert DAMAGE.distance("CA", "ABC") == pytest.approx(DAMAGE.added + 2 * DAMAGE.dropped)
