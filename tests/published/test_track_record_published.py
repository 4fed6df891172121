"""Scores and bins of probabilities, against published figures.

R: read in the source, C: recomputed with the library named, M: from memory.
"""

import numpy as np
import pytest
from scipy.stats import beta

from fitworth.matching.track_record import list_bins, score, share_interval


def test_the_brier_score() -> None:
    # scikit-learn's documentation of brier_score_loss (R, C).
    found = score(np.array([0.1, 0.9, 0.8, 0.3]), np.array([0.0, 1.0, 1.0, 0.0]))
    assert found.brier == pytest.approx(0.0375)


def test_the_calibration_curve() -> None:
    # scikit-learn's documentation of calibration_curve, three bins (R, C).
    fitted = np.array([0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 1.0, 1.0])
    said = np.array([0.1, 0.2, 0.3, 0.4, 0.65, 0.7, 0.8, 0.9, 1.0])
    bins = list_bins(said, fitted, bins=3)
    assert [one.happened for one in bins] == pytest.approx([0.0, 0.5, 1.0])
    assert [one.said for one in bins] == pytest.approx([0.2, 0.525, 0.85])


def test_a_log_loss_by_hand() -> None:
    # Half a bit each for two forecasts at 1/sqrt(2) that came true (C by hand).
    found = score(np.full(2, 2.0**-0.5), np.ones(2))
    assert found.log_loss == pytest.approx(0.5 * np.log(2.0))


def test_the_interval_of_a_share() -> None:
    # Jeffreys' interval as the quantiles of Beta(x + 1/2, n - x + 1/2) (M; quantiles C with SciPy).
    assert share_interval(4, 5) == pytest.approx((beta.ppf(0.05, 4.5, 1.5), beta.ppf(0.95, 4.5, 1.5)))
