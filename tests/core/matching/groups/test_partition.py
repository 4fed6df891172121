"""Where parts belong, by Bayes' rule written out on designs of a few cells."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitworth.matching.groups.cells import Cells
from fitworth.matching.groups.centres import Centres
from fitworth.matching.groups.learned import Learned
from fitworth.matching.groups.likeness import design_ratios, reading_ratios
from fitworth.matching.groups.partition import (
    Kin,
    fill_in,
    find_kin,
    likely_partners,
    reassign,
    settle,
    weigh_choices,
    without_gaps,
)
from fitworth.matching.groups.scores import tables_of

Taught = Callable[..., Learned]
Designs = Callable[..., Centres]
EXACT = {"scatter": np.full(2, 0.04), "usual_u": np.full(2, 0.03)}  # together 0.05 mm


def cells(*rows: tuple[float, ...]) -> Cells:
    """Return cells on the grid to which entries are looked up: sixtieths of a millimetre, see EXACT."""
    value = np.array(rows, np.float64)
    return Cells(value, np.where(np.isnan(value), 0.0, 0.05))


def score(learned: Learned, part: Cells, row: int, centres: Centres, group: int) -> tuple[float, float]:
    """Return the Bayes factors of one part against one design, of being it and of being its relative."""
    same = related = 1.0
    for dim in np.flatnonzero(part.listed[row]).tolist():
        design = Centres(
            *(side[group : group + 1, dim] for side in (centres.value, centres.variance, centres.share))
        )
        value, u = part.value[row, dim : dim + 1], part.u[row, dim : dim + 1]
        one, other = reading_ratios(learned, dim, value, u, design, learned.error(dim))
        same *= float(one[0])
        related *= float((1.0 - learned.changes) * one[0] + learned.changes * other[0])
    return same, related


TWO = cells((16.0, 60.0), (16.05, 60.0), (22.0, 65.0), (22.0, np.nan), (22.05, 65.0), (16.0, 65.0))
LABELS = np.array([0, 0, 1, 1, 1, -1])


def test_a_part_in_no_group_chooses_by_bayes_rule(taught: Taught) -> None:
    learned = taught("throttle_bore", "body_length", **EXACT)
    partition = settle(TWO, LABELS, learned, Kin(np.array([-1, -1]), np.zeros(2)))
    found = weigh_choices(TWO, np.array([5]), partition)
    scores = [score(learned, TWO, 5, partition.filled, group) for group in (0, 1)]
    joins = [2.0 * scores[0][0], 3.0 * scores[1][0]]
    founds = 2.0 * (0.8 + 0.2 * (scores[0][1] + scores[1][1]) / 2.0)
    assert np.exp(found.groups[0]) == pytest.approx(joins, rel=1e-3)
    assert np.exp(found.new[0]) == pytest.approx(founds, rel=1e-3)


def test_a_part_weighs_its_own_group_as_the_others_make_it(taught: Taught) -> None:
    learned = taught("throttle_bore", "body_length", **EXACT)
    partition = settle(TWO, LABELS, learned, Kin(np.array([-1, -1]), np.zeros(2)))
    found = weigh_choices(TWO, np.array([0]), partition)
    without = LABELS.copy()
    without[0] = -1
    others = settle(TWO, without, learned, Kin(np.array([-1, -1]), np.zeros(2)))
    same, _ = score(learned, TWO, 0, others.filled, 0)
    assert found.groups[0, 0] == pytest.approx(np.log(same), rel=1e-3)
    assert found.groups[0, 0] > found.groups[0, 1]


def test_nobody_stays_in_a_group_of_which_nobody_else_is(taught: Taught) -> None:
    learned = taught("throttle_bore", "body_length")
    partition = settle(TWO, np.array([0, 0, 1, 1, 1, 2]), learned)
    found = weigh_choices(TWO, np.array([5, 0]), partition)
    assert found.groups[0, 2] == -np.inf
    assert np.isfinite(found.groups[1]).all()
    assert np.isfinite(found.new).all()


def test_tables_at_hand_make_no_difference(taught: Taught) -> None:
    learned = taught("throttle_bore", "body_length")
    partition = settle(TWO, LABELS, learned)
    rows = np.array([5, 1, 3])
    plain = weigh_choices(TWO, rows, partition)
    quick = weigh_choices(TWO, rows, partition, tables_of(TWO, learned, partition.filled))
    assert quick.groups == pytest.approx(plain.groups, rel=1e-5)
    assert quick.new == pytest.approx(plain.new, rel=1e-5)


def test_a_part_that_lists_nothing_joins_by_the_sizes_of_the_groups_alone(taught: Taught) -> None:
    learned = taught("throttle_bore", "body_length")
    silent = cells((16.0, 60.0), (16.05, 60.0), (22.0, 65.0), (np.nan, np.nan))
    found = weigh_choices(silent, np.array([3]), settle(silent, np.array([0, 0, 1, -1]), learned))
    assert np.exp(found.groups[0]) == pytest.approx([2.0, 1.0])
    assert np.exp(found.new[0]) == pytest.approx(learned.concentration)


def test_at_no_temperature_the_likeliest_is_taken(taught: Taught) -> None:
    learned = taught("throttle_bore", "body_length")
    parts = cells(*TWO.value[:5].tolist(), (22.0, 65.0), (24.0, 70.0), (24.0, 70.0))
    partition = settle(parts, np.array([0, 0, 1, 1, 1, -1, -1, -1]), learned)
    labels = reassign(parts, np.array([5, 6, 7, 0]), partition, 0.0, np.random.default_rng(1))
    assert labels.tolist() == [0, 0, 1, 1, 1, 1, 2, 3]  # all who choose at once found a group each


def test_at_full_temperature_each_choice_is_drawn_as_often_as_it_is_likely(taught: Taught) -> None:
    learned = taught("throttle_bore")
    count = 6_000
    parts = cells((16.0,), (16.0,), (16.2,), *[(16.16,)] * count)
    partition = settle(parts, np.array([0, 0, 1, *[-1] * count]), learned)
    rows = np.arange(3, 3 + count)
    choices = weigh_choices(parts, rows[:1], partition)
    logs = np.append(choices.groups[0], choices.new[0])
    for temperature in (1.0, 0.5):
        labels = reassign(parts, rows, partition, temperature, np.random.default_rng(1))[3:]
        weights = np.exp((logs - logs.max()) / temperature)
        drawn = np.bincount(np.minimum(labels, 2), minlength=3) / count
        assert drawn == pytest.approx(weights / weights.sum(), abs=0.025)


@given(st.lists(st.integers(-1, 9), min_size=1, max_size=20))
def test_labels_without_gaps_keep_who_is_with_whom(labels: list[int]) -> None:
    before, after = np.array(labels), without_gaps(np.array(labels))
    assert ((before[:, None] == before) == (after[:, None] == after)).all()
    placed = after[after >= 0]
    assert ((before < 0) == (after < 0)).all()
    assert sorted(set(placed.tolist())) == list(range(len(set(placed.tolist()))))


def test_a_group_has_no_partner_where_it_is_the_only_one(taught: Taught, designs: Designs) -> None:
    learned, alone = taught("throttle_bore"), designs([[(19.0, 0.002, 0.9)]])
    partners = likely_partners(alone, learned)
    assert partners.shape == (1, 0)
    kin = find_kin(alone, np.array([3]), partners, learned)
    assert (kin.parent.tolist(), kin.share.tolist()) == ([-1], [0.0])


def test_partners_are_the_groups_most_alike_and_never_the_group_itself(
    taught: Taught, designs: Designs
) -> None:
    learned = taught("throttle_bore", "body_length")
    bores = np.linspace(15.0, 24.0, 12)
    some = designs(*([[(bore, 0.002, 0.95)], [(50.0 + bore, 0.002, 0.95)]] for bore in bores.tolist()))
    partners = likely_partners(some, learned)
    assert partners.shape == (12, 8)
    for group in range(12):
        assert group not in partners[group]
        assert {group - 1, group + 1} & set(range(12)) <= set(partners[group].tolist())


def test_the_nearest_larger_relative_is_a_groups_parent(taught: Taught, designs: Designs) -> None:
    learned = taught("throttle_bore", "body_length", "pole_radius")
    three = designs(
        [[(16.0, 0.002, 0.98)], [(24.0, 0.002, 0.98)], [(15.0, 0.002, 0.98)]],
        [[(16.0, 0.002, 0.98)], [(24.0, 0.002, 0.98)], [(22.0, 0.002, 0.98)]],
        [[(19.0, 0.002, 0.98)], [(16.0, 0.002, 0.98)], [(24.0, 0.002, 0.98)]],
    )
    size = np.array([5, 2, 2])
    partners = np.array([[1, 2], [0, 2], [0, 1]])
    kin = find_kin(three, size, partners, learned)
    assert kin.parent.tolist()[:2] == [-1, 0]  # the largest has no larger one
    same, changed = design_ratios(learned, three.of(np.array([1])), three.of(np.array([0])))
    factor = float(np.prod(0.75 * same + 0.25 * changed))
    odds = (0.2 / 3) * factor / 0.8
    assert kin.share[1] == pytest.approx(odds / (1.0 + odds))
    assert kin.share[1] > 5.0 * kin.share[2] > 0.0
    assert kin.share[0] == 0.0


def test_of_groups_as_large_the_earlier_is_the_parent(taught: Taught, designs: Designs) -> None:
    learned = taught("throttle_bore")
    two = designs([[(16.0, 0.002, 0.98)]], [[(16.0, 0.002, 0.98)]])
    kin = find_kin(two, np.array([3, 3]), np.array([[1], [0]]), learned)
    assert kin.parent.tolist() == [-1, 0]


def test_a_silent_dimension_is_that_of_the_relative_as_far_as_it_is_one(
    taught: Taught, designs: Designs
) -> None:
    learned = taught("throttle_bore", "body_length")
    own = designs([[(16.0, 0.002, 0.98)], []])
    parent = designs([[(19.0, 0.002, 0.98)], [(60.0, 0.001, 0.9), (66.0, 0.001, 0.05)]])
    filled = fill_in(own, parent, np.array([0.8]), learned)
    assert filled.value[0, 1].max() == 60.0
    assert filled.share[0, 1].max() == pytest.approx(0.8 * 0.75 * 0.9)
    assert filled.share[0, 0].max() == 0.98
    assert own.share[0, 1].max() == 0.0  # what was given stays as it was
    alone = fill_in(own, parent, np.array([0.0]), learned)
    assert alone.share.tolist() == own.share.tolist()


def test_a_division_keeps_the_kin_that_is_known_and_new_groups_have_none(taught: Taught) -> None:
    learned = taught("throttle_bore", "body_length")
    kin = Kin(np.array([-1, 0, 3]), np.array([0.0, 0.7, 0.6]))
    more = settle(TWO, np.array([0, 0, 1, 1, 2, 3]), learned, kin)
    assert more.kin.parent.tolist() == [-1, 0, 3, -1]
    assert more.kin.share.tolist() == [0.0, 0.7, 0.6, 0.0]
    assert more.size.tolist() == [2, 2, 1, 1]
    fewer = settle(TWO, np.array([0, 0, 1, 1, 2, -1]), learned, kin)
    assert fewer.kin.parent.tolist() == [-1, 0, -1]
    # Where the relative is gone it fills nothing in.
    assert fewer.filled.share[2].tolist() == fewer.gathered.centres.share[2].tolist()
    least = settle(TWO, np.array([0, 0, 1, 1, -1, -1]), learned, kin)
    assert least.kin.parent.tolist() == [-1, 0]
