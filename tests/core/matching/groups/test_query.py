"""What readings of a removed part say of designs, by Bayes' rule written out."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from fitworth.families.model import Family
from fitworth.matching.allowances import rules_of
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.groups.cells import Cells
from fitworth.matching.groups.centres import Centres
from fitworth.matching.groups.evidence import Prior
from fitworth.matching.groups.learned import Learned
from fitworth.matching.groups.likeness import reading_ratios
from fitworth.matching.groups.membership import Groups
from fitworth.matching.groups.query import (
    Reading,
    Told,
    chance_astray,
    lone_centres,
    readings_of,
    removed_alone,
    removed_under,
    representatives,
    tell,
    weigh_designs,
)
from fitworth.matching.parameters import FitModel
from fitworth.quantities.quantity import Quantity, Value

MODEL = FitModel()
Taught = Callable[..., Learned]
Designs = Callable[..., Centres]
Length = Callable[..., Quantity]
SCATTER = 0.05  # of every length in `taught`


def test_only_what_was_measured_is_a_reading(family: Family, mm: Length) -> None:
    measured: dict[str, Value] = {
        "throttle_bore": mm(19.0, 0.1),
        "body_length": mm(60.0, 0.0),
        "choke_type": "none",
    }
    by_key = {rule.dimension.key: rule for rule in rules_of(family, measured, MODEL)[0]}
    rules = [by_key[key] for key in ("bowl_depth", "throttle_bore", "choke_type", "body_length")]
    assert readings_of(rules, [None, None, 2.0, None], MODEL) == (
        Reading(1, 19.0, 0.1, MODEL.gross_error_share),
        Reading(2, 2.0, 0.0, MODEL.choice_error_share),
        Reading(3, 60.0, 1e-6, MODEL.gross_error_share),  # no reading is quite exact
    )


def test_each_reading_says_of_each_group_what_it_says_of_its_design(shelf: tuple[Catalogue, Groups]) -> None:
    groups = shelf[1]
    learned, filled = groups.partition.learned, groups.partition.filled
    keys = [rule.dimension.key for rule in groups.rules]
    readings = [
        Reading(keys.index("throttle_bore"), 16.05, 0.1, 0.02),
        Reading(keys.index("choke_type"), 1.0, 0.0, 0.03),
    ]
    told = tell(groups, readings)
    assert told.same.shape == (2, len(filled.value))
    for place, one in enumerate(readings):
        for group in range(len(filled.value)):
            design = Centres(
                *(part[group : group + 1, one.dim] for part in (filled.value, filled.variance, filled.share))
            )
            same, changed = reading_ratios(
                learned, one.dim, np.array([one.value]), np.array([one.u]), design, one.error
            )
            assert told.same[place, group] == pytest.approx(np.log(same[0]), rel=1e-5, abs=1e-5)
            rate = learned.rates[one.dim]
            related = np.log((1.0 - rate) * same[0] + rate * changed[0])
            assert told.related[place, group] == pytest.approx(related, rel=1e-5, abs=1e-5)


def test_nothing_measured_tells_nothing(shelf: tuple[Catalogue, Groups]) -> None:
    told = tell(shelf[1], ())
    assert told.same.shape[0] == 0
    assert told.same.sum() == 0.0


def test_designs_weigh_by_bayes_rule(taught: Taught) -> None:
    learned = taught("throttle_bore", related=0.2)
    prior = Prior(np.array([0.6, 0.3]), np.array([0.0, 0.1]))
    same, related = np.array([[5.0, 0.1], [2.0, 3.0]]), np.array([[2.0, 1.5], [1.0, 0.8]])
    found = weigh_designs(prior, Told(np.log(same), np.log(related)), learned, 0.1)
    groups = [0.6 * 0.9 * 5.0 * 2.0, 0.3 * 0.9 * 0.1 * 3.0]
    relatives = [(0.1 * 0.2 / 2) * 2.0 * 1.0, (0.1 * 0.2 / 2 + 0.1 * 0.9) * 1.5 * 0.8]
    stranger = 0.1 * 0.8
    whole = sum(groups) + sum(relatives) + stranger
    assert found.group == pytest.approx(np.array(groups) / whole)
    assert found.relative == pytest.approx(np.array(relatives) / whole)
    assert found.stranger == pytest.approx(stranger / whole)
    assert found.away == pytest.approx((sum(relatives) + stranger) / whole)
    assert found.lone == pytest.approx(0.1 * 0.9 * 1.5 * 0.8 / whole)


LOGS = st.lists(st.tuples(*[st.floats(-400.0, 400.0)] * 2), min_size=1, max_size=6)


@given(LOGS, st.floats(0.001, 0.9), st.data())
def test_the_weights_of_all_hypotheses_add_up_to_one(
    taught: Taught, logs: list[tuple[float, float]], not_on_file: float, data: st.DataObject
) -> None:
    shares = np.array(data.draw(st.lists(st.floats(0.0, 1.0), min_size=len(logs), max_size=len(logs))))
    told = Told(*(np.array([column]) for column in zip(*logs, strict=True)))
    found = weigh_designs(Prior(shares, shares / 7.0), told, taught("throttle_bore"), not_on_file)
    assert found.group.sum() + found.relative.sum() + found.stranger == pytest.approx(1.0)
    assert found.group.sum() + found.away == pytest.approx(1.0)
    assert not found.group[shares == 0.0].any()
    assert -1e-12 <= found.lone <= found.relative.sum() + 1e-12


def test_the_readings_alone_are_what_is_known_of_the_removed_part(taught: Taught) -> None:
    learned = taught("throttle_bore", "choke_type", "body_length")
    alone = removed_alone([Reading(0, 19.0, 0.1, 0.02), Reading(1, 2.0, 0.0, 0.03)], learned)
    assert alone.value[0, :, 0].tolist() == [19.0, 2.0, 0.0]
    assert alone.variance[0, :2, 0] == pytest.approx([0.01, 0.0])
    assert alone.unknown[0] == pytest.approx([0.02, 0.03, 1.0])


@pytest.mark.parametrize(
    ("x", "u", "error"), [(22.1, 0.1, 0.02), (22.4, 0.1, 0.02), (19.0, 0.1, 0.02), (19.0, 0.3, 0.4)]
)
def test_a_reading_of_a_known_size_is_mixed_by_hand(
    taught: Taught, designs: Designs, x: float, u: float, error: float
) -> None:
    learned, centre, variance, share = taught("throttle_bore"), 22.0, 0.004, 0.9
    updated, removed = removed_under(
        designs([[(centre, variance, share)]]), [Reading(0, x, u, error)], learned
    )
    own, total = variance + SCATTER**2, np.hypot(u, SCATTER)
    sound = (1.0 - error) * share * stats.norm.pdf(x, centre, np.sqrt(own + u**2))
    fresh = (1.0 - error) * (1.0 - share) * float(learned.spreads[0].density(x, total))
    astray = error * float(learned.spreads[0].gross(x, total))
    whole = sound + fresh + astray
    shares = [(sound + share * astray) / whole, fresh / whole]
    assert updated.share[0, 0] == pytest.approx(shares)
    assert removed.share[0, 0] == pytest.approx(shares)
    assert updated.unknown[0, 0] == pytest.approx((1.0 - share) * astray / whole)
    assert updated.value[0, 0].tolist() == [centre, x]
    assert updated.variance[0, 0] == pytest.approx([variance, u**2 + SCATTER**2])
    # The part's own size lies between design and reading by their variances, unless the reading is an error.
    drawn = sound > share * astray
    assert removed.value[0, 0, 0] == pytest.approx(
        centre + (own / (own + u**2) * (x - centre) if drawn else 0.0)
    )
    assert removed.variance[0, 0, 0] == pytest.approx(own * u**2 / (own + u**2) if drawn else own)
    assert (removed.value[0, 0, 1], removed.variance[0, 0, 1]) == (x, pytest.approx(u**2))


def test_a_reading_shows_which_of_two_figures_is_right(taught: Taught, designs: Designs) -> None:
    learned = taught("throttle_bore")
    two = designs([[(22.0, 0.002, 0.5), (19.0, 0.002, 0.45)]])
    updated, removed = removed_under(two, [Reading(0, 19.05, 0.05, 0.02)], learned)
    assert updated.value[0, 0].tolist() == [19.05, 19.0]  # the reading itself is likelier than 22.0 by now
    assert updated.share[0, 0, 1] > 0.95
    assert updated.share[0, 0, 0] < 0.01
    assert 19.0 < removed.value[0, 0, 1] < 19.05


def test_where_a_design_is_unknown_a_sound_reading_is_what_is_known(taught: Taught, designs: Designs) -> None:
    learned = taught("throttle_bore", "choke_type", "body_length")
    nothing = designs([[], [], []])
    updated, removed = removed_under(
        nothing, [Reading(0, 19.0, 0.1, 0.02), Reading(1, 2.0, 0.0, 0.03)], learned
    )
    for dim, value in ((0, 19.0), (1, 2.0)):
        known = int(updated.share[0, dim].argmax())
        assert updated.value[0, dim, known] == removed.value[0, dim, known] == value
        assert 0.9 < updated.share[0, dim, known] < 1.0
    assert updated.share[0, 2].tolist() == removed.share[0, 2].tolist() == [0.0, 0.0]
    assert updated.variance[0, 1].tolist()[0] == 0.0


def test_a_word_is_mixed_by_hand(taught: Taught, designs: Designs) -> None:
    learned = taught("choke_type")
    usual = float(learned.spreads[0].density(1.0, 0.0))
    updated, removed = removed_under(designs([[(0.0, 0.0, 0.95)]]), [Reading(0, 1.0, 0.0, 0.03)], learned)
    fresh, astray = 0.97 * 0.05 * usual, 0.03 * usual
    assert updated.share[0, 0] == pytest.approx([astray * 0.95 / (fresh + astray), fresh / (fresh + astray)])
    assert removed.value[0, 0].tolist() == [0.0, 1.0]
    same, _ = removed_under(designs([[(0.0, 0.0, 0.95)]]), [Reading(0, 0.0, 0.0, 0.03)], learned)
    assert same.share[0, 0, 0] > 0.97


def test_without_readings_a_removed_part_is_its_design_with_the_makers_scatter(
    taught: Taught, designs: Designs
) -> None:
    design = designs([[(22.0, 0.004, 0.9)]])
    updated, removed = removed_under(design, (), taught("throttle_bore"))
    assert updated.variance[0, 0, 0] == 0.004
    assert removed.variance[0, 0, 0] == pytest.approx(0.004 + SCATTER**2)
    assert removed.value.tolist() == design.value.tolist()


@given(st.floats(14.0, 26.0), st.floats(0.02, 0.5), st.floats(0.001, 0.5))
def test_a_reading_is_wrong_by_bayes_rule(
    taught: Taught, designs: Designs, x: float, u: float, error: float
) -> None:
    learned, share = taught("throttle_bore"), 0.9
    found = chance_astray(designs([[(22.0, 0.004, share)]], [[]]), Reading(0, x, u, error), learned)
    total = float(np.hypot(u, SCATTER))
    usual, gross = (
        float(density(x, total)) for density in (learned.spreads[0].density, learned.spreads[0].gross)
    )
    sound = share * stats.norm.pdf(x, 22.0, np.sqrt(0.004 + SCATTER**2 + u**2)) + (1.0 - share) * usual
    assert found[0] == pytest.approx(error * gross / (error * gross + (1.0 - error) * sound), rel=1e-6)
    assert found[1] == pytest.approx(error * gross / (error * gross + (1.0 - error) * usual), rel=1e-6)


def test_a_word_that_is_none_of_the_designs_is_likely_wrong(taught: Taught, designs: Designs) -> None:
    learned, design = taught("choke_type"), designs([[(0.0, 0.0, 0.99)]])
    right, wrong = (
        float(chance_astray(design, Reading(0, word, 0.0, 0.03), learned)[0]) for word in (0.0, 1.0)
    )
    usual = float(learned.spreads[0].density(1.0, 0.0))
    assert wrong == pytest.approx(0.03 * usual / (0.03 * usual + 0.97 * 0.01 * usual))
    assert right < 0.03


def test_a_part_by_itself_is_what_it_lists(taught: Taught) -> None:
    learned = taught("throttle_bore", "choke_type")
    cells = Cells(np.array([[19.0, np.nan], [np.nan, 2.0]]), np.array([[0.1, 0.0], [0.0, 0.0]]))
    found = lone_centres(cells, learned)
    assert found.value[..., 0].tolist() == [[19.0, 0.0], [0.0, 2.0]]
    assert found.unknown.tolist() == [[pytest.approx(0.02), 1.0], [1.0, pytest.approx(0.03)]]
    assert found.variance[0, 0, 0] == pytest.approx(0.01 + SCATTER**2)
    assert found.variance[1, 1, 0] == 0.0


def test_a_group_is_represented_by_its_first_part(shelf: tuple[Catalogue, Groups]) -> None:
    groups = shelf[1]
    labels = groups.partition.labels
    found = representatives(groups, np.array([labels[3], labels[8]]))
    assert found.tolist() == [0, 6]
