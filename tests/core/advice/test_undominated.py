"""The undominated set: ties stay, and what is left out is beaten."""

from typing import Any

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from fitworth.advice.undominated import find_undominated

POINTS = arrays(np.float64, st.tuples(st.integers(1, 12), st.just(3)), elements=st.integers(0, 4).map(float))


def test_no_points_have_no_undominated_ones() -> None:
    assert find_undominated(np.zeros((0, 3))).tolist() == []


def test_equal_points_do_not_beat_each_other() -> None:
    assert find_undominated(np.ones((3, 2))).tolist() == [True, True, True]


@given(points=POINTS)
def test_what_is_left_out_is_beaten_and_what_is_kept_is_not(points: Any) -> None:
    kept = find_undominated(points)
    assert kept.any()
    for point, mark in zip(points, kept, strict=True):
        beaten = any(bool(np.all(other <= point) and np.any(other < point)) for other in points)
        assert beaten is not bool(mark)
