"""The groups of invented catalogues of 400 parts, against the designs that they were made from.

Bounds are what was measured on several seeds, with room for another; they are no aims.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from fitworth.matching.catalogue import Catalogue
from fitworth.matching.groups.estimate import estimate
from fitworth.matching.groups.membership import Groups
from fitworth.matching.layout import RowLayout
from fitworth.matching.parameters import FitModel
from fitworth.quantities.quantity import Value
from tests.benchmarks.fit_quality.worlds import World, make_world

MODEL = FitModel()
SIZE = 400
Sheet = dict[str, Value]


@dataclass(frozen=True)
class Found:
    """A world with the groups that were found in it."""

    world: World
    groups: Groups

    def pairs(self, order: np.ndarray | None = None) -> tuple[float, float]:
        """Return of the pairs put together how many belong so, and of those that do how many were."""
        labels = self.groups.partition.labels
        truth = self.world.group if order is None else self.world.group[order]
        above = np.triu_indices(len(labels), 1)
        together, right = ((one[:, None] == one)[above] for one in (labels, truth))
        both = float((together & right).sum())
        return both / float(together.sum()), both / float(right.sum())


@pytest.fixture(scope="module")
def found() -> Callable[[str], Found]:
    """Return the groups of a flavour's world; each is estimated once."""
    known: dict[str, Found] = {}

    def look(flavour: str) -> Found:
        if flavour not in known:
            world = make_world(flavour, SIZE, 2)
            known[flavour] = Found(world, estimate(world.catalogue, MODEL))
        return known[flavour]

    return look


@pytest.mark.parametrize(
    ("flavour", "precision", "recall"), [("clean", 0.97, 0.90), ("bench", 0.75, 0.85), ("sparse", 0.45, 0.6)]
)
def test_parts_of_one_design_are_found_together(
    found: Callable[[str], Found], flavour: str, precision: float, recall: float
) -> None:
    right, whole = found(flavour).pairs()
    assert right > precision
    assert whole > recall


@pytest.mark.parametrize(
    ("flavour", "low", "high"), [("clean", 0.003, 0.012), ("bench", 0.012, 0.032), ("sparse", 0.022, 0.07)]
)
def test_the_share_of_gross_errors_is_learned(
    found: Callable[[str], Found], flavour: str, low: float, high: float
) -> None:
    """Planted are 0.005, 0.02 and 0.05."""
    case = found(flavour)
    planted = case.world.recipe.gross_listed
    assert low < planted < high
    assert low < case.groups.partition.learned.gross < high


@pytest.mark.parametrize("flavour", ["clean", "bench", "sparse"])
def test_the_share_of_wrong_words_is_learned(found: Callable[[str], Found], flavour: str) -> None:
    case = found(flavour)
    assert case.world.recipe.word_wrong_listed == 0.015
    assert 0.006 < case.groups.partition.learned.wrong < 0.032


@pytest.mark.parametrize("flavour", ["clean", "bench", "sparse"])
def test_the_makers_scatter_is_learned(found: Callable[[str], Found], flavour: str) -> None:
    """Planted are 0.05 mm in every length."""
    learned = found(flavour).groups.partition.learned
    assert learned.scatter[learned.numeric] == pytest.approx(0.04, abs=0.025)
    assert 0.03 < float(np.median(learned.scatter[learned.numeric])) < 0.055


def test_a_world_has_about_as_many_groups_as_designs(found: Callable[[str], Found]) -> None:
    for flavour in ("clean", "bench"):
        case = found(flavour)
        designs, groups = len(set(case.world.group.tolist())), len(set(case.groups.partition.labels.tolist()))
        assert 0.7 * designs < groups < 1.3 * designs


def test_where_a_design_has_many_parts_its_centre_is_found(found: Callable[[str], Found]) -> None:
    case = found("clean")
    labels, centres = case.groups.partition.labels, case.groups.partition.gathered.centres
    keys = [rule.dimension.key for rule in case.groups.rules]
    large = np.flatnonzero(np.bincount(case.world.group) >= 12)
    off = [
        centres.value[np.bincount(labels[case.world.group == group]).argmax(), keys.index(length.key), 0]
        - case.world.centres_mm[group, place]
        for group in large.tolist()
        for place, length in enumerate(case.world.palette.lengths)
    ]
    assert len(off) > 20
    assert float(np.median(np.abs(off))) < 0.025
    assert float(np.quantile(np.abs(off), 0.95)) < 0.08


def reordered(world: World, order: np.ndarray) -> Catalogue:
    """Return a world's catalogue with its parts entered in another order."""
    family, layout = world.family, RowLayout(world.family)
    rows = np.arange(len(world.catalogue))
    listed = {one.key: world.catalogue.list_values(one, rows) for one in family.dimensions}
    packed = []
    for row in order.tolist():
        sheet: Sheet = {}
        for key, values in listed.items():
            value = values[row]
            if value is not None:
                sheet[key] = value
        packed.append(layout.pack(sheet))
    catalogue, count = Catalogue(family), len(packed)
    catalogue.upsert(range(1, count + 1), packed, ["Quillon"] * count, [()] * count)
    return catalogue


@pytest.mark.parametrize("seed", [1, 2])
def test_in_whatever_order_parts_were_entered_they_are_found_together(
    found: Callable[[str], Found], seed: int
) -> None:
    world = found("bench").world
    order = np.random.default_rng(seed).permutation(SIZE)
    right, whole = Found(world, estimate(reordered(world, order), MODEL)).pairs(order)
    assert right > 0.75
    assert whole > 0.85
