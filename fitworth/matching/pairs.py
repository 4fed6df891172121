"""How far each candidate agrees with each likely design, dimension by dimension.

A dimension is compared where the candidate lists it and the removed part's value is known under the
hypothesis: because it was measured, or because the design on file lists it. Where both hold, the two are
combined as two readings of one size, unless they contradict each other; then one of them is a gross error and
the part in the hand is believed.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fitworth.families.model import Around
from fitworth.matching.allowances import Rule, allowed_range, difference, forgive, mendable_range, scatter_u
from fitworth.matching.answer import Floats, Ints
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.parameters import FitModel
from fitworth.matching.sides import LEAST_U, Mask, Side, first_of, listed_side, words_agree
from fitworth.quantities.quantity import Quantity

CONTRADICTS_FROM = (
    4.0  # combined standard uncertainties; own choice: there a gross error is the likelier cause
)
CELLS_AT_ONCE = 60_000  # numbers worked on at once, so that they stay in the processor's cache
SURE = 8.0  # standard uncertainties beyond which the normal distribution is 0 or 1 to seven digits

Singles = npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Pairs:
    """Candidates against hypotheses; arrays are (n_dims, n_candidates, n_hypotheses) unless said otherwise.

    Attributes:
        rules: the dimensions that count for fit.
        compared: 1 where both sides are known, else 0.
        agrees: probability of lying within the allowance by the figures as they stand; 0 where not compared.
        mends: probability of lying within the allowance or what the cure bridges; 0 where not compared.
        doubtful: (n_dims, n_hypotheses) how many figures may be gross errors: 2, or 1 where the hypothesis's
            listed value and the measurement back each other.
    """

    rules: tuple[Rule, ...]
    compared: Singles
    agrees: Singles
    mends: Singles
    doubtful: Singles

    def only(self, candidates: slice | Ints) -> "Pairs":
        """Return some of the candidates."""
        part = (slice(None), candidates)
        return Pairs(self.rules, self.compared[part], self.agrees[part], self.mends[part], self.doubtful)

    def among(self, count: int) -> "Pairs":
        """Return the first candidates with the first hypotheses."""
        part = (slice(None), slice(count), slice(count))
        doubtful = self.doubtful[:, :count]
        return Pairs(self.rules, self.compared[part], self.agrees[part], self.mends[part], doubtful)


@dataclass(frozen=True, slots=True)
class Seats:
    """Who is compared: the first candidates are the hypotheses' own parts, in their order.

    Attributes:
        rows: (n_candidates,) of the catalogue.
        hypotheses: how many of them are hypotheses as well.
        maker: the removed part's, for scales that are comparable within one maker only.
    """

    rows: Ints
    hypotheses: int
    maker: str | None = None


def compare_pairs(catalogue: Catalogue, rules: tuple[Rule, ...], seats: Seats, model: FitModel) -> Pairs:
    """Return how candidates agree with hypotheses.

    Args:
        catalogue: the parts.
        rules: the dimensions that count for fit.
        seats: the candidates and hypotheses.
        model: scatter and the width of "equal".
    """
    shape = (len(rules), len(seats.rows), seats.hypotheses)
    compared, agrees = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    doubtful = np.full((len(rules), seats.hypotheses), 2.0, np.float32)
    maker = catalogue.maker_code(seats.maker)
    sides: list[tuple[Side, Side]] = []
    for place, rule in enumerate(rules):
        candidates = listed_side(catalogue, rule, seats.rows)
        designs = first_of(candidates, seats.hypotheses)
        removed, backed = _removed_side(catalogue, rule, designs, maker, model)
        doubtful[place, backed] = 1.0
        known = candidates.known[:, None] & removed.known
        if rule.dimension.scale_of:
            known &= candidates.makers[:, None] == removed.makers
        compared[place] = known
        sides.append((candidates, removed))
        if not rule.dimension.kind.is_numeric:
            agrees[place] = words_agree(rule, candidates, removed.value)
    mends = agrees.copy()
    numeric = [place for place, rule in enumerate(rules) if rule.dimension.kind.is_numeric]
    step = max(1, CELLS_AT_ONCE // (shape[1] * shape[2]))
    for start in range(0, len(numeric), step):
        some = numeric[start : start + step]
        agrees[some], mends[some] = _numbers_agree([rules[p] for p in some], [sides[p] for p in some], model)
    for place, rule in enumerate(rules):
        if rule.dimension.cure and not rule.dimension.kind.is_numeric:
            mends[place] = 1.0
    agrees *= compared
    mends *= compared
    return Pairs(rules, compared, agrees, mends, doubtful)


def _removed_side(
    catalogue: Catalogue, rule: Rule, designs: Side, maker: int, model: FitModel
) -> tuple[Side, Mask]:
    """Return the removed part's value under each hypothesis, and where its listing backs the measurement."""
    if rule.measured is None:
        return designs, np.zeros_like(designs.known)
    everywhere = np.ones_like(designs.known)
    if rule.dimension.scale_of:
        designs = Side(designs.value, designs.u, ~everywhere, np.full_like(designs.makers, maker))
    x = rule.number
    if x is None:
        code = float(catalogue.code_of(rule.dimension, rule.measured))
        seen = Side(np.full_like(designs.value, code), designs.u, everywhere, designs.makers)
        return seen, designs.known & (designs.value == code)
    return _combined(rule, x, designs, model)


def _combined(rule: Rule, x: Quantity, designs: Side, model: FitModel) -> tuple[Side, Mask]:
    """Combine measurement and listed values by their variances (GUM, JCGM 100:2008) where they agree."""
    u_x = max(x.standard_uncertainty, LEAST_U)
    u_design = np.hypot(designs.u, scatter_u(rule, designs.value, model))
    off = difference(rule, designs.value, np.full_like(designs.value, x.value))
    consistent = designs.known & (np.abs(off) < CONTRADICTS_FROM * np.hypot(u_x, u_design))
    share = np.where(consistent, u_x**2 / (u_x**2 + u_design**2), 0.0)
    everywhere = np.ones_like(designs.known)
    both = Side(x.value + share * off, u_x * np.sqrt(1.0 - share), everywhere, designs.makers)
    return both, consistent


def _numbers_agree(
    rules: list[Rule], sides: list[tuple[Side, Side]], model: FitModel
) -> tuple[Singles, Singles]:
    """Return the probabilities of agreeing, and of agreeing or being mended, of some numeric dimensions."""
    own, own_u, old, old_u, low, high, bridge_low, bridge_high = ([] for _ in range(8))
    for rule, (candidates, removed) in zip(rules, sides, strict=True):
        own.append(candidates.value)
        own_u.append(candidates.u)
        old.append(removed.value)
        old_u.append(np.hypot(np.hypot(removed.u, scatter_u(rule, removed.value, model)), LEAST_U))
        widest = float(candidates.u.max())
        ends = forgive(allowed_range(rule, removed.value, model), np.hypot(old_u[-1], widest))
        bridge = mendable_range(rule)
        low.append(ends[0])
        high.append(ends[1])
        bridge_low.append(np.minimum(ends[0], bridge[0]))
        bridge_high.append(np.maximum(ends[1], bridge[1]))
    differs = _columns(own) - _rows(old)
    for place, rule in enumerate(rules):
        if isinstance(rule.allowance, Around):
            differs[place] = difference(rule, differs[place], np.zeros(1, np.float32))
    sharpness = 1.0 / np.sqrt(_columns(own_u) ** 2 + _rows(old_u) ** 2)
    within = normal_below((_rows(high) - differs) * sharpness) - normal_below(
        (_rows(low) - differs) * sharpness
    )
    bridged = within.copy()
    for place, rule in enumerate(rules):
        if rule.dimension.cure:
            bridged[place] = normal_below((bridge_high[place] - differs[place]) * sharpness[place])
            bridged[place] -= normal_below((bridge_low[place] - differs[place]) * sharpness[place])
    return within, bridged


def _columns(values: list[Floats]) -> Singles:
    return np.array(values, np.float32)[:, :, None]


def _rows(values: list[Floats]) -> Singles:
    return np.array(values, np.float32)[:, None, :]


def normal_below(z: npt.NDArray[np.floating]) -> Singles:
    """Return the standard normal distribution function to within 0.0002, fast and in single precision.

    The logistic function of a cubic, after E. Page, Applied Statistics 26 (1977), 75-76 (attribution from
    memory; the bound is tested against SciPy). Listed figures are not worth more, and it costs a seventh.

    Args:
        z: any shape; infinite ends are welcome.
    """
    z = np.clip(z, -SURE, SURE).astype(np.float32, copy=False)
    return np.asarray(
        1.0 / (1.0 + np.exp(z * (np.float32(-1.5976) - np.float32(0.070565992) * z * z))), np.float32
    )
