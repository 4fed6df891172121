"""Of a hundred candidates at 0.8, about eighty must fit: on an invented world that nothing was tuned to."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from fitworth.matching.fit import find_fits
from fitworth.matching.parameters import FitModel

QUERIES = 15
SHELVES = ((60, 1), (150, 1), (40, 6), (80, 3))
MEASURABLE = (
    "throttle_bore",
    "bolt_spacing",
    "body_length",
    "fuel_inlet_diameter",
    "bowl_depth",
    "pole_radius",
)


def test_confidence_is_a_probability(new_world: Callable[[int], Any]) -> None:
    # The invented world has no misfit that no dimension shows.
    model = replace(FitModel(), unlisted_misfit=0.0)
    said, so, nothing, none = [], [], [], []
    for seed in range(12):
        world = new_world(seed)
        catalogue = world.fill(*SHELVES[seed % len(SHELVES)])
        for _ in range(QUERIES):
            count = int(world.rng.integers(2, len(MEASURABLE) + 1))
            query, removed = world.ask([*world.rng.choice(MEASURABLE, count, replace=False), "choke_type"])
            answer = find_fits(catalogue, query, model)
            for fit in answer.fits:
                said.append(fit.fit_confidence)
                so.append(world.runs(world.designs[world.design_of[fit.part_id]], removed))
            nothing.append(answer.nothing_on_file_fits)
            none.append(
                not any(world.runs(world.designs[at], removed) for at in set(world.design_of.values()))
            )
    sure, true = np.array(said), np.array(so)
    high = (sure >= 0.7) & (sure < 0.9)
    low = (sure >= 0.05) & (sure < 0.2)
    assert high.sum() > 80
    assert 0.55 < true[high].mean() < 0.97
    assert true[low].mean() < 0.25
    assert ((sure - true) ** 2).mean() < 0.8 * true.mean() * (1.0 - true.mean())
    assert abs(np.mean(nothing) - np.mean(none)) < 0.05
