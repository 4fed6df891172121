"""Quotes from CSV: whose they are and for which part, what is told apart, and what a row is refused for."""

import json
from typing import Any

from sqlalchemy import text

from api.services.import_report import ImportReport

PART = {
    "family": "carburetor",
    "maker": "Quillon",
    "number": "Q19-42",
    "grade": "aftermarket_unbranded",
    "throttle_bore": "19.0 mm",
}
QUOTE = {
    "supplier": "Millrace Spares",
    "maker": "Quillon",
    "number": "Q19-42",
    "grade": "aftermarket_unbranded",
    "price": "9.80",
    "currency": "USD",
    "seen_on": "2026-11-20",
}
SUPPLIER = {"name": "Millrace Spares", "country": "US", "currency": "USD"}

Store = Any  # made in conftest.py


def told(report: ImportReport) -> list[tuple[str, str]]:
    """Return the row and column of each fault."""
    return [(fault.at, fault.column) for fault in report.faults]


def counts(report: ImportReport) -> tuple[int, int, int, int]:
    return report.created, report.updated, report.unchanged, report.failed


def test_a_new_price_takes_the_old_ones_place_and_the_history_keeps_that(either_store: Store) -> None:
    either_store.create("suppliers", SUPPLIER)
    either_store.load_rows(PART)
    assert counts(either_store.load_rows(QUOTE)) == (1, 0, 0, 0)
    revision = either_store.revision()
    assert counts(either_store.load_rows(QUOTE)) == (0, 0, 1, 0)
    assert either_store.revision() == revision
    assert counts(either_store.load_rows(QUOTE | {"price": "8.90"})) == (0, 1, 0, 0)
    (quote,) = either_store.items("quotes")
    assert (quote["price"]["amount"], quote["version"]) == ("8.90", 2)
    history = either_store.history("quotes", quote["id"])
    assert [change["after"]["price"]["amount"] for change in history] == ["9.80", "8.90"]


def test_all_cells_of_a_quote_are_read(shop: Store) -> None:
    breaks = [{"from_quantity": 5, "price": {"amount": "8.90", "currency": "USD"}}]
    row = QUOTE | {
        "price_breaks": json.dumps(breaks),
        "condition": "used",
        "includes": "mounting_gasket; fuel_hose",
        "core_charge": "2,50",
        "price": "9,80",
        "weight_g": "420,5",
        "valid_until": "2027-01-31",
        "stock": "3",
        "link": "https://shop.example/q19",
    }
    assert counts(shop.load_rows(row, delimiter=";")) == (1, 0, 0, 0)
    (quote,) = shop.items("quotes")
    usd = {"currency": "USD"}
    assert quote["price"] == {"amount": "9.80", **usd}
    assert quote["core_charge"] == {"amount": "2.50", **usd}
    assert quote["price_breaks"] == breaks
    assert (quote["weight_g"], quote["stock"], quote["condition"]) == (420.5, 3, "used")
    assert quote["includes"] == ["mounting_gasket", "fuel_hose"]
    assert (str(quote["valid_until"]), quote["link"]) == ("2027-01-31", "https://shop.example/q19")


def test_an_empty_box_and_one_that_is_inherited_are_two_things(shop: Store) -> None:
    shop.load_rows(QUOTE | {"includes": "[]"}, QUOTE | {"condition": "used"})
    assert [quote["includes"] for quote in shop.items("quotes")] == [[], None]
    exported = shop.export("quotes")
    assert counts(shop.load(exported)) == (0, 0, 2, 0)


def test_ids_do_where_words_are_missing_and_words_win_over_ids(shop: Store) -> None:
    shop.create("suppliers", SUPPLIER | {"name": "Tollgate"})
    shop.load_rows(PART | {"number": "Q2"})
    price = {name: QUOTE[name] for name in ("price", "currency", "seen_on")}
    assert counts(shop.load_rows(price | {"supplier_id": "2", "part_id": "2"})) == (1, 0, 0, 0)
    assert counts(shop.load_rows(QUOTE | {"supplier_id": "2", "part_id": "2"})) == (1, 0, 0, 0)
    assert [(quote["supplier_id"], quote["part_id"]) for quote in shop.items("quotes")] == [
        ("2", "2"),
        ("1", "1"),
    ]


def test_every_fault_of_a_quote_is_told_with_its_row_and_column(shop: Store) -> None:
    shop.create("suppliers", SUPPLIER | {"name": "Vosskamp", "currency": "EUR"})
    rows = [
        QUOTE | {"supplier": "Milrace Spares", "price": "free", "seen_on": "20.11.2026"},
        QUOTE | {"number": "Q77", "currency": ""},
        QUOTE | {"price": "-1", "price_breaks": "[5"},
        QUOTE | {"supplier": "Vosskamp"},
        QUOTE | {"valid_until": "46000", "stock": "some", "weight_g": "nan", "includes": "Not a need"},
        QUOTE
        | {"supplier": "", "supplier_id": "99", "maker": "", "number": "", "grade": "", "part_id": "99"},
        QUOTE | {"supplier": "", "maker": "", "number": "", "grade": ""},
        QUOTE | {"number": "", "title": "nothing of the kind"},
        QUOTE | {"price": '{"amount": 9.8, "currency": "USD"}'},
    ]
    report = shop.load_rows(*rows)
    assert counts(report) == (0, 0, 0, 9)
    places = told(report)
    assert {place for place in places if place[0] == "2"} == {
        ("2", "supplier"),
        ("2", "price"),
        ("2", "seen_on"),
    }
    assert {("3", "number"), ("3", "currency")} <= set(places)
    assert {place for place in places if place[0] == "4"} == {("4", "price_breaks"), ("4", "price")}
    assert ("5", "currency") in places
    assert {("6", "valid_until"), ("6", "stock"), ("6", "weight_g"), ("6", "includes")} <= set(places)
    assert {("7", "supplier_id"), ("7", "part_id"), ("8", "supplier_id"), ("8", "part_id")} <= set(places)
    assert ("9", "number") in places
    assert ("10", "price") in places
    assert any("Was Millrace Spares meant?" in fault.detail for fault in report.faults)
    assert shop.items("quotes") == []


def test_a_quote_for_one_of_several_such_parts_says_which(shop: Store) -> None:
    shop.create(
        "parts",
        {"family": "rebuild_kit", "maker": "Quillon", "number": "Q19-42", "grade": "aftermarket_unbranded"},
    )
    report = shop.load_rows(QUOTE)
    assert told(report) == [("2", "number")]
    assert "Parts 1, 2 are such parts" in report.faults[0].detail
    assert counts(shop.load_rows(QUOTE | {"family": "rebuild_kit"})) == (1, 0, 0, 0)
    assert counts(shop.load_rows(QUOTE | {"part_id": "1"})) == (1, 0, 0, 0)
    assert [quote["part_id"] for quote in shop.items("quotes")] == ["2", "1"]


def test_two_suppliers_of_one_name_are_not_guessed_between(shop: Store) -> None:
    shop.create("suppliers", SUPPLIER | {"name": "Tollgate"})
    with shop.database.writers.begin() as session:
        session.execute(text("UPDATE supplier SET name = 'Millrace Spares'"))
    assert told(shop.load_rows(QUOTE)) == [("2", "supplier")]


def test_several_quotes_of_one_supplier_for_one_part_are_told_apart_by_their_ids(shop: Store) -> None:
    def row(price: str, record: str = "") -> dict[str, str]:
        return QUOTE | {"id": record, "price": price}

    clash = shop.load_rows(row("9.80"), row("8.80"), row("9.80"))
    assert (counts(clash), told(clash)) == ((1, 0, 1, 1), [("3", "")])
    assert counts(shop.load_rows(row("9.80", "11"), row("8.80", "12"))) == (1, 0, 1, 0)
    open_ = shop.load_rows(row("7.00"))
    assert (counts(open_), told(open_)) == ((0, 0, 0, 1), [("2", "id")])
    assert counts(shop.load_rows(row("7.00", "2"))) == (0, 1, 0, 0)
    assert [quote["price"]["amount"] for quote in shop.items("quotes")] == ["9.80", "7.00"]
