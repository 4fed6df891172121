"""What a catalogue itself teaches about its entries and designs, in one frozen object."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fitworth.matching.allowances import Rule, allowed_range, scatter_u
from fitworth.matching.answer import Floats
from fitworth.matching.groups.cells import Cells
from fitworth.matching.groups.sizes import Sizes, Words, distinct_sizes, sizes_of, words_of
from fitworth.matching.parameters import FitModel
from fitworth.matching.sides import LEAST_U, Mask

MOST_OFTEN = 0.5  # a dimension that relatives change more often would be no mark of kinship
REACH_OF_SPREAD = 0.1  # how far relatives differ where the allowance has no end; own choice


@dataclass(frozen=True, slots=True)
class Learned:
    """The shares and scatters of one catalogue, learned from it or taken from the model.

    Attributes:
        rules: of the dimensions.
        numeric: (n_dims,) which are numbers.
        scatter: (n_dims,) makers' scatter, one standard deviation [unit]; 0 for words.
        usual_u: (n_dims,) usual standard uncertainty of a listed number [unit].
        reach: (n_dims,) how far relatives typically differ in a dimension that was changed [unit].
        spreads: the sizes or words of designs in each dimension.
        gross: share of numbers that are gross errors.
        wrong: share of words that are wrong.
        concentration: of the Chinese restaurant process by which parts fall into groups: the next part is of
            a new design with probability concentration / (n + concentration).
        related: share of designs that are another one with a few dimensions changed.
        changes: probability that an ordinary dimension is one of the changed.
        proneness: (n_dims,) how many times as often a dimension is changed as an ordinary one.
        near: share of changes that stay within reach; the others land anywhere.
    """

    rules: tuple[Rule, ...]
    numeric: Mask
    scatter: Floats
    usual_u: Floats
    reach: Floats
    spreads: tuple[Sizes | Words, ...]
    gross: float
    wrong: float
    concentration: float
    related: float
    changes: float
    proneness: Floats
    near: float

    @property
    def rates(self) -> Floats:
        """How often relatives differ in each dimension, (n_dims,)."""
        return np.asarray(np.minimum(self.changes * self.proneness, MOST_OFTEN))

    def related_ratios(self, same: Floats, changed: Floats, dims: int | slice = slice(None)) -> Floats:
        """Return how much likelier figures are of relatives, in which a dimension may have been changed.

        Args:
            same: (..., n_dims) ratios for one design, or (...) of one dimension.
            changed: the same for a dimension that was changed.
            dims: the dimension's place, where it is one.
        """
        rates = self.rates[dims]
        return np.asarray((1.0 - rates) * same + rates * changed)

    def reading_u(self, place: int) -> float:
        """Return the standard uncertainty of a listed number with the makers' scatter [unit]."""
        return float(np.hypot(self.scatter[place], self.usual_u[place]))

    def error(self, place: int) -> float:
        """Return the share of entries in a dimension that are wrong."""
        return self.gross if self.numeric[place] else self.wrong


def first_guess(cells: Cells, rules: tuple[Rule, ...], model: FitModel) -> Learned:
    """Return what is taken for granted before any group is known: each distinct size is one design's.

    Were each part a design of its own, a size that one design has under many numbers would seem popular, and
    sharing it would say nothing.

    Args:
        cells: what the parts list; each dimension at least once.
        rules: of the dimensions.
        model: the first figures.
    """
    numeric = np.array([rule.dimension.kind.is_numeric for rule in rules], np.bool_)
    n_dims = len(rules)
    scatter, usual_u, reach = np.zeros(n_dims), np.zeros(n_dims), np.ones(n_dims)
    spreads: list[Sizes | Words] = []
    for place, rule in enumerate(rules):
        known = ~np.isnan(cells.value[:, place])
        listed = cells.value[known, place]
        if not numeric[place]:
            spreads.append(words_of(np.unique(listed), len(rule.dimension.choices)))
            continue
        middle = np.array([np.median(listed)])
        scatter[place] = max(float(scatter_u(rule, middle, model)[0]), LEAST_U)
        usual_u[place] = max(float(np.median(cells.u[known, place])), LEAST_U)
        reading_u = float(np.hypot(scatter[place], usual_u[place]))
        sizes = sizes_of(distinct_sizes(listed, reading_u), model.least_spread, reading_u)
        spreads.append(sizes)
        ends = [abs(float(end[0])) for end in allowed_range(rule, middle, model)]
        finite = [end for end in ends if np.isfinite(end)]
        usual = sum(finite) / len(finite) if len(finite) == len(ends) else REACH_OF_SPREAD * sizes.wide.spread
        reach[place] = max(usual, 4.0 * scatter[place])
    proneness = np.array(
        [model.curable_changes if rule.dimension.cure else 1.0 for rule in rules], np.float64
    )
    usual_changes = float((cells.listed * proneness).sum(axis=1).mean())
    return Learned(
        rules=rules,
        numeric=numeric,
        scatter=scatter,
        usual_u=usual_u,
        reach=reach,
        spreads=tuple(spreads),
        gross=model.gross_error_share,
        wrong=model.choice_error_share,
        concentration=max(1.0, len(cells) / model.parts_a_group),
        related=model.relative_share,
        changes=min(0.5, model.relative_changes / max(1.0, usual_changes)),
        proneness=proneness,
        near=model.relative_near,
    )


def spreads_of(sizes: Sequence[Floats], learned: Learned, model: FitModel) -> tuple[Sizes | Words, ...]:
    """Return the spreads anew, from one size of each design in each dimension; where none, as before."""
    return tuple(
        before
        if not len(found)
        else sizes_of(found, model.least_spread, learned.reading_u(place))
        if learned.numeric[place]
        else words_of(found, len(learned.rules[place].dimension.choices))
        for place, (found, before) in enumerate(zip(sizes, learned.spreads, strict=True))
    )
