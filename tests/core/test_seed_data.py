"""The demonstration's data holds together: references, counts, proportions, and what each offer's trap is."""

import json
from collections import Counter
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from math import sqrt
from pathlib import Path
from typing import Any

import pytest

from fitworth.costing.terms_reading import read_delivery, read_import_rules, read_returns
from fitworth.families.model import Family
from fitworth.families.parse import check_families, parse_family
from fitworth.matching.instruments import can_measure
from fitworth.matching.measurements import read_values
from fitworth.quantities.money import read_money
from fitworth.quantities.quantity import Quantity
from fitworth.vocabulary import Condition, Grade, Instrument, Relation, Role

ROOT = Path(__file__).resolve().parents[2]
FILES = ("parts", "suppliers", "quotes", "exchange_rates", "destinations", "machines", "jobs", "interchange")
Record = dict[str, Any]

# Displacement [cm3], rated speed [1000/min] and strokes of the invented engines.
ENGINES = {
    "Harrowmere H206": (206, 3.6, 4),
    "Harrowmere H270": (270, 3.6, 4),
    "Harrowmere H389": (389, 3.6, 4),
    "Ostler 163": (163, 3.6, 4),
    "Ostler 190V": (190, 3.1, 4),
    "Vennor T49": (49, 7.5, 2),
}

# The offers that the scenario turns on: part, price, what is in the box, and what differs from the
# carburetor, coil or key that was taken off.
OFFERS = [
    ("harrowmere_708_21b", "64.90 USD", {"mounting_gasket", "air_filter_gasket"}, {}),
    ("brackwell_bk_208", "24.50 USD", set(), {}),
    ("quillon_q19_42", "9.80 USD", {"mounting_gasket", "air_filter_gasket"}, {}),
    (
        "quillon_q19_42t",
        "8.20 USD",
        {"mounting_gasket", "air_filter_gasket"},
        {"throttle_link_hole_radius": 27.0},
    ),
    (
        "vennor_v206s",
        "17.40 EUR",
        {"mounting_gasket", "air_filter_gasket"},
        {"body_length": 56.5, "fuel_inlet_diameter": 7.9},
    ),
    (
        "harrowmere_711_04_used",
        "12.00 USD",
        set(),
        {"throttle_bore": 22.0, "venturi_diameter": 17.8, "main_jet_diameter": 0.80, "body_length": 66.0},
    ),
    ("quillon_q19_42l", "8.90 USD", set(), {"main_jet_diameter": 0.66}),
    ("harrowmere_388_60", "58.00 USD", set(), {}),
    ("quillon_c52", "9.50 USD", set(), {"pole_face_radius": 80.0}),
    ("ostler_55_3", "2.10 USD", set(), {}),
    ("quillon_steel_key", "0.60 USD", set(), {"material": "steel"}),
    ("brackwell_stepped_key", "1.90 EUR", set(), {"kind": "stepped", "offset": 0.5}),
]
JOB_OF = {"carburetor": "tl_07", "ignition_coil": "gn_03", "flywheel_key": "pu_11"}


@pytest.fixture(scope="module")
def data() -> Mapping[str, list[Record]]:
    return {
        name: json.loads((ROOT / "seed_data" / f"{name}.json").read_text(encoding="utf-8")) for name in FILES
    }


@pytest.fixture(scope="module")
def families() -> Mapping[str, Family]:
    folders = (ROOT / "fitworth" / "families", ROOT / "seed_data" / "families")
    paths = [path for folder in folders for path in folder.glob("*.toml")]
    found = [parse_family(path.read_bytes(), path.name) for path in paths]
    check_families(found)
    return {family.key: family for family in found}


@pytest.fixture(scope="module")
def parts(data: Mapping[str, list[Record]], families: Mapping[str, Family]) -> Mapping[str, Record]:
    """Parts by key, their dimensions as read."""
    return {
        part["key"]: {
            **part,
            "dimensions": read_values(families[part["family"]], part["dimensions"], Instrument.LISTING),
        }
        for part in data["parts"]
    }


def test_every_record_has_a_key_of_its_own(data: Mapping[str, list[Record]]) -> None:
    for name, records in data.items():
        repeated = [key for key, count in Counter(record["key"] for record in records).items() if count > 1]
        assert repeated == [], name


def test_the_counts_are_those_of_a_bench_in_use(data: Mapping[str, list[Record]]) -> None:
    counts = {name: len(records) for name, records in data.items()}
    assert counts["parts"] >= 40
    assert counts["quotes"] >= 60
    assert (counts["suppliers"], counts["machines"], counts["jobs"]) == (6, 3, 3)
    by_family = Counter(part["family"] for part in data["parts"])
    assert by_family.most_common(1)[0][0] == "carburetor"
    assert set(by_family) == {
        *("carburetor", "ignition_coil", "spark_plug", "flywheel_key", "contact_set", "rebuild_kit"),
        "oil_level_switch",
    }
    assert len({(supplier["country"], supplier["currency"]) for supplier in data["suppliers"]}) == 2
    kinds = {way["schedule"]["kind"] for supplier in data["suppliers"] for way in supplier["delivery"]}
    assert kinds == {"flat", "per_item", "by_weight"}


def test_every_reference_names_a_record(data: Mapping[str, list[Record]]) -> None:
    keys = {name: {record["key"] for record in records} for name, records in data.items()}
    for quote in data["quotes"]:
        assert quote["supplier"] in keys["suppliers"]
        assert quote["part"] in keys["parts"]
    for job in data["jobs"]:
        assert job["machine"] in keys["machines"]
        assert job["destination"] in keys["destinations"]
    numbers = {part["number"] for part in data["parts"]}
    for statement in data["interchange"]:
        assert {statement["from_number"], statement["to_number"]} <= numbers
        assert Relation(statement["relation"])
        assert 0 < statement["confidence"] < 1
    for part in data["parts"]:
        assert set(part["serves"]) <= numbers


def test_parts_are_sold_in_grades_that_their_family_has(
    data: Mapping[str, list[Record]], families: Mapping[str, Family]
) -> None:
    for part in data["parts"]:
        assert Grade(part["grade"]) in families[part["family"]].grades, part["key"]


def test_terms_of_suppliers_and_destinations_can_be_read(data: Mapping[str, list[Record]]) -> None:
    for supplier in data["suppliers"]:
        assert read_delivery(supplier["delivery"], supplier["currency"])
        assert read_returns(supplier["returns"], supplier["currency"]).days >= 14
    for destination in data["destinations"]:
        rules = read_import_rules(destination["import"], destination["currency"])
        assert rules.tax == Decimal(destination["sales_tax"])


def test_quotes_are_in_their_suppliers_currency_and_one_has_expired(data: Mapping[str, list[Record]]) -> None:
    currency = {supplier["key"]: supplier["currency"] for supplier in data["suppliers"]}
    expired = []
    for quote in data["quotes"]:
        amounts = [quote["price"], *(step["price"] for step in quote["price_breaks"])]
        read = [read_money(amount) for amount in amounts]
        assert {money.currency for money in read} == {currency[quote["supplier"]]}, quote["key"]
        assert sorted((money.amount for money in read), reverse=True) == [money.amount for money in read]
        assert Condition(quote["condition"])
        seen, until = date.fromisoformat(quote["seen_on"]), date.fromisoformat(quote["valid_until"])
        assert date(2026, 10, 1) <= seen <= date(2026, 11, 30)
        assert seen <= until
        if until < date(2026, 11, 30):
            expired.append(quote["key"])
    assert expired == ["tollgate_brackwell_bk_208_old"]


def test_every_machine_has_a_part_for_its_job_on_file(
    data: Mapping[str, list[Record]], families: Mapping[str, Family]
) -> None:
    for job in data["jobs"]:
        removed = job["removed_part"]
        values = read_values(families[removed["family"]], removed["measured"])
        assert len(values) >= 5
        assert any(removed["engine"] in part["stated_for"] for part in data["parts"])


def test_every_dimension_names_an_instrument_that_can_measure_it(families: Mapping[str, Family]) -> None:
    unfit = [
        f"{family.key}.{one.key}"
        for family in families.values()
        for one in family.dimensions
        if not can_measure(one.instrument, one.kind)
    ]
    assert unfit == []


def test_every_job_can_buy_what_it_needs(data: Mapping[str, list[Record]]) -> None:
    quoted = {quote["part"] for quote in data["quotes"]}
    covered = {
        need
        for part in data["parts"]
        if part["key"] in quoted
        for need in (part["family"], *part["includes"])
    }
    for job in data["jobs"]:
        assert {line["need"] for line in job["needs"]} <= covered


def test_sheets_have_holes_as_listings_do(
    parts: Mapping[str, Record], families: Mapping[str, Family]
) -> None:
    listed = {
        key: len(part["dimensions"].keys() & {one.key for one in families["carburetor"].fit_dimensions})
        for key, part in parts.items()
        if part["family"] == "carburetor"
    }
    full = [key for key, count in listed.items() if count >= max(listed.values()) - 1]
    assert len(full) < len(listed) / 3
    assert min(listed.values()) >= 20


def test_carburetors_have_the_proportions_of_their_engines(parts: Mapping[str, Record]) -> None:
    checked = 0
    for key, part in parts.items():
        for engine in part["stated_for"] if part["family"] == "carburetor" else []:
            displacement_cm3, speed_k_min, strokes = ENGINES[engine]
            size = sqrt(displacement_cm3 * speed_k_min * (2 if strokes == 2 else 1))
            bore, venturi = (0.62, 0.85), (0.50, 0.65)
            if strokes == 2:
                bore, venturi = (0.50, 0.70), (0.40, 0.55)
            assert bore[0] <= mm(part, "throttle_bore") / size <= bore[1], key
            if "venturi_diameter" in part["dimensions"]:
                assert venturi[0] <= mm(part, "venturi_diameter") / size <= venturi[1], key
            checked += 1
    assert checked >= 15


def test_carburetors_leave_their_gasket_land(parts: Mapping[str, Record]) -> None:
    for key, part in parts.items():
        if part["family"] == "carburetor":
            land = mm(part, "bolt_spacing") - mm(part, "bolt_hole_diameter") - mm(part, "throttle_bore")
            assert land / 2 >= 3.5, key


def test_no_entry_breaks_a_ratio_of_its_family(
    parts: Mapping[str, Record], families: Mapping[str, Family]
) -> None:
    for key, part in parts.items():
        for ratio in families[part["family"]].ratios:
            if {ratio.numerator, ratio.denominator} <= part["dimensions"].keys():
                found = mm(part, ratio.numerator) / mm(part, ratio.denominator)
                assert ratio.low <= found <= ratio.high, key


def test_the_likely_carburetors_list_every_dimension_that_is_a_matter_of_safety(
    data: Mapping[str, list[Record]], parts: Mapping[str, Record], families: Mapping[str, Family]
) -> None:
    safe = {one.key for one in families["carburetor"].dimensions if one.role is Role.SAFE}
    [job] = [job for job in data["jobs"] if job["key"] == "tl_07"]
    assert safe <= job["removed_part"]["measured"].keys()
    for key in (
        "harrowmere_708_21b",
        "brackwell_bk_208",
        "quillon_q19_42",
        "quillon_q19_42t",
        "vennor_v206s",
    ):
        assert safe <= parts[key]["dimensions"].keys()


@pytest.mark.parametrize(("part", "price", "box", "differs"), OFFERS, ids=[offer[0] for offer in OFFERS])
def test_an_offer_of_the_scenario_has_its_price_its_box_and_its_difference(
    part: str,
    price: str,
    box: set[str],
    differs: dict[str, object],
    data: Mapping[str, list[Record]],
    parts: Mapping[str, Record],
    families: Mapping[str, Family],
) -> None:
    prices = {
        f"{quote['price']['amount']} {quote['price']['currency']}"
        for quote in data["quotes"]
        if quote["part"] == part
    }
    assert price in prices
    assert set(parts[part]["includes"]) == box
    family = families[parts[part]["family"]]
    [job] = [job for job in data["jobs"] if job["key"] == JOB_OF[family.key]]
    measured = read_values(family, job["removed_part"]["measured"])
    listed = parts[part]["dimensions"]
    shared = [key for key in measured if key in listed and family.by_key[key].counts_for_fit]
    # A key is made a little lower than its keyways are deep; a larger body carries its lever further out.
    slight = {"height", "air_inlet_diameter", "throttle_lever_height"}
    found = {key: plain(listed[key]) for key in shared if plain(listed[key]) != plain(measured[key])}
    assert {key: value for key, value in found.items() if key not in slight} == differs


def test_what_the_scenario_names_besides_is_on_sale(
    data: Mapping[str, list[Record]], parts: Mapping[str, Record]
) -> None:
    prices = {quote["part"]: quote["price"]["amount"] for quote in data["quotes"]}
    assert prices["brackwell_g_19"] == "3.10"
    assert prices["brackwell_k_19"] == "7.40"
    assert prices["harrowmere_388_71"] == "18.60"
    kit = parts["brackwell_k_19"]  # its box has no seat, and the old one is pressed in
    assert set(kit["includes"]) == {"needle", "bowl_gasket", "mounting_gasket", "air_filter_gasket"}
    assert "708-21B" in kit["serves"]
    assert "oil_switch_o_ring" in parts["harrowmere_388_71"]["includes"]


def mm(part: Record, key: str) -> float:
    """Return a listed number in its unit."""
    value = part["dimensions"][key]
    assert isinstance(value, Quantity)
    return value.value


def plain(value: object) -> object:
    """Return a value without its uncertainty."""
    return value.value if isinstance(value, Quantity) else value
