"""What the parts on file list, as one table of numbers: a row for each part, a column for each dimension."""

from dataclasses import dataclass

import numpy as np

from fitworth.matching.allowances import Rule, rules_of
from fitworth.matching.answer import Floats, Ints
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.groups.ties import NO_TIES, Ties, ties_of
from fitworth.matching.layout import MISSING_CODE
from fitworth.matching.parameters import FitModel
from fitworth.matching.sides import Mask


@dataclass(frozen=True, slots=True)
class Cells:
    """What some parts list.

    Attributes:
        value: (n_parts, n_dims) numbers [unit] or codes of words; not-a-number where not listed.
        u: (n_parts, n_dims) standard uncertainties [unit]; 0 for words.
        ties: what people say of two of them.
    """

    value: Floats
    u: Floats
    ties: Ties = NO_TIES

    def __len__(self) -> int:
        """Return how many parts there are."""
        return len(self.value)

    @property
    def listed(self) -> Mask:
        """Whether a cell is listed, (n_parts, n_dims)."""
        return ~np.isnan(self.value)

    def of(self, rows: Ints) -> "Cells":
        """Return the cells of some parts, without what is said of them."""
        return Cells(self.value[rows], self.u[rows])


def grouping_rules(catalogue: Catalogue, model: FitModel) -> tuple[Rule, ...]:
    """Return the rules by which parts are grouped, as they are when nothing was measured.

    They are those of the dimensions that count for fit and that some part lists. A scale of one maker's own
    tells nothing across makers, so it is left out.
    """
    rules, _ = rules_of(catalogue.family, {}, model)
    on_file = catalogue.listed_keys()
    return tuple(
        rule
        for rule in rules
        if rule.dimension.counts_for_fit and not rule.dimension.scale_of and rule.dimension.key in on_file
    )


def cells_of(catalogue: Catalogue, rules: tuple[Rule, ...]) -> Cells:
    """Return what all parts list in some dimensions."""
    value = np.full((len(catalogue), len(rules)), np.nan)
    u = np.zeros_like(value)
    for place, rule in enumerate(rules):
        key = rule.dimension.key
        if rule.dimension.kind.is_numeric:
            numbers, spread = catalogue.numbers(key)
            value[:, place] = numbers
            u[:, place] = np.where(np.isnan(numbers), 0.0, spread)
        else:
            codes = catalogue.codes(key)
            value[:, place] = np.where(codes == MISSING_CODE, np.nan, codes)
    return Cells(value, u, ties_of(catalogue))
