"""How likely a measurement is, if the removed part were of a given part's design.

Each measured dimension multiplies the weight of the hypothesis "it is of part j's design" by the likelihood
of the
measurement given what j lists, over its likelihood given nothing but the catalogue:

    L = (1 - gross - copy) * normal(x; listed, both uncertainties and makers' scatter)
        + copy / width of the allowance      where x lies within it
        + gross * wide(x)

`wide` spreads over everything the catalogue lists, with heavy tails (Student's t, 3 degrees of freedom):
where gross errors land, and where designs that are on no file lie. A part that does not list the dimension is
neither more nor less likely: its factor is 1. A mixture and not a floor, so that one gross entry does not
sink the right part below every part with a hole there.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from fitworth.matching.allowances import Rule, allowed_range, difference, forgive, scatter_u
from fitworth.matching.answer import Floats
from fitworth.matching.catalogue import UNKNOWN_CODE, Catalogue, Singles
from fitworth.matching.layout import MISSING_CODE
from fitworth.matching.parameters import FitModel
from fitworth.matching.sides import LEAST_U, Mask, Side, words_agree
from fitworth.quantities.quantity import Quantity

SPREAD_SAMPLE = 2048  # listed values that tell a dimension's spread well enough
SPREAD_QUANTILES = (0.05, 0.95)
NO_SPREAD = 1e6  # [unit] of a dimension that no part lists: any value is as likely as any other
WIDE_SCALE = 0.3  # of the spread; a t density of that scale is about as high as a uniform one over the spread
LEAST_DENSITY = 1e-20  # keeps a ratio of two densities finite, however absurd the entry
SQRT_2PI = math.sqrt(2.0 * math.pi)


@dataclass(frozen=True, slots=True)
class Wide:
    """A dimension over all designs: Student's t with 3 degrees of freedom.

    Attributes:
        centre: the median of what is listed [unit].
        spread: from the 5th to the 95th percentile, stretched to the whole [unit].
    """

    centre: float
    spread: float

    def density(self, value: float, uncertainty: float) -> float:
        """Return the density at a measured value [1/unit]."""
        scale = math.hypot(WIDE_SCALE * self.spread, uncertainty)
        z2 = ((value - self.centre) / scale) ** 2
        return max(6.0 * math.sqrt(3.0) / (math.pi * scale * (3.0 + z2) ** 2), LEAST_DENSITY)


@dataclass(frozen=True, slots=True)
class Usual:
    """How unrelated parts lie in a dimension.

    Attributes:
        agree: share of pairs that agree within the allowance.
        wide: the dimension over all designs.
    """

    agree: float
    wide: Wide


@dataclass(frozen=True, slots=True)
class DimensionLikelihood:
    """What one measurement says of all parts on file.

    Attributes:
        key: of the dimension.
        ratio: (n_parts,) likelihood given the part's design over that given the catalogue; 1 where not
            listed.
        elsewhere: the same ratio for a design that is not on file.
    """

    key: str
    ratio: Singles
    elsewhere: float


def wide_of(catalogue: Catalogue, rule: Rule, model: FitModel) -> Wide:
    """Return the spread of a numeric dimension over a catalogue; it is kept until the catalogue changes.

    Args:
        catalogue: the parts.
        rule: of the dimension.
        model: for the least spread.
    """
    key = rule.dimension.key
    return catalogue.recall(
        (wide_of, key, model.least_spread), lambda: _wide(catalogue.numbers(key)[0], model)
    )


def _wide(values: Singles, model: FitModel) -> Wide:
    listed = values[~np.isnan(values)]
    if not len(listed):
        return Wide(0.0, NO_SPREAD)
    sample = np.sort(listed[:: -(-len(listed) // SPREAD_SAMPLE)])
    low, high = (float(sample[round(q * (len(sample) - 1))]) for q in SPREAD_QUANTILES)
    centre = float(sample[len(sample) // 2])
    whole = (high - low) / (SPREAD_QUANTILES[1] - SPREAD_QUANTILES[0])
    return Wide(centre, max(whole, model.least_spread * abs(centre), model.least_spread))


def number_likelihood(
    catalogue: Catalogue, rule: Rule, x: Quantity, comparable: Mask | None, model: FitModel
) -> DimensionLikelihood:
    """Return what a measured number says of all parts on file.

    Args:
        catalogue: the parts.
        rule: of the dimension.
        x: the measurement.
        comparable: (n_parts,) which parts use the same scale; None for all.
        model: the shares and scatters.
    """
    values, u = catalogue.numbers(rule.dimension.key)
    reference = np.array([x.value])
    own_u = math.hypot(x.standard_uncertainty, float(scatter_u(rule, reference, model)[0]))
    wide = wide_of(catalogue, rule, model)
    wide_density = wide.density(x.value, own_u)
    low, high = (float(end[0]) for end in allowed_range(rule, reference, model))
    low, high = max(low, -wide.spread), min(high, wide.spread)
    differs = difference(rule, values, np.array([x.value], np.float32)).astype(np.float32, copy=False)
    variance = u * u + np.float32(own_u**2)
    likelihood = np.exp(differs * differs / (np.float32(-2.0) * variance)) / np.sqrt(variance)
    likelihood *= np.float32((1.0 - model.gross_error_share - model.copy_share) / SQRT_2PI)
    allowed = (differs >= low) & (differs <= high)
    likelihood += allowed * np.float32(model.copy_share / max(high - low, own_u))
    likelihood += np.float32(model.gross_error_share * wide_density)
    listed = ~np.isnan(values) if comparable is None else ~np.isnan(values) & comparable
    return _against_catalogue(rule.dimension.key, likelihood, listed, wide_density)


def word_likelihood(catalogue: Catalogue, rule: Rule, model: FitModel) -> DimensionLikelihood:
    """Return what a choice, flag, set or text seen on the removed part says of all parts on file.

    A wrong entry is like another part's: it follows the catalogue's frequencies, smoothed by one count for
    each word.

    Args:
        catalogue: the parts.
        rule: of the dimension, measured.
        model: the share of wrong entries.
    """
    codes = catalogue.codes(rule.dimension.key)
    listed = codes != MISSING_CODE
    same = codes == _code_seen(catalogue, rule)
    words = max(len(rule.dimension.choices), 2)
    frequency = (int(same.sum()) + 1.0) / (int(listed.sum()) + words)
    wrong = model.choice_error_share
    likelihood = (same * np.float32(1.0 - wrong) + np.float32(wrong * frequency)).astype(
        np.float32, copy=False
    )
    return _against_catalogue(rule.dimension.key, likelihood, listed, frequency)


def _against_catalogue(
    key: str, likelihood: Singles, listed: Mask, wide_density: float
) -> DimensionLikelihood:
    count = int(listed.sum())
    if not count:
        return DimensionLikelihood(key, np.ones(len(listed), np.float32), 1.0)
    likelihood = np.where(listed, likelihood, np.float32(0.0))
    marginal = float(likelihood.sum()) / count
    likelihood /= np.float32(marginal)
    likelihood += ~listed
    return DimensionLikelihood(key, likelihood, wide_density / marginal)


def probability_within(low: Floats, high: Floats, differs: Floats, u: Floats) -> Floats:
    """Return the probability that a difference known as `differs` +- `u` lies in [low, high].

    Normal, all arrays of one shape or broadcast [unit]; within one standard uncertainty either way it is
    0.6827.
    """
    return np.asarray(ndtr((high - differs) / u) - ndtr((low - differs) / u))


def number_agreement(rule: Rule, x: Quantity, listed: Side, usual: Usual, model: FitModel) -> Floats:
    """Return the probability that candidates are within the allowance, from a measurement.

    Either both figures are sound and the difference is what it seems, or one is a gross error and only the
    usual share of agreeing pairs is left. Which it is, follows from how well the two figures agree.

    Args:
        rule: of the dimension.
        x: the measurement.
        listed: (n,) the candidates' values.
        usual: how unrelated parts lie here.
        model: the share of gross errors and the scatter.

    Returns:
        (n,) probabilities; meaningless where the candidate lists nothing.
    """
    reference = np.array([x.value])
    own_u = math.hypot(x.standard_uncertainty, float(scatter_u(rule, reference, model)[0]), LEAST_U)
    u = np.hypot(listed.u, own_u)
    low, high = forgive(allowed_range(rule, reference, model), u)
    differs = difference(rule, listed.value, reference)
    within = probability_within(low, high, differs, u)
    elsewhere = usual.wide.density(x.value, own_u)
    alike = np.exp(-0.5 * (differs / u) ** 2) / (SQRT_2PI * u)
    sound = (1.0 - model.gross_error_share) * (usual.agree * alike + (1.0 - usual.agree) * elsewhere)
    gross = model.gross_error_share * elsewhere
    return np.asarray((sound * within + gross * usual.agree) / (sound + gross))


def word_agreement(rule: Rule, catalogue: Catalogue, listed: Side, usual: float, model: FitModel) -> Floats:
    """Return the probability that candidates do the job of a word seen on the removed part.

    By Bayes with the usual share b of agreeing pairs and a share g of pairs with a wrong entry, which agree
    as usual: 1 - g (1 - b) where the entries agree and g b where they do not.

    Args:
        rule: of the dimension, measured.
        catalogue: for the codes.
        listed: (n,) the candidates' codes.
        usual: how often unrelated parts agree here.
        model: the share of wrong entries.

    Returns:
        (n,) probabilities; meaningless where the candidate lists nothing.
    """
    wrong = 1.0 - (1.0 - model.choice_error_share) ** 2
    agrees = words_agree(rule, listed, np.array([float(_code_seen(catalogue, rule))]))[:, 0]
    return np.asarray(agrees * (1.0 - wrong * (1.0 - usual)) + (1.0 - agrees) * wrong * usual)


def _code_seen(catalogue: Catalogue, rule: Rule) -> int:
    return UNKNOWN_CODE if rule.measured is None else catalogue.code_of(rule.dimension, rule.measured)
