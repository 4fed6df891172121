"""How a candidate's own listing compares with a measurement, whatever its group says.

A mismatch that is a matter of safety removes a candidate by its own listing alone, and a scale that one maker
uses compares only parts of that maker.
"""

import math
from collections.abc import Mapping

import numpy as np

from fitworth.matching.allowances import Rule, allowed_range, difference, forgive, scatter_u
from fitworth.matching.answer import Floats, Ints
from fitworth.matching.catalogue import UNKNOWN_CODE, Catalogue
from fitworth.matching.groups.likeness import normal_density, probability_within
from fitworth.matching.groups.sizes import wide_of
from fitworth.matching.parameters import FitModel
from fitworth.matching.sides import LEAST_U, Side, listed_side, words_agree
from fitworth.quantities.quantity import Quantity


def listed_agreement(
    catalogue: Catalogue,
    rules: tuple[Rule, ...],
    rows: Ints,
    maker: str | None,
    usual: Mapping[str, float],
    model: FitModel,
) -> dict[str, Floats]:
    """Return the probability that candidates agree in each measured dimension, by their own listing.

    Args:
        catalogue: the parts.
        rules: of all dimensions, with what was measured.
        rows: (n,) of the candidates.
        maker: whose part the removed one is, where known.
        usual: how often any two designs agree, by key.
        model: the shares of errors.

    Returns:
        By key, (n,) probabilities; not-a-number where a candidate lists nothing or on another scale.
    """
    code = catalogue.maker_code(maker)
    found = {}
    for rule in rules:
        if rule.measured is None:
            continue
        listed = listed_side(catalogue, rule, rows)
        share = usual.get(rule.dimension.key, model.unrelated_agrees)
        if rule.number is None:
            agrees = word_agreement(rule, catalogue, listed, share, model)
        else:
            agrees = number_agreement(
                rule, rule.number, listed, share, _density_of(catalogue, rule, model), model
            )
        known = listed.known & (listed.makers == code) if rule.dimension.scale_of else listed.known
        found[rule.dimension.key] = np.where(known, agrees, np.nan)
    return found


def _density_of(catalogue: Catalogue, rule: Rule, model: FitModel) -> float:
    """Return how likely the measurement is of any design on file [1/unit]; kept until parts change."""
    values = catalogue.numbers(rule.dimension.key)[0]
    wide = catalogue.recall(
        (listed_agreement, rule.dimension.key, model.least_spread),
        lambda: (
            wide_of(values[~np.isnan(values)].astype(np.float64), model.least_spread)
            if not np.isnan(values).all()
            else None
        ),
    )
    x = rule.number
    if wide is None or x is None:
        return 1.0
    return float(wide.density(x.value, x.standard_uncertainty))


def number_agreement(
    rule: Rule, x: Quantity, listed: Side, usual: float, elsewhere: float, model: FitModel
) -> Floats:
    """Return the probability that candidates are within the allowance, from a measurement.

    Either both figures are sound and the difference is what it seems, or one is a gross error and only the
    usual share of agreeing pairs is left. Which it is, follows from how well the two figures agree.

    Args:
        rule: of the dimension.
        x: the measurement.
        listed: (n,) the candidates' values.
        usual: how often any two designs agree here.
        elsewhere: density of the measurement over all designs [1/unit].
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
    alike = normal_density(differs, u**2)
    sound = (1.0 - model.gross_error_share) * (usual * alike + (1.0 - usual) * elsewhere)
    gross = model.gross_error_share * elsewhere
    return np.asarray((sound * within + gross * usual) / (sound + gross))


def word_agreement(rule: Rule, catalogue: Catalogue, listed: Side, usual: float, model: FitModel) -> Floats:
    """Return the probability that candidates do the job of a word seen on the removed part.

    By Bayes with the usual share b of agreeing pairs and a share g of pairs with a wrong entry, which agree
    as usual: 1 - g (1 - b) where the entries agree and g b where they do not.

    Args:
        rule: of the dimension, measured.
        catalogue: for the codes.
        listed: (n,) the candidates' codes.
        usual: how often any two designs agree here.
        model: the share of wrong entries.

    Returns:
        (n,) probabilities; meaningless where the candidate lists nothing.
    """
    wrong = 1.0 - (1.0 - model.choice_error_share) ** 2
    agrees = words_agree(rule, listed, np.array([float(code_seen(catalogue, rule))]))[:, 0]
    return np.asarray(agrees * (1.0 - wrong * (1.0 - usual)) + (1.0 - agrees) * wrong * usual)


def code_seen(catalogue: Catalogue, rule: Rule) -> int:
    """Return the code of a measured word; UNKNOWN_CODE where no part lists it."""
    return UNKNOWN_CODE if rule.measured is None else catalogue.code_of(rule.dimension, rule.measured)
