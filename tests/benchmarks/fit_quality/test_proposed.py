"""Proposed interchanges against the truth of invented catalogues."""

import pytest

from tests.benchmarks.fit_quality.proposed import judge
from tests.benchmarks.fit_quality.worlds import make_world


# Measured over three worlds of 400 parts each: said 0.957, 0.955, 0.937; one design 0.934, 0.933, 0.879;
# each fits in place of the other 0.969, 0.945, 0.920; found of those needed 0.86, 0.86, 0.76.
@pytest.mark.parametrize(
    ("flavour", "one_design", "in_place", "recall"),
    [("bench", 0.86, 0.90, 0.75), ("coil", 0.85, 0.86, 0.75), ("inch", 0.80, 0.84, 0.64)],
)
def test_what_is_proposed_is_nearly_always_one_design_or_fits_in_place(
    flavour: str, one_design: float, in_place: float, recall: float
) -> None:
    found = judge(make_world(flavour, 400, 1)).plus(judge(make_world(flavour, 400, 2)))
    assert found.precision >= one_design
    assert found.in_place / found.pairs >= in_place
    assert found.recall >= recall
    assert abs(found.precision - found.said / found.pairs) < 0.12
