"""How coarsely fractions of an inch were entered, planted and found again."""

from collections.abc import Callable

import numpy as np
import pytest

from fitworth.matching.allowances import Rule
from fitworth.matching.groups.cells import Cells
from fitworth.matching.groups.fractions import coarse_u, with_coarse

INCH_MM = 25.4
Rules = Callable[..., tuple[Rule, ...]]


def read(step_in: float, count: int, seed: int) -> np.ndarray:
    """Return lengths read to a step [mm], as a column keeps them."""
    true_in = np.random.default_rng(seed).uniform(0.5, 2.5, count)
    return np.asarray(np.round(true_in / step_in) * step_in * INCH_MM, np.float32).astype(np.float64)


def cells(*columns: np.ndarray) -> Cells:
    value = np.stack(columns, axis=1)
    return Cells(value, np.where(np.isnan(value), 0.0, 0.03))


def denominator(value_mm: np.ndarray) -> np.ndarray:
    whole = np.round(value_mm / INCH_MM * 64).astype(int)
    return np.where(whole % 2, 64, np.where(whole % 4, 32, np.where(whole % 8, 16, 8)))


def test_metric_lengths_are_no_fractions(rules: Rules) -> None:
    metric = np.round(np.random.default_rng(1).uniform(10.0, 60.0, 400), 1)
    assert not coarse_u(cells(metric), rules("throttle_bore")).any()


def test_whole_millimetres_that_hit_a_fraction_by_chance_are_too_few(rules: Rules) -> None:
    metric = np.append(np.round(np.random.default_rng(1).uniform(10.0, 60.0, 95), 1), [25.4, 12.7, 50.8])
    assert not coarse_u(cells(metric), rules("throttle_bore")).any()


def test_what_is_no_length_or_not_listed_or_nought_is_no_fraction(rules: Rules) -> None:
    inches = read(1 / 64, 200, 2)
    inches[::4] = np.nan
    inches[1::4] = 0.0
    found = coarse_u(cells(inches, np.full(200, 12.7)), rules("throttle_bore", "leg_count"))
    assert not found[:, 1].any()
    assert not found[::4, 0].any()
    assert not found[1::4, 0].any()
    assert found[2::4, 0].all()


def test_a_sheet_without_anything_has_no_fractions(rules: Rules) -> None:
    assert not coarse_u(cells(np.full(3, np.nan)), rules("throttle_bore")).any()


def test_an_absurd_entry_is_no_fraction(rules: Rules) -> None:
    lengths = np.append(read(1 / 64, 50, 2), [1e9, 1e30])
    found = coarse_u(cells(lengths), rules("throttle_bore"))[:, 0]
    assert found[:50].all()
    assert not found[50:].any()


def test_lengths_all_read_to_sixty_fourths_are_as_good_as_that(rules: Rules) -> None:
    inches = read(1 / 64, 4_000, 3)
    found = coarse_u(cells(inches), rules("throttle_bore"))[:, 0]
    exact = INCH_MM / 64 / np.sqrt(12.0)  # 0.1146 mm
    assert found[denominator(inches) == 64] == pytest.approx(exact)
    # Chance makes a few more of the coarser ones than half, which then might have been read to them.
    assert found.max() < 1.35 * exact


def test_lengths_all_read_to_sixteenths_are_no_better_than_that(rules: Rules) -> None:
    inches = read(1 / 16, 4_000, 4)
    found = coarse_u(cells(inches), rules("throttle_bore"))[:, 0]
    exact = INCH_MM / 16 / np.sqrt(12.0)  # 0.458 mm
    assert found[denominator(inches) == 16] == pytest.approx(exact, rel=0.01)
    assert found.min() > 0.99 * exact


def test_where_half_were_read_to_sixteenths_each_denominator_says_how_likely_that_was(rules: Rules) -> None:
    inches = np.concatenate((read(1 / 64, 20_000, 5), read(1 / 16, 20_000, 6)))
    found = coarse_u(cells(inches), rules("throttle_bore"))[:, 0]
    variance = {step: (INCH_MM / step) ** 2 / 12.0 for step in (64, 16)}
    # Of those read to 1/64 an eighth end in sixteenths, of those read to 1/16 half do: by Bayes' rule 1 to 4.
    mixed = np.sqrt(0.2 * variance[64] + 0.8 * variance[16])
    of = denominator(inches)
    assert found[of == 64] == pytest.approx(np.sqrt(variance[64]))
    assert found[of == 16] == pytest.approx(mixed, rel=0.03)
    assert found[of == 8] == pytest.approx(mixed, rel=0.08)
    assert found[of == 32] == pytest.approx(np.sqrt(variance[64]), rel=0.15)


def test_a_cell_is_at_least_as_uncertain_as_it_was_entered() -> None:
    table = cells(np.array([12.7, 40.0]))
    coarse = np.array([[0.458], [0.0]])
    assert with_coarse(table, coarse).u.ravel().tolist() == [0.458, 0.03]
    assert with_coarse(table, 0.5 * coarse).u.ravel().tolist() == [0.229, 0.03]
    assert with_coarse(table, 0.0 * coarse).u.ravel().tolist() == [0.03, 0.03]
