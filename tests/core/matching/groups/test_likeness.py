"""How much likelier figures are under one design than under two: formulas by hand, densities of scipy."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from fitworth.families.model import Family
from fitworth.matching.allowances import Rule, rules_of
from fitworth.matching.groups.centres import Centres
from fitworth.matching.groups.learned import Learned
from fitworth.matching.groups.likeness import (
    Agreement,
    agreement,
    design_ratios,
    normal_density,
    probability_within,
    reading_ratios,
)
from fitworth.matching.groups.sizes import sizes_of
from fitworth.matching.parameters import FitModel

MODEL = FitModel()
Taught = Callable[..., Learned]
Designs = Callable[..., Centres]
HALF = Agreement(np.array([0.5]), np.array([0.6]))


def ratios_of(
    learned: Learned, value: float, u: float, centres: Centres, error: float
) -> tuple[float, float]:
    """Return the ratios of one reading of the first dimension of one design."""
    first = Centres(centres.value[:, 0], centres.variance[:, 0], centres.share[:, 0])
    same, changed = reading_ratios(learned, 0, np.array([value]), np.array([u]), first, error)
    return float(same[0]), float(changed[0])


@given(st.floats(-5.0, 5.0), st.floats(0.01, 4.0))
def test_the_normal_density_is_scipys(off: float, variance: float) -> None:
    assert normal_density(np.array(off), np.array(variance)) == pytest.approx(
        stats.norm.pdf(off, 0.0, np.sqrt(variance)), rel=1e-9, abs=1e-300
    )


def test_a_design_of_which_nothing_is_known_says_nothing_of_a_reading(
    taught: Taught, designs: Designs
) -> None:
    for key in ("throttle_bore", "choke_type"):
        assert ratios_of(taught(key), 1.0, 0.1, designs([[]]), 0.02) == pytest.approx((1.0, 1.0))


@pytest.mark.parametrize("value", [22.0, 22.2, 19.0, 40.0])
@pytest.mark.parametrize("error", [0.0, 0.02, 0.5])
def test_a_reading_is_of_a_design_by_the_formula(
    taught: Taught, designs: Designs, value: float, error: float
) -> None:
    learned, u, centre, variance, share = taught("throttle_bore"), 0.1, 22.1, 0.002, 0.9
    total = np.hypot(u, 0.05)
    usual, gross = (
        float(density(value, total)) for density in (learned.spreads[0].density, learned.spreads[0].gross)
    )
    sound = share * stats.norm.pdf(value, centre, np.sqrt(variance + 0.05**2 + u**2)) + (1.0 - share) * usual
    near = share * stats.t.pdf(value - centre, 3, 0.0, 0.8) + (1.0 - share) * usual
    of_any = (1.0 - error) * usual + error * gross
    same = ((1.0 - error) * sound + error * gross) / of_any
    changed = ((1.0 - error) * (0.25 * usual + 0.75 * near) + error * gross) / of_any
    found = ratios_of(learned, value, u, designs([[(centre, variance, share)]]), error)
    assert found == pytest.approx((same, changed), rel=1e-5)


def test_of_two_figures_each_counts_with_its_share(taught: Taught, designs: Designs) -> None:
    learned = taught("throttle_bore")
    both = ratios_of(learned, 22.0, 0.1, designs([[(22.0, 0.002, 0.7), (19.0, 0.002, 0.3)]]), 0.0)
    alone = [ratios_of(learned, 22.0, 0.1, designs([[(size, 0.002, 1.0)]]), 0.0) for size in (22.0, 19.0)]
    assert both[0] == pytest.approx(0.7 * alone[0][0] + 0.3 * alone[1][0])


def test_no_reading_denies_a_design_more_than_errors_allow(taught: Taught, designs: Designs) -> None:
    learned, sure = taught("throttle_bore"), designs([[(22.0, 0.001, 1.0)]])
    most = [ratios_of(learned, 15.0, 0.05, sure, error)[0] for error in (0.0, 0.02, 0.2)]
    assert most[0] < 1e-12
    assert 0.0 < most[1] < most[2] < 1.0


def test_a_word_is_of_a_design_by_the_formula(taught: Taught, designs: Designs) -> None:
    learned, error = taught("choke_type"), 0.03
    usual = learned.spreads[0].density([0.0, 1.0], 0.0)
    design = designs([[(0.0, 0.0, 0.9)]])
    for word, right in ((0, 0.9), (1, 0.0)):
        sound = right + 0.1 * usual[word]
        same = ((1.0 - error) * sound + error * usual[word]) / usual[word]
        assert ratios_of(learned, float(word), 0.0, design, error) == pytest.approx((same, 1.0))


def test_on_a_dial_twelve_and_nought_are_neighbours(taught: Taught, designs: Designs) -> None:
    hours = {"fuel_inlet_hour": sizes_of(np.array([0.0, 3.0, 6.0, 9.0, 11.9]), 0.25, 0.06)}
    learned = taught("fuel_inlet_hour", spreads=hours)
    same, _ = ratios_of(learned, 11.95, 0.05, designs([[(0.05, 0.002, 0.95)]]), 0.02)
    away, _ = ratios_of(learned, 6.0, 0.05, designs([[(0.05, 0.002, 0.95)]]), 0.02)
    assert same > 1.0 > away


def test_designs_of_which_one_is_unknown_say_nothing_of_each_other(taught: Taught, designs: Designs) -> None:
    learned = taught("throttle_bore", "choke_type")
    known = designs([[(22.0, 0.002, 0.95)], [(1.0, 0.0, 0.95)]])
    same, changed = design_ratios(learned, known, designs([[], []]))
    assert (same.tolist(), changed.tolist()) == ([[1.0, 1.0]], [[1.0, 1.0]])


def test_designs_with_one_size_are_much_likelier_one_and_those_with_two_are_not(
    taught: Taught, designs: Designs
) -> None:
    learned = taught("throttle_bore")
    three = designs([[(24.0, 0.002, 0.99)]], [[(24.05, 0.002, 0.99)]], [[(19.0, 0.002, 0.99)]])
    same, _ = design_ratios(learned, three.lifted(1), three.lifted(0))
    assert same[0, 0, 0] > 12.0
    assert same[0, 1, 0] > 9.0
    assert 0.0 < same[0, 2, 0] < 0.03
    assert same[..., 0] == pytest.approx(same[..., 0].T)


def test_a_popular_size_that_two_share_says_less_than_a_rare_one(taught: Taught, designs: Designs) -> None:
    both = designs([[(16.0, 0.002, 0.99)]], [[(24.0, 0.002, 0.99)]])
    same, _ = design_ratios(taught("throttle_bore"), both, both)
    assert same[1, 0] > 1.5 * same[0, 0]


def test_the_ratio_of_two_sizes_is_the_formula(taught: Taught, designs: Designs) -> None:
    learned, size, other, variance = taught("throttle_bore"), 22.0, 22.3, 0.01
    same, changed = design_ratios(
        learned, designs([[(size, variance, 0.9)]]), designs([[(other, 3 * variance, 0.8)]])
    )
    # What both were read of one size: their mean by weight, with a variance of 3/4 of the better one.
    usual = float(learned.spreads[0].density(22.075, np.sqrt(0.75 * variance + 0.05**2)))
    one = stats.norm.pdf(0.3, 0.0, np.sqrt(4 * variance)) / usual
    assert same[0, 0] == pytest.approx(1.0 + 0.72 * (one - 1.0), rel=1e-6)
    near = stats.t.pdf(0.3, 3, 0.0, 0.8) / float(
        learned.spreads[0].density(size, np.sqrt(variance + 0.05**2))
    )
    assert changed[0, 0] == pytest.approx(1.0 + 0.75 * 0.72 * (near - 1.0), rel=1e-6)


def test_designs_with_one_word_are_likelier_one_the_rarer_it_is(taught: Taught, designs: Designs) -> None:
    learned = taught("choke_type")
    usual = learned.spreads[0].density([0.0, 1.0], 0.0)
    three = designs([[(0.0, 0.0, 0.9)]], [[(0.0, 0.0, 1.0)]], [[(1.0, 0.0, 1.0)]])
    same, changed = design_ratios(learned, three.lifted(1), three.lifted(0))
    assert same[1, 0, 0] == pytest.approx(1.0 + 0.9 * (1.0 / usual[0] - 1.0))
    assert same[2, 2, 0] == pytest.approx(1.0 / usual[1])
    assert same[0, 2, 0] == pytest.approx(0.1)
    assert same[1, 2, 0] == pytest.approx(1e-16)  # never quite nothing
    assert (changed == 1.0).all()


def test_a_second_figure_that_is_hardly_likely_is_passed_over(taught: Taught, designs: Designs) -> None:
    learned = taught("throttle_bore")
    first = designs([[(22.0, 0.002, 0.9), (19.0, 0.002, 1e-4)]])
    plain = designs([[(22.0, 0.002, 0.9)]])
    other = designs([[(19.0, 0.002, 0.9)]])
    assert (
        design_ratios(learned, first, other)[0].tolist() == design_ratios(learned, plain, other)[0].tolist()
    )


def test_within_one_standard_uncertainty_either_way_lie_two_thirds() -> None:
    u = np.array(0.2)
    assert probability_within(-u, u, np.array(0.0), u) == pytest.approx(0.6826894921)
    assert probability_within(np.array(-np.inf), np.array(2.0), np.array(2.0), u) == pytest.approx(0.5)


@given(st.floats(-2.0, 2.0), st.floats(0.0, 2.0), st.floats(-3.0, 3.0), st.floats(0.05, 2.0))
def test_the_probability_of_a_range_is_scipys(low: float, wide: float, off: float, u: float) -> None:
    found = probability_within(*(np.array(one) for one in (low, low + wide, off, u)))
    normal = stats.norm(off, u)
    assert found == pytest.approx(normal.cdf(low + wide) - normal.cdf(low), abs=1e-12)


def agrees(learned: Learned, candidate: Centres, removed: Centres) -> tuple[float, float]:
    found = agreement(learned, learned.rules, candidate, removed, HALF, MODEL)
    return float(found.as_it_comes[0, 0]), float(found.in_all[0, 0])


def test_what_is_not_known_agrees_as_often_as_any_two_designs(taught: Taught, designs: Designs) -> None:
    assert agrees(taught("body_length"), designs([[]]), designs([[(60.0, 0.01, 0.9)]])) == (0.5, 0.6)


def test_lengths_agree_within_the_allowance_and_mend_within_the_cure(
    taught: Taught, designs: Designs
) -> None:
    learned = taught("body_length")  # -0.5 to 0.5 mm, with a spacer -6 to 10 mm
    plain, mended = agrees(learned, designs([[(60.4, 0.02, 0.9)]]), designs([[(60.0, 0.01, 1.0)]]))
    differs = stats.norm(0.4, np.sqrt(0.02 + 0.01 + 0.05**2))
    assert plain == pytest.approx(0.1 * 0.5 + 0.9 * (differs.cdf(0.5) - differs.cdf(-0.5)))
    assert mended == pytest.approx(0.1 * 0.6 + 0.9 * 1.0)
    far = agrees(learned, designs([[(75.0, 0.02, 1.0)]]), designs([[(60.0, 0.01, 1.0)]]))
    assert far == pytest.approx((0.0, 0.0), abs=1e-9)


def test_what_no_cure_mends_agrees_in_all_as_it_comes(taught: Taught, designs: Designs) -> None:
    plain, mended = agrees(
        taught("throttle_bore"), designs([[(19.9, 0.02, 1.0)]]), designs([[(19.0, 0.02, 1.0)]])
    )
    assert plain == mended
    assert 0.5 < plain < 0.9


def test_words_agree_as_the_table_of_the_family_says(taught: Taught, designs: Designs) -> None:
    learned = taught("resistor")  # a plug with a resistor does for a plain one, not the other way round
    plain, resistor = designs([[(0.0, 0.0, 1.0)]]), designs([[(1.0, 0.0, 1.0)]])
    assert agrees(learned, resistor, plain) == (1.0, 1.0)
    assert agrees(learned, plain, resistor) == (0.0, 0.0)
    vented = taught("vented")
    assert agrees(vented, resistor, resistor) == (1.0, 1.0)
    assert agrees(vented, plain, resistor) == (0.0, 0.0)


def test_a_word_that_differs_is_mended_where_there_is_a_cure(taught: Taught, designs: Designs) -> None:
    found = agrees(taught("choke_type"), designs([[(0.0, 0.0, 1.0)]]), designs([[(2.0, 0.0, 1.0)]]))
    assert found == (0.0, 1.0)


def test_the_allowances_are_those_of_the_query(family: Family, taught: Taught, designs: Designs) -> None:
    learned = taught("body_length")
    rules, _ = rules_of(family, {"air_connection": "rubber_elbow"}, MODEL)  # then -2 to 2 mm
    rule: tuple[Rule, ...] = tuple(one for one in rules if one.dimension.key == "body_length")
    found = agreement(
        learned, rule, designs([[(61.0, 0.01, 1.0)]]), designs([[(60.0, 0.01, 1.0)]]), HALF, MODEL
    )
    assert found.as_it_comes[0, 0] > 0.999
