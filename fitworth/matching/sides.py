"""What several parts list in one dimension, as arrays."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fitworth.matching.allowances import Rule, accepts
from fitworth.matching.answer import Floats, Ints
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.layout import MISSING_CODE
from fitworth.vocabulary import Kind

LEAST_U = 1e-6  # keeps a stated uncertainty of 0 from dividing by it

Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Side:
    """One side of the pairs in one dimension: what is known, how well, and of which scale.

    Attributes:
        value: (n,) numbers [unit] or codes; anything where not known.
        u: (n,) standard uncertainties [unit]; zeros for codes.
        known: (n,) whether it is known.
        makers: (n,) maker codes.
    """

    value: Floats
    u: Floats
    known: Mask
    makers: npt.NDArray[np.int32]


def listed_side(catalogue: Catalogue, rule: Rule, rows: Ints) -> Side:
    """Return what parts list in one dimension."""
    makers = catalogue.makers[rows]
    if rule.dimension.kind.is_numeric:
        listed, listed_u = catalogue.numbers(rule.dimension.key)
        value, u = listed[rows].astype(np.float64), listed_u[rows].astype(np.float64)
        known = ~np.isnan(value)
        return Side(np.where(known, value, 0.0), np.where(known, u, 0.0), known, makers)
    codes = catalogue.codes(rule.dimension.key)[rows]
    return Side(codes.astype(np.float64), np.zeros(len(rows)), codes != MISSING_CODE, makers)


def words_agree(rule: Rule, candidates: Side, removed: Floats) -> Floats:
    """Return 1 where a candidate's choice, flag, set or text does the job of a removed part's, else 0.

    Args:
        rule: of the dimension.
        candidates: (n,) codes.
        removed: (m,) codes.

    Returns:
        (n, m); meaningless where either is not known.
    """
    if rule.dimension.kind is not Kind.CHOICE:
        return np.asarray(candidates.value[:, None] == removed[None, :], np.float64)
    choices = rule.dimension.choices
    table = np.array([[accepts(rule, old, new) for old in choices] for new in choices], np.float64)
    # A value that is not listed is -1 and reads the last row; the mask of what is known takes it out again.
    return np.asarray(table[candidates.value.astype(np.int64)][:, removed.astype(np.int64)])
