"""What was said against what happened: bins, scores, and a judgement by outcomes set aside."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitworth.matching.recalibration import FitForecast, learn
from fitworth.matching.track_record import foresee_each, list_bins, score, share_interval
from fitworth.vocabulary import Grade


def forecast(said: float, *, fitted: bool) -> FitForecast:
    return FitForecast("carburetor", Grade.OEM, said, {}, fitted)


def test_a_certainty_that_was_wrong_costs_much_but_not_all() -> None:
    found = score(np.array([1.0, 0.0]), np.array([0.0, 0.0]))
    assert found.brier == 0.5
    assert found.log_loss == pytest.approx(-np.log(1e-6) / 2, rel=1e-3)


@given(st.lists(st.tuples(st.floats(0.0, 1.0), st.booleans()), min_size=1))
def test_every_forecast_lies_in_one_bin_and_none_is_empty(told: list[tuple[float, bool]]) -> None:
    said, fitted = np.array([p for p, _ in told]), np.array([float(y) for _, y in told])
    bins = list_bins(said, fitted)
    assert sum(one.count for one in bins) == len(told)
    assert sum(one.count * one.happened for one in bins) == pytest.approx(fitted.sum())
    for one in bins:
        assert one.count > 0
        assert one.low - 1e-9 <= one.said <= one.high + 1e-9
        assert 0.0 <= one.interval[0] < one.interval[1] <= 1.0
        assert one.interval[0] - 0.05 <= one.happened <= one.interval[1] + 0.05 or one.count < 10
    assert [one.low for one in bins] == sorted({one.low for one in bins})


def test_the_ends_of_a_bin_belong_to_the_one_above_and_a_certainty_to_the_last() -> None:
    bins = list_bins(np.array([0.0, 0.5, 1.0]), np.array([0.0, 1.0, 1.0]), bins=2)
    assert [(one.low, one.high, one.count) for one in bins] == [(0.0, 0.5, 1), (0.5, 1.0, 2)]


def test_more_outcomes_tell_a_share_more_closely() -> None:
    few, many = share_interval(8, 10), share_interval(80, 100)
    assert few[0] < many[0] < 0.8 < many[1] < few[1]
    assert share_interval(0, 5)[0] < 0.001


def test_a_recalibration_is_judged_by_outcomes_that_it_did_not_learn_from() -> None:
    lucky = [forecast(0.6, fitted=place == 0) for place in range(12)]
    found = foresee_each(lucky, [])
    rest = [one for place, one in enumerate(lucky) if place % 10 != 0]
    assert found[0] == found[10] == learn(rest).foresee(lucky[:1])[0]
    assert found[0] < found[1]
    assert foresee_each([], []).tolist() == []


def test_one_outcome_alone_is_judged_by_what_others_taught() -> None:
    one, others = forecast(0.8, fitted=True), [forecast(0.9, fitted=False)] * 20
    assert foresee_each([one], []).tolist() == pytest.approx([0.8])
    assert foresee_each([one], others)[0] < 0.8
