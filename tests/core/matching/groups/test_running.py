"""Whether designs run in place of one another, against an enumeration of how they may be related."""

import itertools
import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitworth.matching.groups.centres import Centres
from fitworth.matching.groups.learned import Learned
from fitworth.matching.groups.likeness import Agreement
from fitworth.matching.groups.running import (
    Compared,
    Terms,
    compare,
    one_design_odds,
    runs_of_terms,
    runs_when_away,
    terms_of,
    usual_agreement,
)
from fitworth.matching.parameters import FitModel

MODEL = FitModel()
Taught = Callable[..., Learned]
Designs = Callable[..., Centres]
CHANGES, KIN = 0.25, 0.1
SHARE = st.floats(0.0, 1.0)
RATIO = st.floats(1e-6, 1e4)


def compared(same: list[float], changed: list[float], plain: list[float], mended: list[float]) -> Compared:
    """Return one candidate against one hypothesis."""
    agrees = Agreement(np.array([[plain]]), np.array([[mended]]))
    return Compared(np.array([[same]]), np.array([[changed]]), agrees)


def rates(two: Compared) -> np.ndarray:
    """Return how often relatives differ in each dimension: as often in one as in another."""
    return np.full(two.same.shape[-1], CHANGES)


def chances(two: Compared, odds: float, kin: float = KIN) -> tuple[float, float]:
    runs = runs_of_terms(
        terms_of(two, rates(two)).summed(), np.array([[math.log(odds) if odds else -math.inf]]), kin
    )
    return float(runs.as_it_comes[0, 0]), float(runs.in_all[0, 0])


def enumerated(two: Compared, agrees: np.ndarray, odds: float) -> float:
    """Return the probability of running, summed over all that two designs may be to each other.

    They are one, or unrelated, or relatives of which any of the dimensions may have been changed; only a
    dimension that was changed, or unrelated, can fail to agree.
    """
    same, changed = two.same[0, 0], two.changed[0, 0]
    whole = odds * float(np.prod(same)) + (1.0 - KIN)
    runs = odds * float(np.prod(same)) + (1.0 - KIN) * float(np.prod(agrees))
    for which in itertools.product((False, True), repeat=len(same)):
        where = np.array(which)
        weight = KIN * float(np.prod(np.where(where, CHANGES * changed, (1.0 - CHANGES) * same)))
        whole += weight
        runs += weight * float(np.prod(np.where(where, agrees, 1.0)))
    return runs / whole


@given(st.lists(st.tuples(RATIO, RATIO, SHARE, SHARE), min_size=1, max_size=5), st.floats(0.0, 20.0))
def test_the_chance_of_running_is_that_of_an_enumeration(
    dims: list[tuple[float, float, float, float]], odds: float
) -> None:
    same, changed, plain, more = (list(one) for one in zip(*dims, strict=True))
    mended = [max(pair) for pair in zip(plain, more, strict=True)]
    two = compared(same, changed, plain, mended)
    assert chances(two, odds) == pytest.approx(
        (enumerated(two, np.array(plain), odds), enumerated(two, np.array(mended), odds)), rel=1e-9, abs=1e-12
    )


def test_a_certain_mismatch_of_a_certain_stranger_does_not_run() -> None:
    two = compared([50.0, 1e-16], [1.0, 1.0], [1.0, 0.0], [1.0, 0.0])
    assert chances(two, 1.0)[1] < 1e-9


def test_what_agrees_in_every_dimension_runs() -> None:
    assert chances(compared([1.0, 1.0], [1.0, 1.0], [1.0, 1.0], [1.0, 1.0]), 0.0) == (1.0, 1.0)


def test_of_two_that_nothing_tells_apart_kinship_decides() -> None:
    unknown = compared([1.0], [1.0], [0.4], [0.4])
    as_kin, as_any = 1.0 - CHANGES + CHANGES * 0.4, 0.4
    assert chances(unknown, 0.0)[0] == pytest.approx(KIN * as_kin + (1.0 - KIN) * as_any)
    assert chances(unknown, 9.0)[0] == pytest.approx((9.0 + KIN * as_kin + (1.0 - KIN) * as_any) / 10.0)


@given(st.lists(st.tuples(RATIO, RATIO, SHARE), min_size=1, max_size=4), SHARE, st.floats(0.0, 20.0))
def test_the_better_a_dimension_agrees_the_likelier_it_runs(
    dims: list[tuple[float, float, float]], better: float, odds: float
) -> None:
    same, changed, plain = (list(one) for one in zip(*dims, strict=True))
    worse = chances(compared(same, changed, plain, plain), odds)[0]
    raised = [max(plain[0], better), *plain[1:]]
    assert chances(compared(same, changed, raised, raised), odds)[0] >= worse - 1e-12


def test_however_much_speaks_for_one_design_the_sum_stays_a_number() -> None:
    assert chances(compared([1e80] * 12, [1.0] * 12, [0.5] * 12, [0.5] * 12), 20.0)[1] == pytest.approx(1.0)


def table_odds(size: int, other: int, concentration: float) -> float:
    """Return the odds of one table of all guests against two, seat by seat."""

    def seated(counts: list[int]) -> float:
        chance, guests = 1.0, 0
        for count in counts:
            for there in range(count):
                chance *= (there or concentration) / (guests + concentration)
                guests += 1
        return chance

    return seated([size + other]) / seated([size, other])


@pytest.mark.parametrize(("size", "other"), [(1, 1), (1, 4), (3, 5), (6, 2)])
def test_the_odds_of_one_design_are_those_of_the_restaurant_seat_by_seat(size: int, other: int) -> None:
    odds = one_design_odds(np.array([[float(size)]]), np.array([[float(other)]]), 2.5)
    assert np.exp(odds[0, 0]) == pytest.approx(table_odds(size, other, 2.5))


def test_two_huge_groups_are_one_with_bounded_odds() -> None:
    assert one_design_odds(np.array([[1e4]]), np.array([[1e4]]), 2.0) == 50.0


def test_terms_are_taken_apart_and_put_together() -> None:
    two = compared([2.0, 3.0], [0.5, 1.0], [0.9, 0.1], [0.9, 0.6])
    terms = terms_of(two, rates(two))
    whole = terms.summed()
    parts = [terms.at(np.array([dim])).summed() for dim in (0, 1)]
    together = parts[0].plus(parts[1])
    for name in Terms.__slots__:
        assert getattr(together, name) == pytest.approx(getattr(whole, name))
    assert whole.same[0, 0] == pytest.approx(np.log(6.0))
    assert terms.against(0).plain == pytest.approx(np.log([[0.9, 0.1]]))
    assert terms.of(np.array([0, 0])).all.shape == (2, 1, 2)


def test_on_no_file_a_relative_runs_where_the_changed_dimension_agrees() -> None:
    two = compared([2.0, 1.0], [0.5, 1.0], [0.8, 0.5], [0.9, 0.7])
    sums = terms_of(two, rates(two)).against(0).summed()
    runs = runs_when_away(sums, np.array([0.3]))
    whole = (0.75 * 2.0 + 0.25 * 0.5) * 1.0
    as_kin = (0.75 * 2.0 + 0.25 * 0.5 * 0.8) * (0.75 + 0.25 * 0.5)
    assert runs.as_it_comes[0] == pytest.approx(0.3 * as_kin / whole + 0.7 * 0.8 * 0.5)
    as_kin = (0.75 * 2.0 + 0.25 * 0.5 * 0.9) * (0.75 + 0.25 * 0.7)
    assert runs.in_all[0] == pytest.approx(0.3 * as_kin / whole + 0.7 * 0.9 * 0.7)


def test_candidates_are_compared_with_designs_and_with_the_removed_part_under_each(
    taught: Taught, designs: Designs
) -> None:
    learned = taught("throttle_bore")
    candidates = designs([[(19.0, 0.002, 0.99)]], [[(22.0, 0.002, 0.99)]])
    hypotheses = designs([[(19.0, 0.002, 0.99)]], [[]], [[(16.0, 0.002, 0.99)]])
    removed = designs([[(19.0, 0.005, 1.0)]], [[(22.0, 0.005, 1.0)]], [[(16.0, 0.005, 1.0)]])
    usual = Agreement(np.array([0.5]), np.array([0.5]))
    found = compare(learned, learned.rules, candidates, (hypotheses, removed), usual, MODEL)
    assert found.same.shape == (2, 3, 1)
    assert found.same[:, 1] == pytest.approx(1.0)
    assert found.same[0, 0, 0] > 1.0 > found.same[1, 0, 0]
    assert found.agrees.as_it_comes[:, 1, 0] == pytest.approx([0.005, 0.995], abs=1e-3)


def test_how_often_any_two_agree_is_counted_and_drawn_to_the_first_guess(
    taught: Taught, designs: Designs
) -> None:
    learned = taught("throttle_bore", "choke_type")
    three = designs(
        [[(19.0, 1e-6, 0.99)], [(0.0, 0.0, 0.99)]],
        [[(19.1, 1e-6, 0.99)], []],
        [[(24.0, 1e-6, 0.99)], [(1.0, 0.0, 0.99)]],
    )
    found = usual_agreement(learned, learned.rules, three, MODEL)
    # Of six ordered pairs of bores two agree; of two of chokes none does, and a bracket mends both.
    weight = MODEL.agreement_count
    assert found.as_it_comes == pytest.approx(
        [(2 + 0.5 * weight) / (6 + weight), 0.5 * weight / (2 + weight)], abs=1e-4
    )
    assert found.in_all[1] == pytest.approx((2 + 0.5 * weight) / (2 + weight))


def test_of_one_design_alone_nothing_is_counted(taught: Taught, designs: Designs) -> None:
    learned = taught("throttle_bore")
    found = usual_agreement(learned, learned.rules, designs([[(19.0, 0.002, 0.9)]]), MODEL)
    assert found.as_it_comes.tolist() == [MODEL.unrelated_agrees]
