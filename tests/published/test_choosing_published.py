"""Published figures of choosing, each with its source."""

import numpy as np

from fitworth.advice.undominated import find_undominated


def test_the_undominated_points_are_those_of_the_skyline_paper() -> None:
    # Borzsonyi, Kossmann, Stocker, "The skyline operator", ICDE 2001: price and distance, less is better.
    hotels = [(50, 13), (53, 21), (62, 19), (87, 13), (83, 5), (39, 22), (60, 22), (44, 25)]
    kept = find_undominated(np.array(hotels, dtype=np.float64))
    assert {hotel for hotel, mark in zip(hotels, kept, strict=True) if mark} == {(50, 13), (83, 5), (39, 22)}
