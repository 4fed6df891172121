"""Published figures on money: border charges, shared fees, minor units.

R: read in the source or a faithful copy; C: recomputed.
"""

from datetime import date
from decimal import Decimal

import pytest

from fitworth.costing.customs import charge_imports
from fitworth.costing.landed import land
from fitworth.costing.rates import Rate
from fitworth.costing.terms import (
    DeliveryMethod,
    Destination,
    FlatCharge,
    Goods,
    ImportRules,
    ProcessingFee,
    Returns,
    SupplierTerms,
)
from fitworth.quantities.money import minor_digits, share_by_value
from fitworth.vocabulary import CustomsBasis

DAY = date(2026, 11, 20)
ZERO = Decimal(0)


def abroad(currency: str, carriage: str) -> SupplierTerms:
    way = DeliveryMethod("post", None, FlatCharge(Decimal(carriage)), None, 10.0)
    returns = Returns(0.0, ZERO, ZERO)
    return SupplierTerms(1, "Ostler Export", "XA", currency, (way,), False, returns, 0.0)


def take(
    parcel: list[Goods], supplier: SupplierTerms, destination: Destination, rates: list[Rate]
) -> dict[str, Decimal]:
    landed = land(parcel, supplier, destination, rates, DAY)
    return {line.line: line.amount for line in landed.lines}


def test_ireland_goods_of_two_duty_rates() -> None:
    # Revenue, Ireland (R, C): goods 500 at 0 % and 600 at 2.5 % duty;
    # VAT 23 % on 1115 is 256.45; duty and VAT together 271.45 EUR.
    duty = {"free": ZERO, "rated": Decimal("0.025")}
    imports = ImportRules(CustomsBasis.GOODS, duty, ZERO, None, Decimal("0.23"))
    home = Destination("home", "IE", "EUR", ZERO, imports, ZERO)
    lines = take(
        [Goods(1, "free", Decimal(500)), Goods(2, "rated", Decimal(600))], abroad("EUR", "0"), home, []
    )
    assert lines["import_tax"] == Decimal("256.45")
    assert lines["duty"] + lines["import_tax"] == Decimal("271.45")


def test_australia_carriage_counts_for_the_tax_and_not_for_the_duty() -> None:
    # GST Act 1999 s 13-20 (R), figures as quoted from Customs (R, C): goods 1200, duty 5 % is 60,
    # carriage and insurance 150, GST 10 % on 1410 is 141; together 201 AUD.
    imports = ImportRules(CustomsBasis.GOODS, {"default": Decimal("0.05")}, ZERO, None, Decimal("0.10"))
    home = Destination("home", "AU", "AUD", ZERO, imports, ZERO)
    lines = take([Goods(1, "carburetor", Decimal(1200))], abroad("AUD", "150"), home, [])
    assert [lines["duty"], lines["import_tax"]] == [Decimal(60), Decimal(141)]


def test_canada_exchange_in_decimals() -> None:
    # CBSA, as quoted (R, C): USD 100 at 1.15, duty 4 % is 4.60, GST 5 % is 5.98, together 10.58 CAD.
    # 100 x 1.15 in binary floats is not 115.
    imports = ImportRules(CustomsBasis.GOODS, {"default": Decimal("0.04")}, ZERO, None, Decimal("0.05"))
    home = Destination("home", "CA", "CAD", ZERO, imports, ZERO)
    rates = [Rate("USD", "CAD", Decimal("1.15"), DAY)]
    lines = take([Goods(1, "carburetor", Decimal(100))], abroad("USD", "0"), home, rates)
    assert lines["price"] == Decimal(115)
    assert [lines["duty"], lines["import_tax"]] == [Decimal("4.60"), Decimal("5.98")]
    assert lines["duty"] + lines["import_tax"] == Decimal("10.58")


@pytest.mark.parametrize(("value", "fee"), [("5000", "25.00"), ("10000", "34.64"), ("185000", "485.00")])
def test_us_processing_fee_has_a_floor_and_a_cap(value: str, fee: str) -> None:
    # 19 CFR 24.23 (R): 0.3464 % of the customs value; with the floor 25 and the cap 485.
    schedule = ProcessingFee(Decimal("0.003464"), Decimal(25), Decimal(485))
    imports = ImportRules(CustomsBasis.GOODS, {}, ZERO, schedule, ZERO)
    taken = charge_imports({"carburetor": Decimal(value)}, ZERO, imports, "USD")
    assert taken.processing_fee == Decimal(fee)


def test_us_capped_fee_is_shared_by_value() -> None:
    # CBP broker examination, October 2015 (R, C): the capped fee of 485 over a value of 187500 after a
    # deduction of 2500; a line of 40000 with 198 of its 200 pieces used bears 102.43.
    used = Decimal(40000) * 198 / 200
    share, rest = share_by_value(Decimal(485), [used, Decimal(187500) - used], "USD")
    assert share == Decimal("102.43")
    assert share + rest == 485


@pytest.mark.parametrize(
    ("currency", "digits"),
    [("USD", 2), ("EUR", 2), ("JPY", 0), ("KWD", 3), ("BHD", 3), ("IQD", 3)],
)
def test_minor_units(currency: str, digits: int) -> None:
    # ISO 4217 (C). Another widespread table gives IQD none; the standard's list says three.
    assert minor_digits(currency) == digits
