"""How usual sizes and words are, against the predictive written out and against scipy's densities."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from fitworth.matching.groups.sizes import CLASS, Sizes, Wide, sizes_of, student_density, wide_of, words_of

KERNEL_MM = CLASS**-10  # one for which a smoothed grid is kept, 0.107 mm
LISTED_MM = np.array([20.0] * 10 + [25.0] * 5 + [31.0, 36.0])


def predictive(size_mm: float, u_mm: float) -> float:
    """Return the density of a size by the process written out for LISTED_MM: peaks, fresh sizes, anywhere."""
    discount, strength = (2 + 1) / (4 + 2), 1.0  # two sizes of four that one design alone has
    peaks = {20.0: 10, 25.0: 5, 31.0: 1, 36.0: 1}
    wide = wide_of(LISTED_MM, 0.25)
    shares = {size: (count - discount) / (17 + strength) for size, count in peaks.items()}
    fresh = (strength + discount * len(peaks)) / (17 + strength)
    assert sum(shares.values()) + fresh == pytest.approx(1.0)
    kernel = 0.9 * min(LISTED_MM.std(), wide.spread / 3.0) * len(peaks) ** -0.2
    density = sum(share * stats.norm.pdf(size_mm, size, u_mm) for size, share in shares.items())
    # Of n sizes in no order the next is the largest or the smallest with probability 2 / (n + 1).
    beyond = min(0.5, max(0.1, 2.0 / (len(peaks) + 1.0)))
    density += (1.0 - beyond) * fresh * np.mean([stats.norm.pdf(size_mm, size, kernel) for size in peaks])
    scale = np.hypot(0.3 * wide.spread, u_mm)
    return float(density + beyond * fresh * stats.t.pdf(size_mm, 3, wide.centre, scale))


@given(st.floats(-1e3, 1e3), st.floats(1e-3, 1e3))
def test_a_wide_spread_is_students_t_with_three_degrees_of_freedom(far: float, scale: float) -> None:
    assert student_density(np.array(far), scale) == pytest.approx(stats.t.pdf(far, 3, 0.0, scale), rel=1e-9)


def test_however_absurd_an_entry_its_density_is_not_zero() -> None:
    wide = Wide(20.0, 5.0)
    assert wide.density(1e30, 0.1) == pytest.approx(1e-20)
    assert wide.density([20.0, 1e30], [0.1, 1e3]).min() > 0.0


def test_a_spread_reaches_from_the_low_sizes_to_the_high_ones() -> None:
    wide = wide_of(np.linspace(10.0, 30.0, 2001), 0.25)
    assert (wide.centre, wide.spread) == pytest.approx((20.0, 20.0))


@pytest.mark.parametrize(
    ("listed", "least"), [([40.0], 10.0), ([40.0, 40.0], 10.0), ([0.0], 0.25), ([-8.0], 2.0)]
)
def test_a_short_list_varies_as_much_as_a_dimension_varies_at_least(
    listed: list[float], least: float
) -> None:
    assert wide_of(np.array(listed), 0.25).spread == pytest.approx(least)


@pytest.mark.parametrize("size_mm", [20.0, 20.1, 20.3, 23.0, 25.0, 31.0, 33.0, 36.2, 45.0, 60.0])
def test_sizes_follow_the_pitman_yor_predictive(size_mm: float) -> None:
    sizes = sizes_of(LISTED_MM, 0.25, 0.06)
    found = float(sizes.density(size_mm, KERNEL_MM))
    # A peak lies at the nearest point of the grid, up to half a step from its size.
    near = [predictive(size_mm + off, KERNEL_MM) for off in np.linspace(-0.5, 0.5, 11) * sizes.step]
    # What is far from all on file is drawn by straight lines between a few points.
    assert 0.98 * min(near) - 2e-5 < found < 1.02 * max(near) + 2e-5


def test_the_popular_size_stands_above_one_that_a_design_has_alone() -> None:
    sizes = sizes_of(LISTED_MM, 0.25, 0.06)
    popular, less, alone, nowhere = sizes.density([20.0, 25.0, 31.0, 28.0], KERNEL_MM)
    assert popular > 1.9 * less > 10.0 * alone > 20.0 * nowhere > 0.0


@settings(max_examples=30, deadline=None)
@given(st.lists(st.floats(10.0, 90.0), min_size=1, max_size=30), st.floats(0.02, 0.5))
def test_a_density_of_sizes_adds_up_to_one(listed: list[float], u_mm: float) -> None:
    sizes = sizes_of(np.array(listed), 0.25, u_mm)
    x = np.arange(-1_000.0, 1_000.0, 0.01)
    assert sizes.density(x, u_mm).sum() * 0.01 == pytest.approx(1.0, abs=0.02)


def test_readings_of_different_worth_are_each_looked_up_with_their_own() -> None:
    sizes = sizes_of(LISTED_MM, 0.25, 0.06)
    values, worth = np.array([[20.0, 20.1], [25.0, 80.0]]), np.array([[0.05, 0.2], [0.6, 0.05]])
    each = [
        [float(sizes.density(v, u)) for v, u in zip(*row, strict=True)]
        for row in zip(values, worth, strict=True)
    ]
    assert sizes.density(values, worth) == pytest.approx(np.array(each))
    assert sizes.density(values, worth[:1]).shape == (2, 2)
    assert sizes.density(np.zeros(0), np.zeros(0)).shape == (0,)


def test_a_less_certain_reading_sees_lower_and_broader_peaks() -> None:
    sizes = sizes_of(LISTED_MM, 0.25, 0.06)
    top, shoulder = sizes.density([20.0, 20.8], [0.05, 0.05]), sizes.density([20.0, 20.8], [0.6, 0.6])
    assert top[0] > shoulder[0]
    assert top[1] < shoulder[1]


def test_an_absurd_entry_makes_itself_no_peak_and_leaves_the_others_as_they_are() -> None:
    plain = sizes_of(LISTED_MM, 0.25, 0.06)
    slipped = sizes_of(np.append(LISTED_MM, 2_000.0), 0.25, 0.06)
    assert slipped.density(20.0, KERNEL_MM) == pytest.approx(plain.density(20.0, KERNEL_MM), rel=0.1)
    assert slipped.density(2_000.0, KERNEL_MM) < 1e-6
    assert len(slipped.peaks) < 3 * len(plain.peaks)


def test_a_dimension_with_a_huge_range_gets_a_coarser_grid() -> None:
    sizes = sizes_of(np.linspace(0.0, 1e6, 50), 0.25, 0.01)
    assert len(sizes.peaks) <= 100_002
    assert sizes.density(5e5, 0.01) > 0.0


def test_a_gross_error_lands_anywhere_whatever_is_popular() -> None:
    sizes = sizes_of(LISTED_MM, 0.25, 0.06)
    assert sizes.gross(20.0, 0.1) == pytest.approx(float(sizes.wide.density(20.0, 0.1)))
    assert sizes.gross(22.0, 0.1) > 0.5 * sizes.gross(20.0, 0.1)


def test_one_size_alone_is_a_design_of_which_there_may_be_others() -> None:
    sizes = sizes_of(np.array([19.0]), 0.25, 0.06)
    assert isinstance(sizes, Sizes)
    assert sizes.density(19.0, 0.06) > 5.0 * sizes.density(19.8, 0.06) > 0.0


def test_words_have_the_shares_of_the_designs_with_half_a_count_for_each() -> None:
    words = words_of(np.array([0.0, 0.0, 0.0, 2.0]), 3)
    assert words.density([0.0, 1.0, 2.0], 0.0) == pytest.approx(np.array([3.5, 0.5, 1.5]) / 6.0)
    assert words.shares.sum() == pytest.approx(1.0)
    assert words.density([7.0, -2.0, np.nan], 0.0) == pytest.approx(0.5 / 6.0)
    assert words.gross(0.0, 0.0) == words.density(0.0, 0.0)


def test_texts_have_as_many_words_as_are_on_file() -> None:
    assert words_of(np.array([0.0, 4.0]), 0).shares == pytest.approx(
        np.array([1.5, 0.5, 0.5, 0.5, 1.5, 0.5]) / 5.0
    )
    assert words_of(np.zeros(0), 0).shares == pytest.approx(np.array([1.0]))
