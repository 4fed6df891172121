"""To which groups parts belong, softly, by the weights of their choices."""

from collections.abc import Callable

import numpy as np
import pytest

from fitworth.matching.groups.cells import Cells
from fitworth.matching.groups.learned import Learned
from fitworth.matching.groups.membership import MEMBERSHIPS, TEMPERED, Members, members_of
from fitworth.matching.groups.partition import settle, weigh_choices

Taught = Callable[..., Learned]


def column(*sizes: float) -> Cells:
    value = np.array(sizes, np.float64)[:, None]
    return Cells(value, np.where(np.isnan(value), 0.0, 0.03))


PARTS = column(16.0, 16.05, 16.1, 16.3, 16.35, np.nan)
LABELS = np.array([0, 0, 0, 1, 1, 0])
SURE, OWN = np.ones(2), np.arange(2)


def test_memberships_are_the_tempered_weights_of_the_choices(taught: Taught) -> None:
    partition = settle(PARTS, LABELS, taught("throttle_bore"))
    rows = np.arange(6)
    found = members_of(PARTS, rows, partition, SURE, OWN)
    choices = weigh_choices(PARTS, rows, partition)
    for row in rows.tolist():
        weights = np.exp(TEMPERED * np.append(choices.groups[row], choices.new[row]))
        weights /= weights.sum()
        shares = [float(found.share[row, found.group[row] == group].sum()) for group in (0, 1)]
        assert [*shares, float(found.alone[row])] == pytest.approx(weights.tolist(), rel=1e-4, abs=1e-6)


def test_a_part_that_lists_nothing_is_of_any_group_by_its_size(taught: Taught) -> None:
    learned = taught("throttle_bore")
    found = members_of(PARTS, np.array([5]), settle(PARTS, LABELS, learned), SURE, OWN)
    weights = np.array([3.0, 2.0, learned.concentration]) ** TEMPERED  # it is none of the three itself
    shares = [float(found.share[0, found.group[0] == group].sum()) for group in (0, 1)]
    assert [*shares, float(found.alone[0])] == pytest.approx((weights / weights.sum()).tolist(), rel=1e-4)


def test_a_group_in_doubt_lends_its_members_to_the_one_that_it_was_split_from(taught: Taught) -> None:
    partition = settle(PARTS, LABELS, taught("throttle_bore"))
    rows = np.arange(6)
    sure = members_of(PARTS, rows, partition, SURE, OWN)
    doubtful = members_of(PARTS, rows, partition, np.array([1.0, 0.6]), np.array([0, 0]))

    def of(group: int, members: Members) -> np.ndarray:
        return np.asarray(np.where(members.group == group, members.share, 0.0).sum(axis=1))

    assert of(1, doubtful) == pytest.approx(0.6 * of(1, sure))
    assert of(0, doubtful) == pytest.approx(of(0, sure) + 0.4 * of(1, sure))
    assert doubtful.alone.tolist() == sure.alone.tolist()


def test_of_many_groups_the_likeliest_few_are_kept(taught: Taught) -> None:
    sizes = np.linspace(15.0, 24.0, 10)
    parts = column(*np.repeat(sizes, 3).tolist())
    partition = settle(parts, np.repeat(np.arange(10), 3), taught("throttle_bore"))
    found = members_of(parts, np.arange(30), partition, np.ones(10), np.arange(10))
    assert found.group.shape == (30, 2 * MEMBERSHIPS)
    assert (found.group[:, :MEMBERSHIPS] == partition.labels[:, None]).any(axis=1).all()
    whole = found.share.sum(axis=1) + found.alone
    assert whole.max() <= 1.0 + 1e-6
    assert whole.min() > 0.95
