"""What a border takes: customs value, duty, processing fee, import tax."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from fitworth.costing.terms import ZERO, ImportRules
from fitworth.quantities.money import round_money
from fitworth.vocabulary import CustomsBasis

OTHER_FAMILIES = "default"


@dataclass(frozen=True, slots=True)
class ImportCharges:
    """What a border takes from one parcel, each rounded [destination's currency]."""

    customs_value: Decimal
    duty: Decimal
    processing_fee: Decimal
    import_tax: Decimal


def charge_imports(
    values: Mapping[str, Decimal], carriage: Decimal, rules: ImportRules, currency: str
) -> ImportCharges:
    """Return what a border takes from a parcel.

    Duty goes by family; where the customs value counts carriage, each family bears it by its value. A parcel
    at or below the threshold passes without duty and fee; import tax is taken all the same (own choice). The
    tax is on all that was paid to get the goods through: their value, carriage, duty and fee (own choice for
    the fee, after Directive 2006/112/EC, article 86, from memory).

    Args:
        values: goods by family, not yet rounded [currency].
        carriage: delivery and insurance, rounded [currency].
        rules: the destination's.
        currency: the destination's.
    """
    goods = round_money(sum(values.values(), ZERO), currency)
    counted = carriage if rules.basis is CustomsBasis.GOODS_AND_CARRIAGE else ZERO
    customs_value = goods + counted
    duty = fee = ZERO
    if customs_value > rules.threshold:
        duty = round_money(_sum_duty(values, counted, rules), currency)
        fee = round_money(_charge_fee(customs_value, rules), currency)
    tax = round_money((goods + carriage + duty + fee) * rules.tax, currency)
    return ImportCharges(customs_value, duty, fee, tax)


def _sum_duty(values: Mapping[str, Decimal], counted: Decimal, rules: ImportRules) -> Decimal:
    other = rules.duty.get(OTHER_FAMILIES, ZERO)
    taken = sum((value * rules.duty.get(family, other) for family, value in values.items()), ZERO)
    if not counted:
        return taken
    goods = sum(values.values(), ZERO)
    if not goods:  # free goods: each family bears the same part of the carriage
        return counted * sum((rules.duty.get(family, other) for family in values), ZERO) / len(values)
    return taken + counted * taken / goods


def _charge_fee(customs_value: Decimal, rules: ImportRules) -> Decimal:
    if rules.processing_fee is None:
        return ZERO
    fee = rules.processing_fee
    return min(max(customs_value * fee.rate, fee.floor), fee.cap)
