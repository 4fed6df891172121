"""A shop's and a border's terms: what is refused, and how the sound ones are read."""

import math
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from fitworth.costing.terms import (
    DeliveryMethod,
    FlatCharge,
    Goods,
    ImportRules,
    PerItemCharge,
    PriceBreak,
    ProcessingFee,
    Returns,
    WeightBand,
    WeightCharge,
)
from fitworth.costing.terms_reading import (
    read_delivery,
    read_import_rules,
    read_method,
    read_returns,
    read_schedule,
)
from fitworth.errors import InvalidValueError
from fitworth.vocabulary import CustomsBasis


def list_pointers(read: Callable[[Any, str], object], raw: object) -> list[str]:
    with pytest.raises(InvalidValueError) as caught:
        read(raw, "USD")
    assert all(fault.says for fault in caught.value.faults)
    return [fault.where for fault in caught.value.faults]


@pytest.mark.parametrize(
    ("raw", "pointers"),
    [
        (None, [""]),
        ({}, ["/kind"]),
        ({"kind": "by_drone"}, ["/kind"]),
        ({"kind": ["flat"]}, ["/kind"]),
        ({"kind": "flat"}, ["/amount"]),
        (
            {"kind": "flat", "amount": 4.57, "first": "1.00", "free_above": "x"},
            ["/first", "/free_above", "/amount"],
        ),
        ({"kind": "per_item", "first": "4.001"}, ["/first", "/each_further"]),
        ({"kind": "by_weight", "bands": []}, ["/bands"]),
        ({"kind": "by_weight", "bands": "500 g"}, ["/bands"]),
        (
            {
                "kind": "by_weight",
                "bands": [{"up_to_g": 0, "amount": "1"}, {"up_to_g": 9, "amount": "x", "to": 1}],
            },
            ["/bands/0/up_to_g", "/bands/1/to", "/bands/1/amount"],
        ),
        (
            {"kind": "by_weight", "bands": [{"up_to_g": 9, "amount": "1"}, {"up_to_g": 9, "amount": "2"}]},
            ["/bands"],
        ),
        (
            {"kind": "by_weight", "bands": [{"up_to_g": None, "amount": "1"}, {"up_to_g": 9, "amount": "2"}]},
            ["/bands"],
        ),
    ],
)
def test_a_faulty_schedule_is_refused_with_every_fault(raw: object, pointers: list[str]) -> None:
    assert list_pointers(read_schedule, raw) == pointers


def test_a_faulty_delivery_method_is_refused_with_every_fault() -> None:
    raw = {
        "method": "",
        "to_country": "us",
        "schedule": {"kind": "flat"},
        "days": -1,
        "insurance": "2",
        "by": "x",
    }
    pointers = ["/by", "/method", "/to_country", "/schedule/amount", "/days", "/insurance"]
    assert list_pointers(read_method, raw) == pointers
    assert list_pointers(read_delivery, [raw]) == [f"/0{pointer}" for pointer in pointers]


def test_faulty_terms_of_return_are_refused_with_every_fault() -> None:
    assert list_pointers(read_returns, {"postage": 4.5, "restocking": "15"}) == [
        "/days",
        "/postage",
        "/restocking",
    ]


def test_faulty_import_rules_are_refused_with_every_fault() -> None:
    raw = {
        "basis": "weight",
        "duty": {"a/b": "2.5", "carburetor": 0.025},
        "threshold": "800.001",
        "processing_fee": {"rate": "0.003464", "floor": 25},
        "tax": "20",
    }
    pointers = [
        "/basis",
        "/duty/a~1b",
        "/duty/carburetor",
        "/threshold",
        "/processing_fee/floor",
        "/processing_fee/cap",
        "/tax",
    ]
    assert list_pointers(read_import_rules, raw) == pointers
    assert list_pointers(read_import_rules, {"duty": []}) == ["/basis", "/duty"]
    assert list_pointers(read_import_rules, {"basis": 1}) == ["/basis"]
    fee = {"rate": "0", "floor": "2", "cap": "1"}
    assert list_pointers(read_import_rules, {"basis": "goods", "processing_fee": fee}) == [
        "/processing_fee/cap"
    ]


def test_goods_that_no_shop_sells_are_refused_with_every_fault() -> None:
    with pytest.raises(InvalidValueError) as caught:
        Goods(
            quote_id=1,
            family="carburetor",
            price=Decimal(-1),
            price_breaks=(PriceBreak(2, Decimal(1)), PriceBreak(0, Decimal(1)), PriceBreak(3, Decimal(-1))),
            quantity=0,
            weight_g=math.inf,
            core_charge=Decimal(-1),
        )
    assert [fault.where for fault in caught.value.faults] == [
        "/quantity",
        "/price",
        "/core_charge",
        "/weight_g",
        "/price_breaks/1",
        "/price_breaks/2",
    ]


@pytest.mark.parametrize(
    ("raw", "schedule", "free_above"),
    [
        (
            {"kind": "flat", "amount": "4.57", "free_above": "35.00"},
            FlatCharge(Decimal("4.57")),
            Decimal("35.00"),
        ),
        (
            {"kind": "per_item", "first": "4.00", "each_further": "1.50"},
            PerItemCharge(Decimal("4.00"), Decimal("1.50")),
            None,
        ),
        (
            {
                "kind": "by_weight",
                "bands": [{"up_to_g": 500, "amount": "4"}, {"up_to_g": None, "amount": "9"}],
            },
            WeightCharge((WeightBand(500.0, Decimal(4)), WeightBand(math.inf, Decimal(9)))),
            None,
        ),
    ],
)
def test_a_sound_schedule_is_read(raw: object, schedule: object, free_above: Decimal | None) -> None:
    assert read_schedule(raw, "USD") == (schedule, free_above)


def test_sound_delivery_and_returns_are_read() -> None:
    flat = {"kind": "flat", "amount": "4.57"}
    raw = [
        {"method": "post", "to_country": "US", "schedule": flat, "days": 4},
        {"method": "courier", "schedule": flat, "days": 1.5, "insurance": "0.02"},
    ]
    charge = FlatCharge(Decimal("4.57"))
    assert read_delivery(raw, "USD") == (
        DeliveryMethod("post", "US", charge, None, 4.0),
        DeliveryMethod("courier", None, charge, None, 1.5, Decimal("0.02")),
    )
    assert read_returns({"days": 30, "postage": "4.50", "restocking": "0.15"}, "USD") == Returns(
        30.0, Decimal("4.50"), Decimal("0.15")
    )
    assert read_returns({"days": 0}, "USD") == Returns(0.0, Decimal(0), Decimal(0))


def test_sound_import_rules_are_read_and_what_is_absent_takes_nothing() -> None:
    raw = {
        "basis": "goods_and_carriage",
        "duty": {"carburetor": "0.025", "default": "0"},
        "threshold": "800.00",
        "processing_fee": {"rate": "0.003464", "floor": "25.00", "cap": "485.00"},
        "tax": "0.20",
    }
    fee = ProcessingFee(Decimal("0.003464"), Decimal(25), Decimal(485))
    duty = {"carburetor": Decimal("0.025"), "default": Decimal(0)}
    rules = ImportRules(CustomsBasis.GOODS_AND_CARRIAGE, duty, Decimal(800), fee, Decimal("0.2"))
    assert read_import_rules(raw, "USD") == rules
    assert hash(rules) == hash(read_import_rules(raw, "USD"))
    nothing = ImportRules(CustomsBasis.GOODS, {}, Decimal(0), None, Decimal(0))
    assert read_import_rules({"basis": "goods"}, "USD") == nothing
