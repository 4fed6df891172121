"""Proportions between measurements that hardly any part has: likely slips of unit or digit."""

from collections.abc import Mapping

from fitworth.families.model import Family, Ratio
from fitworth.matching.entry_slips import INCH_MM
from fitworth.quantities.quantity import Quantity, Value


def list_odd_proportions(family: Family, measured: Mapping[str, Value]) -> tuple[str, ...]:
    """Return a sentence for each of the family's ratios that the measurements break.

    Args:
        family: with its ratios.
        measured: the removed part's dimensions by key.
    """
    said = (_find_odd(family, ratio, measured) for ratio in family.ratios)
    return tuple(sentence for sentence in said if sentence)


def _find_odd(family: Family, ratio: Ratio, measured: Mapping[str, Value]) -> str | None:
    above, below = measured.get(ratio.numerator), measured.get(ratio.denominator)
    if not isinstance(above, Quantity) or not isinstance(below, Quantity) or below.value <= 0.0:
        return None
    found = above.value / below.value
    # Both readings' uncertainties are allowed for: two standard uncertainties of the ratio.
    slack = 2.0 * (above.standard_uncertainty + found * below.standard_uncertainty) / below.value
    if ratio.low - slack <= found <= ratio.high + slack:
        return None
    return say_odd_proportion(family, ratio, above, below)


def say_odd_proportion(family: Family, ratio: Ratio, above: Quantity, below: Quantity) -> str:
    """Return a sentence on two sizes that are out of proportion, with what may have happened."""
    found = above.value / below.value
    first, second = family.by_key[ratio.numerator], family.by_key[ratio.denominator]
    slip = is_unit_slip(ratio, found)
    advice = "Was one read in inches and taken for millimetres?" if slip else "Measure both again."
    return (
        f"{first.label} {above.value:g} {first.unit} to {second.label} {below.value:g} {second.unit} "
        f"is {found:.2f}; "
        f"usual is {ratio.low:g} to {ratio.high:g}. {advice}"
    )


def is_unit_slip(ratio: Ratio, found: float) -> bool:
    """Return whether a proportion is usual once one of its sizes is taken for inches."""
    return any(ratio.low <= found * factor <= ratio.high for factor in (INCH_MM, 1.0 / INCH_MM))
