"""How well doubtful entries are found: those listed, against the errors planted in a world's sheets."""

from dataclasses import dataclass

import numpy as np

from fitworth.matching.doubtful import list_doubtful_entries
from fitworth.matching.entry_slips import DoubtModel
from fitworth.matching.groups.estimate import groups_of
from fitworth.matching.layout import MISSING_CODE
from fitworth.matching.parameters import FitModel
from fitworth.vocabulary import Doubt, Kind
from tests.benchmarks.fit_quality.worlds import World

SCATTERS = (
    4.0  # standard deviations beyond which a listed size is an error; the least that is planted and seen
)


@dataclass(frozen=True, slots=True)
class Found:
    """What the list of doubtful entries says of a world.

    Attributes:
        listed: entries on the list, proportions left out.
        right: of them, those that are errors.
        said: sum of their probabilities.
        planted: errors among all entries.
        sizes: of them, those of lengths.
        sizes_right: of the errors of lengths, those on the list.
    """

    listed: int
    right: int
    said: float
    planted: int
    sizes: int
    sizes_right: int

    def plus(self, other: "Found") -> "Found":
        """Return the sums with another world's."""
        return Found(*(getattr(self, name) + getattr(other, name) for name in self.__slots__))

    @property
    def precision(self) -> float:
        """The share of the list that is wrong."""
        return self.right / self.listed

    @property
    def recall(self) -> float:
        """The share of all errors that is on the list."""
        return self.right / self.planted

    @property
    def size_recall(self) -> float:
        """The share of the errors of lengths that is on the list."""
        return self.sizes_right / self.sizes


def planted(world: World) -> set[tuple[int, str]]:
    """Return the part ids and keys of the entries that are errors.

    A gross error that lands within what scatter and rounding explain is none that anybody could see.
    """
    found = set()
    recipe = world.recipe
    reach_mm = SCATTERS * recipe.listing_sd_mm + max(recipe.steps_mm) / 2.0
    reach_mm = max(reach_mm, SCATTERS * max(sd for _, sd in recipe.scatter))
    for place, one in enumerate(world.palette.lengths):
        listed, _ = world.catalogue.numbers(one.key)
        off = np.abs(listed - world.sizes_mm[:, place])
        found |= {(row + 1, one.key) for row in np.flatnonzero(off > reach_mm).tolist()}
    for place, one in enumerate(world.palette.words):
        true = world.words[world.group, place]
        if one.kind is Kind.COUNT:
            listed, _ = world.catalogue.numbers(one.key)
            wrong = ~np.isnan(listed) & (listed != np.array(world.palette.values[place], np.float64)[true])
        else:
            codes = world.catalogue.codes(one.key)
            wrong = (codes != MISSING_CODE) & (codes != true)
        found |= {(row + 1, one.key) for row in np.flatnonzero(wrong).tolist()}
    return found


def judge(world: World, doubts: DoubtModel) -> Found:
    """Return what the list of doubtful entries says of a world."""
    errors = planted(world)
    lengths = {one.key for one in world.palette.lengths}
    entries = [
        one
        for one in list_doubtful_entries(world.catalogue, groups_of(world.catalogue, FitModel()), doubts)
        if one.doubt is Doubt.GROUP
    ]
    right = [one for one in entries if (one.part_id, one.keys[0]) in errors]
    return Found(
        listed=len(entries),
        right=len(right),
        said=sum(one.probability for one in entries),
        planted=len(errors),
        sizes=sum(key in lengths for _, key in errors),
        sizes_right=sum(one.keys[0] in lengths for one in right),
    )
