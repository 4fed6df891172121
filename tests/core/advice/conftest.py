"""A case to start from: a carburetor of an invented tiller; tests change what they are about.

The maker's part about 65, branded ones 20 to 30 without gaskets, unbranded ones under 10 with gaskets:
common practice, no source.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

import fitworth.advice
import fitworth.families
from fitworth.advice.assumptions import Assumptions, read_assumptions
from fitworth.advice.case import (
    Candidate,
    ComparisonCase,
    DatedNeedOffer,
    KitOffer,
    MachineValues,
    PartOffer,
    Prices,
    Work,
)
from fitworth.costing.need_bounds import NeedOffer
from fitworth.costing.terms import DeliveryMethod, Destination, FlatCharge, Goods, Returns, SupplierTerms
from fitworth.families.model import Family
from fitworth.families.parse import parse_family
from fitworth.vocabulary import Grade, Verdict

MakeSupplier = Callable[..., SupplierTerms]
MakeCandidate = Callable[..., Candidate]
MakeOffer = Callable[..., PartOffer]
GASKETS = frozenset({"mounting_gasket", "air_filter_gasket"})


@pytest.fixture(scope="session")
def assumptions() -> Assumptions:
    return read_assumptions((Path(fitworth.advice.__path__[0]) / "assumptions.toml").read_bytes())


@pytest.fixture(scope="session")
def get_family() -> Callable[[str], Family]:
    folder = Path(fitworth.families.__path__[0])
    return lambda key: parse_family((folder / f"{key}.toml").read_bytes(), f"{key}.toml")


@pytest.fixture(scope="session")
def make_supplier() -> MakeSupplier:
    def make(number: int = 1, **changes: Any) -> SupplierTerms:
        terms: dict[str, Any] = {
            "supplier_id": number,
            "name": f"Ostler Supplies {number}",
            "country": "US",
            "currency": "USD",
            "delivery": (DeliveryMethod("post", None, FlatCharge(Decimal("4.57")), None, 5.0),),
            "prices_include_tax": True,
            "returns": Returns(30.0, Decimal("6.00"), Decimal("0.10")),
            "warranty_days": 0.0,
        }
        return SupplierTerms(**(terms | changes))

    return make


@pytest.fixture(scope="session")
def make_candidate() -> MakeCandidate:
    def make(part_id: int, grade: Grade, fit: float = 0.9, **changes: Any) -> Candidate:
        made = Candidate(
            part_id, f"Quillon Q{part_id}", "Quillon", f"Q{part_id}", grade, fit, Verdict.BOLTS_ON
        )
        return replace(made, **changes)

    return make


@pytest.fixture(scope="session")
def make_offer(make_supplier: MakeSupplier) -> MakeOffer:
    def make(
        part_id: int,
        price: str,
        includes: frozenset[str] = GASKETS,
        quote_id: int | None = None,
        valid_until: date | None = None,
        supplier: SupplierTerms | None = None,
    ) -> PartOffer:
        goods = Goods(quote_id or 100 + part_id, "carburetor", Decimal(price), includes=includes)
        return PartOffer(part_id, goods, supplier or make_supplier(), valid_until)

    return make


@pytest.fixture(scope="session")
def make_kit(make_supplier: MakeSupplier) -> Callable[..., KitOffer]:
    def make(price: str = "7.40", serves: float = 0.9, **changes: Any) -> KitOffer:
        goods = Goods(300, "rebuild_kit", Decimal(price), includes=GASKETS)
        kit = KitOffer("Brackwell kit K-19", Grade.AFTERMARKET_BRANDED, serves, goods, make_supplier(2))
        return replace(kit, **changes)

    return make


@pytest.fixture(scope="session")
def make_need_offer(make_supplier: MakeSupplier) -> Callable[..., DatedNeedOffer]:
    def make(need: str, price: str, quote_id: int, valid_until: date | None = None) -> DatedNeedOffer:
        goods = Goods(quote_id, "gasket", Decimal(price), includes=frozenset({need}))
        return DatedNeedOffer(f"Vennor {need}", NeedOffer(goods, make_supplier()), valid_until)

    return make


@pytest.fixture(scope="session")
def case(
    assumptions: Assumptions,
    get_family: Callable[[str], Family],
    make_candidate: MakeCandidate,
    make_offer: MakeOffer,
) -> ComparisonCase:
    home = Destination("workshop", "US", "USD", Decimal(0), None, Decimal("0.02"))
    return ComparisonCase(
        family=get_family("carburetor"),
        machine=MachineValues(Decimal(190), Decimal(35), Decimal(0), 17.0, 4.0, history_known=False),
        prices=Prices("USD", home, (), date(2026, 11, 25)),
        candidates=(
            make_candidate(1, Grade.OEM, label="Harrowmere 708-21B", maker="Harrowmere"),
            make_candidate(2, Grade.AFTERMARKET_BRANDED, label="Brackwell BK-208", maker="Brackwell"),
            make_candidate(3, Grade.AFTERMARKET_UNBRANDED, label="Quillon Q19-42"),
        ),
        belief=None,
        offers=(
            make_offer(1, "64.90"),
            make_offer(2, "24.50", frozenset()),
            make_offer(3, "9.80"),
        ),
        kits=(),
        need_offers=(),
        work=Work(
            needs={"mounting_gasket": 1, "air_filter_gasket": 1},
            condition={"needle_and_seat": "corroded", "body": "light"},
            seat_replaceable=False,
        ),
        assumptions=assumptions,
    )
