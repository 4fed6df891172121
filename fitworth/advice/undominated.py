"""Which of several points no other beats."""

import numpy as np
from numpy.typing import NDArray


def find_undominated(points: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return which points no other point beats, less being better; equal points do not beat each other.

    A point beats another that it equals or undercuts in every coordinate and undercuts in at least one.

    Args:
        points: (n_points, n_coordinates), finite.

    Returns:
        (n_points,).

    Source: the skyline of Borzsonyi, Kossmann and Stocker, "The skyline operator", ICDE 2001.

    >>> find_undominated(np.array([[1.0, 2.0], [2.0, 1.0], [2.0, 2.0]])).tolist()
    [True, True, False]
    """
    not_worse = (points[:, None, :] <= points[None, :, :]).all(axis=2)
    better = (points[:, None, :] < points[None, :, :]).any(axis=2)
    return np.asarray(~(not_worse & better).any(axis=0))
