"""Proposed interchanges against the truth: are two parts one design, does each fit in place of the other?

Near twins share all but a dimension or two, so some pairs of two designs fit all the same; and parts of one
design may stray too far to fit.
"""

from dataclasses import dataclass

import numpy as np

from fitworth.matching.proposals import DEFAULT_MODEL, ProposalModel, proposals_of
from tests.benchmarks.fit_quality.worlds import World


@dataclass(frozen=True, slots=True)
class Judged:
    """What became of the proposals of a world.

    Attributes:
        pairs: that were proposed.
        said: sum of their probabilities.
        one_design: how many truly are.
        in_place: of how many each fits in place of the other.
        needed: pairs that would state every group: its parts less one.
    """

    pairs: int
    said: float
    one_design: int
    in_place: int
    needed: int

    @property
    def precision(self) -> float:
        """The share of the pairs that are one design."""
        return self.one_design / self.pairs

    @property
    def recall(self) -> float:
        """The share of the pairs needed that were found."""
        return self.one_design / self.needed

    def plus(self, other: "Judged") -> "Judged":
        """Return both together."""
        return Judged(*(getattr(self, name) + getattr(other, name) for name in self.__slots__))


def fits_in_place(world: World, candidate: int, removed: int) -> bool:
    """Return whether a part truly fits in place of another one on file."""
    return bool(world.fits(world.sizes_mm[removed], world.words[world.group[removed]])[candidate])


def judge(world: World, model: ProposalModel = DEFAULT_MODEL) -> Judged:
    """Return what becomes of the proposals of a world."""
    found = proposals_of(world.catalogue, model=model)
    rows = np.array([one.part_ids for one in found], np.int64).reshape(-1, 2) - 1
    alike = world.group[rows[:, 0]] == world.group[rows[:, 1]]
    in_place = [
        fits_in_place(world, one, other) and fits_in_place(world, other, one) for one, other in rows.tolist()
    ]
    return Judged(
        pairs=len(found),
        said=sum(one.probability for one in found),
        one_design=int(alike.sum()),
        in_place=sum(in_place),
        needed=len(world.group) - len(np.unique(world.group)),
    )
