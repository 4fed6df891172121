"""What members of a group say together, against an enumeration of which of their cells are wrong."""

import itertools
import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from fitworth.matching.groups.cells import Cells
from fitworth.matching.groups.centres import Centres, gather, left_out
from fitworth.matching.groups.learned import Learned

Taught = Callable[..., Learned]
U_MM = 0.03


def column(*values: float, u: float = U_MM) -> Cells:
    value = np.array(values, np.float64)[:, None]
    return Cells(value, np.where(np.isnan(value), 0.0, u))


def runs_among(values: Sequence[float]) -> list[set[int]]:
    """Return which of some cells agree, within a millimetre."""
    found: list[set[int]] = []
    for place in sorted(range(len(values)), key=lambda one: values[one]):
        if found and values[place] - max(values[one] for one in found[-1]) < 1.0:
            found[-1].add(place)
        else:
            found.append({place})
    return found


def enumerated(values: Sequence[float], learned: Learned, *, whole_runs: bool) -> list[float]:
    """Return the probability of each run of cells, by all ways in which cells may be wrong.

    The size that sound cells share is integrated over numerically.

    Args:
        values: of the cells.
        learned: the shares.
        whole_runs: leave out the ways by which only some cells of a run are wrong.
    """
    spread, sd = learned.spreads[0], math.hypot(U_MM, learned.scatter[0])
    wrong = [learned.gross * float(spread.gross(value, sd)) for value in values]
    runs = runs_among(values)
    weights = [0.0] * (len(runs) + 1)
    for sound in itertools.product((False, True), repeat=len(values)):
        good = {place for place, one in enumerate(sound) if one}
        home = [place for place, run in enumerate(runs) if good and good <= run]
        if (good and not home) or (whole_runs and good and good not in runs):
            continue
        weight = math.prod(one for place, one in enumerate(wrong) if place not in good)
        if good:
            mean = sum(values[place] for place in good) / len(good)
            u = math.hypot(sd / math.sqrt(len(good)), learned.scatter[0])
            likelihood = integrate.quad(
                lambda size, good=good: math.prod(stats.norm.pdf(values[one], size, sd) for one in good),
                mean - 10.0 * sd,
                mean + 10.0 * sd,
                epsabs=0.0,
                epsrel=1e-11,
            )[0]
            weight *= (1.0 - learned.gross) ** len(good) * float(spread.density(mean, u)) * likelihood
        weights[home[0] if good else -1] += weight
    return [weight / sum(weights) for weight in weights[:-1]]


@pytest.mark.parametrize(
    "values", [(22.0,), (22.0, 22.05), (22.0, 22.05, 19.0), (16.0, 16.1, 22.0, 22.02, 22.05)]
)
def test_shares_of_runs_are_those_of_an_enumeration_of_which_are_wrong(
    taught: Taught, values: tuple[float, ...]
) -> None:
    learned = taught("throttle_bore")
    found = gather(column(*values), np.zeros(len(values), int), 1, learned).centres
    shares = enumerated(values, learned, whole_runs=True)
    at = [sum(values[one] for one in run) / len(run) for run in runs_among(values)]
    by_value = dict(zip(found.value[0, 0].tolist(), found.share[0, 0].tolist(), strict=True))
    for mean, share in zip(at, shares, strict=True):
        key = min(by_value, key=lambda one: abs(one - mean))
        assert key == pytest.approx(mean, abs=1e-9)
        assert by_value[key] == pytest.approx(share, abs=1e-9)


def test_cells_that_agree_are_hardly_ever_wrong_in_part(taught: Taught) -> None:
    values, learned = (22.0, 22.05, 19.0), taught("throttle_bore")
    all_ways = enumerated(values, learned, whole_runs=False)
    assert enumerated(values, learned, whole_runs=True) == pytest.approx(all_ways, abs=1e-4)


def test_shares_of_words_are_those_of_an_enumeration_of_which_are_wrong(taught: Taught) -> None:
    learned, codes = taught("choke_type"), (0, 0, 1)
    found = gather(column(*codes, u=0.0), np.zeros(3, int), 1, learned).centres
    usual = learned.spreads[0].density([0.0, 1.0, 2.0], 0.0)
    weights = dict.fromkeys((0, 1), 0.0)
    for word in weights:
        for wrong in itertools.product((False, True), repeat=3):
            chances = [
                learned.wrong * usual[code] if astray else (1.0 - learned.wrong) * (code == word)
                for code, astray in zip(codes, wrong, strict=True)
            ]
            weights[word] += float(usual[word] * math.prod(chances))
    whole = sum(weights.values()) + math.prod(learned.wrong * usual[code] for code in codes)
    assert found.value[0, 0].tolist() == [0.0, 1.0]
    assert found.share[0, 0] == pytest.approx([weights[0] / whole, weights[1] / whole], abs=1e-9)
    assert found.variance[0, 0].tolist() == [0.0, 0.0]


def test_several_that_agree_outweigh_one_that_does_not(taught: Taught) -> None:
    found = gather(
        column(22.0, 22.02, 21.98, 22.0, 16.0), np.zeros(5, int), 1, taught("throttle_bore")
    ).centres
    assert found.value[0, 0] == pytest.approx([22.0, 16.0])
    assert found.share[0, 0, 0] > 0.999
    assert found.variance[0, 0, 0] == pytest.approx((U_MM**2 + 0.05**2) / 4)


def test_of_three_sizes_the_two_likeliest_are_kept(taught: Taught) -> None:
    cells = column(24.0, 16.0, 16.05, 19.0, 19.05, 19.1)
    found = gather(cells, np.zeros(6, int), 1, taught("throttle_bore")).centres
    assert found.value[0, 0] == pytest.approx([19.05, 16.025])


def test_a_group_that_lists_nothing_knows_nothing_and_parts_in_no_group_say_nothing(taught: Taught) -> None:
    cells = column(22.0, math.nan, 16.0)
    found = gather(cells, np.array([0, 1, -1]), 3, taught("throttle_bore"))
    assert found.centres.unknown[:, 0] == pytest.approx([1.0 - found.centres.share[0, 0, 0], 1.0, 1.0])
    assert found.centres.share[1:].tolist() == [[[0.0, 0.0]], [[0.0, 0.0]]]
    assert found.runs[0].row.tolist() == [0]


def test_a_dimension_that_no_member_lists_has_no_runs(taught: Taught) -> None:
    found = gather(column(math.nan, math.nan), np.array([0, 1]), 2, taught("throttle_bore"))
    assert len(found.runs[0].mean) == 0
    assert found.centres.share.sum() == 0.0


def test_some_designs_and_a_new_axis_are_the_same_figures(taught: Taught) -> None:
    centres = gather(column(22.0, 16.0), np.array([0, 1]), 2, taught("throttle_bore")).centres
    assert centres.of(np.array([1])).value[0, 0, 0] == 16.0
    assert centres.lifted(1).share.shape == (2, 1, 1, 2)
    assert centres.lifted(0).unknown.shape == (1, 2, 1)


OFF_MM = st.sampled_from([-0.05, -0.02, 0.0, 0.03, 0.05])
CELL = st.none() | st.tuples(st.booleans(), OFF_MM, st.sampled_from([0.02, 0.04]))
PART = st.tuples(st.integers(0, 2), CELL, CELL, st.sampled_from([None, 0, 1]))


def table(parts: Sequence[tuple[int, object, object, object]]) -> tuple[Cells, np.ndarray]:
    """Return cells of two lengths and a word; all of a group lie about one size, or about another far off."""
    value, u = np.full((len(parts), 3), np.nan), np.zeros((len(parts), 3))
    for row, (group, first, second, word) in enumerate(parts):
        for dim, cell in enumerate((first, second)):
            if isinstance(cell, tuple):
                value[row, dim] = (19.0 if cell[0] else 22.0) + 0.5 * group + cell[1]
                u[row, dim] = cell[2]
        if isinstance(word, int):
            value[row, 2] = word
    return Cells(value, u), np.array([part[0] for part in parts])


def figures(centres: Centres, at: int, dim: int) -> list[tuple[float, float, float]]:
    """Return value, variance and share of what is known of one design in one dimension, by value."""
    each = zip(
        *(part[at, dim].tolist() for part in (centres.value, centres.variance, centres.share)), strict=True
    )
    return sorted(figure for figure in each if figure[2] > 0.0)


@settings(max_examples=60, deadline=None)
@given(st.lists(PART, min_size=1, max_size=9))
def test_to_leave_a_part_out_is_to_gather_the_others(
    taught: Taught, parts: list[tuple[int, object, object, object]]
) -> None:
    learned = taught("throttle_bore", "body_length", "choke_type")
    cells, labels = table(parts)
    rows = np.arange(len(parts))
    without = left_out(gather(cells, labels, 3, learned), cells, rows, labels, learned)
    for row in rows.tolist():
        others = labels.copy()
        others[row] = -1
        anew = gather(cells, others, 3, learned).centres
        for dim in range(3):
            ours, theirs = figures(without, row, dim), figures(anew, int(labels[row]), dim)
            assert len(ours) == len(theirs)
            for one, other in zip(ours, theirs, strict=True):
                assert one == pytest.approx(other, abs=1e-9)


def test_only_the_parts_asked_for_are_left_out(taught: Taught) -> None:
    learned, cells, labels = taught("throttle_bore"), column(22.0, 22.1, math.nan), np.array([0, 0, 0])
    gathered = gather(cells, labels, 1, learned)
    assert left_out(gathered, cells, np.array([1]), labels, learned).value[0, 0, 0] == pytest.approx(22.0)
    silent = left_out(gathered, cells, np.array([2]), labels, learned)
    assert silent.share.tolist() == gathered.centres.share.tolist()
