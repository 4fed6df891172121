"""Groups that are put together and divided, by the formulas written out and by what must come of it."""

import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from scipy import stats

from fitworth.matching.groups.cells import Cells
from fitworth.matching.groups.learned import Learned
from fitworth.matching.groups.likeness import design_ratios
from fitworth.matching.groups.partition import NO_KIN, Partition, settle
from fitworth.matching.groups.reshape import merge, split

Taught = Callable[..., Learned]
U_MM = 0.03
SD_MM = math.hypot(U_MM, 0.05)


def cells(*rows: Sequence[float]) -> Cells:
    value = np.array(rows, np.float64)
    return Cells(value, np.where(np.isnan(value), 0.0, U_MM))


def gain(partition: Partition, first: int, second: int) -> float:
    """Return the log odds that two groups are one, so many parts of each telling them apart."""
    learned, centres = partition.learned, partition.gathered.centres
    same, changed = (
        ratio[0] for ratio in design_ratios(learned, centres.of(slice(0, 1)), centres.of(slice(1, 2)))
    )
    related = float(np.prod((1.0 - learned.changes) * same + learned.changes * changed))
    apart = (1.0 - learned.related) + learned.related / 2.0 * related
    seats = math.factorial(first + second - 1) / (math.factorial(first - 1) * math.factorial(second - 1))
    return math.log(float(np.prod(same)) / apart * seats / learned.concentration)


PARTNERS = np.array([[1], [0]])


def test_one_group_alone_is_merged_with_none(taught: Taught) -> None:
    partition = settle(cells([16.0], [16.0]), np.array([0, 0]), taught("throttle_bore"))
    assert merge(cells([16.0], [16.0]), partition, np.zeros((1, 0), int)).tolist() == [0, 0]


@pytest.mark.parametrize("off_mm", [0.0, 0.1, 0.2, 0.25, 0.3, 0.35, 0.4, 0.6, 1.0, 3.0])
def test_two_groups_are_merged_where_one_design_explains_both_better(taught: Taught, off_mm: float) -> None:
    learned = taught("throttle_bore")
    parts = cells(*[[22.0]] * 3, *[[22.0 + off_mm]] * 2)
    partition = settle(parts, np.array([0, 0, 0, 1, 1]), learned)
    one = merge(parts, partition, PARTNERS).max() == 0
    # Where they conflict, those who list the bore tell them apart; here all do.
    assert one == (gain(partition, 3, 2) > 0.0)


def test_the_nearest_sizes_are_merged_and_the_farthest_are_not(taught: Taught) -> None:
    learned = taught("throttle_bore")
    found = []
    for off_mm in (0.0, 3.0):
        parts = cells(*[[22.0]] * 3, *[[22.0 + off_mm]] * 2)
        found.append(merge(parts, settle(parts, np.array([0, 0, 0, 1, 1]), learned), PARTNERS).tolist())
    assert found == [[0, 0, 0, 0, 0], [0, 0, 0, 1, 1]]


def test_only_members_that_list_where_groups_conflict_keep_them_apart(taught: Taught) -> None:
    learned = taught("throttle_bore", "body_length")
    silent = [math.nan, 22.0]
    parts = cells([16.0, 22.0], *[silent] * 4, [24.0, 22.0], *[silent] * 4)
    partition = settle(parts, np.array([0] * 5 + [1] * 5), learned)
    assert gain(partition, 5, 5) > 0.0 > gain(partition, 1, 1)
    assert merge(parts, partition, PARTNERS).max() == 1


def test_a_group_is_merged_with_one_other_at_a_time(taught: Taught) -> None:
    parts = cells(*[[24.0, 22.0]] * 8)
    learned = taught("throttle_bore", "body_length")
    partition = settle(parts, np.repeat(np.arange(4), 2), learned)
    others = np.array([[1, 2, 3], [0, 2, 3], [0, 1, 3], [0, 1, 2]])
    labels = merge(parts, partition, others)
    assert sorted(np.bincount(labels).tolist()) == [4, 4]
    assert merge(parts, settle(parts, labels, learned), PARTNERS).max() == 0


def divided(
    taught: Taught, *bores: float, least_gain: float = 0.0
) -> tuple[list[int], list[int], list[float]]:
    parts = cells(*([bore] for bore in bores))
    found = split(settle(parts, np.zeros(len(bores), int), taught("throttle_bore"), NO_KIN), least_gain)
    return found.labels.tolist(), found.origin.tolist(), found.gain.tolist()


def test_one_wrong_cell_founds_no_group(taught: Taught) -> None:
    assert divided(taught, 16.0, 16.0, 16.0, 19.0) == ([0, 0, 0, 0], [], [])


def test_a_near_twin_with_several_members_is_divided_from_its_group(taught: Taught) -> None:
    labels, origin, gains = divided(taught, 16.0, 19.0, 16.0, 19.02, 16.0, 18.98, 16.0)
    assert (labels, origin) == ([0, 1, 0, 1, 0, 1, 0], [0])
    assert gains[0] > 3.0


def test_the_gain_of_a_division_is_that_of_a_relative_above_so_many_errors(taught: Taught) -> None:
    learned = taught("throttle_bore")
    _, _, gains = divided(taught, 16.0, 16.0, 16.0, 19.0, 19.1, least_gain=-99.0)
    usual, gross = learned.spreads[0].density, learned.spreads[0].gross
    errors = math.prod(0.02 * float(gross(size, SD_MM)) for size in (19.0, 19.1))
    place = 0.25 * float(usual(19.05, SD_MM)) + 0.75 * stats.t.pdf(3.05, 3, 0.0, 0.8)
    sound = place * stats.norm.pdf(0.1, 0.0, math.sqrt(2.0) * SD_MM)
    prior = 2.0 * 0.2 * 0.25  # concentration, relatives, dimensions changed
    seats = math.factorial(2) * math.factorial(1) / math.factorial(4)
    assert gains == pytest.approx([math.log(sound / errors * prior * seats)], abs=1e-6)


def test_what_gains_too_little_is_not_divided(taught: Taught) -> None:
    labels, origin, gains = divided(taught, 16.0, 16.0, 16.0, 19.0, 19.0, least_gain=99.0)
    assert (labels, origin, gains) == ([0, 0, 0, 0, 0], [], [])


def test_words_divide_a_group_too(taught: Taught) -> None:
    codes = Cells(np.array([[0.0]] * 5 + [[1.0]] * 4), np.zeros((9, 1)))
    found = split(settle(codes, np.zeros(9, int), taught("choke_type"), NO_KIN), 0.0)
    assert found.labels.tolist() == [0] * 5 + [1] * 4
    assert found.origin.tolist() == [0]


def test_a_group_is_divided_in_one_dimension_at_a_time(taught: Taught) -> None:
    parts = cells(*[[16.0, 22.0]] * 4, *[[19.0, 22.0]] * 3, *[[16.0, 16.0]] * 3, *[[24.0, 24.0]] * 4)
    labels = np.array([0] * 10 + [1] * 4)
    learned = taught("throttle_bore", "body_length")
    found = split(settle(parts, labels, learned, NO_KIN), 0.0)
    assert found.labels.tolist() == [0] * 4 + [2] * 3 + [0] * 3 + [1] * 4
    again = split(settle(parts, found.labels, learned, NO_KIN), 0.0)
    assert again.labels.tolist() == [0] * 4 + [2] * 3 + [3] * 3 + [1] * 4
    assert again.origin.tolist() == [0]
