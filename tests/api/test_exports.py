"""CSV out: an export says everything, and imports back without loss."""

import csv
import io
import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from sqlalchemy import text

from api.errors import InvalidInputError, MissingError
from api.services import cells, demonstration, exports
from api.services.call import Call
from api.services.import_report import ImportReport
from api.services.supply import SUPPLIERS
from api.tabular import cell, uncell

QUOTE = {
    "supplier": "Millrace Spares",
    "maker": "Quillon",
    "number": "Q19-42",
    "grade": "aftermarket_unbranded",
    "price": "9.80",
    "currency": "USD",
    "seen_on": "2026-11-20",
}
Store = Any  # made in conftest.py


def told(report: ImportReport) -> list[tuple[str, str]]:
    """Return the row and column of each fault."""
    return [(fault.at, fault.column) for fault in report.faults]


def test_an_export_imports_back_into_the_same_database_without_a_change(either_store: Store) -> None:
    either_store.demonstrate()
    revision = either_store.revision()
    for name in ("parts", "quotes"):
        for comma in (False, True):
            report = either_store.load(either_store.export(name, decimal_comma=comma))
            assert (report.unchanged, report.faults) == (len(either_store.items(name)), [])
    assert either_store.revision() == revision


def test_an_export_imports_into_an_empty_database_and_comes_out_the_same(
    store: Store, open_store: Callable[[str], Store], tmp_path: Path
) -> None:
    store.demonstrate()
    odd = {
        "throttle_bore": {"readings": [19.0, "19.1", 19.2]},
        "bolt_spacing": {"value": 42.0, "plus_minus": 0.3},
        "body_length": {"value": 62.0, "unit": "mm", "plus_minus": 0.5, "as_entered": "about 62"},
        "main_jet_diameter": {"value": "0.70 mm", "instrument": "look"},
        "air_inlet_diameter": "1 9/16 in",
        "gasket_set": [],
        "purge_ports": 2,
    }
    body = {"family": "carburetor", "grade": "oem", "maker": "=Maker", "title": "'=guarded", "notes": '"; \n'}
    store.create("parts", body | {"dimensions": odd, "other_numbers": ["[1]", "a;b"], "stated_for": ["+x"]})
    store.create("parts", body | {"number": "-7", "title": "-1", "serves": ["A", "B"]})
    empty = open_store(f"sqlite:///{tmp_path / 'empty.sqlite'}")
    for supplier in store.items("suppliers"):
        empty.create("suppliers", {name: supplier[name] for name in SUPPLIERS.schema.model_fields})
    for name in ("parts", "quotes"):
        exported = store.export(name)
        report = empty.load(exported)
        assert report.faults == []
        assert report.created == len(store.items(name))
        assert empty.export(name) == exported
        times = {"version", "created_at", "updated_at"}
        assert [
            {key: value for key, value in item.items() if key not in times} for item in empty.items(name)
        ] == [{key: value for key, value in item.items() if key not in times} for item in store.items(name)]


def test_a_cell_stands_as_it_was_entered_where_that_says_all_and_else_whole(store: Store) -> None:
    dimensions = {"throttle_bore": "3/4 in", "bolt_spacing": {"value": 42.0, "plus_minus": 0.3}}
    store.create(
        "parts", {"family": "carburetor", "maker": "Quillon", "grade": "oem", "dimensions": dimensions}
    )
    (row,) = csv.DictReader(io.StringIO(store.export("parts")))
    assert row["throttle_bore"] == "3/4 in"
    assert json.loads(row["bolt_spacing"]) == {
        "value": 42.0,
        "unit": "mm",
        "plus_minus": 0.3,
        "as_entered": "42.0",
    }


def test_a_value_that_its_family_no_longer_knows_is_exported_whole(store: Store) -> None:
    store.create(
        "parts",
        {"family": "carburetor", "maker": "Quillon", "grade": "oem", "dimensions": {"throttle_bore": 19}},
    )
    with store.database.writers.begin() as session:
        session.execute(text("UPDATE part SET dimensions = replace(dimensions, 'throttle_bore', 'throat')"))
    (row,) = csv.DictReader(io.StringIO(store.export("parts")))
    assert json.loads(row["throat"])["value"] == 19.0


@given(st.text(alphabet=st.sampled_from("'=+-@\t\rab "), max_size=6))
@example("''=")
def test_guarding_a_formula_can_be_undone_whatever_the_text(words: str) -> None:
    guarded = cell(words)
    assert uncell(guarded) == words
    assert not guarded.startswith(("=", "+", "-", "@", "\t", "\r"))


@given(st.lists(st.text(alphabet=st.sampled_from('ab;[]" ,'), max_size=4), min_size=1, max_size=3))
def test_a_list_in_a_cell_reads_back(items: list[str]) -> None:
    assert cells.read_list(uncell(cell(items))) == items


def test_every_resource_is_exported_and_only_parts_by_family(store: Store) -> None:
    store.demonstrate()
    for name, spec in exports.RESOURCES.items():
        rows = list(csv.DictReader(io.StringIO(store.export(name))))
        assert len(rows) == len(store.items(name))
        if name != "quotes":
            assert set(spec.columns) <= set(rows[0] if rows else spec.columns)
    plugs = list(csv.DictReader(io.StringIO(store.export("parts", family="spark_plug"))))
    assert {row["family"] for row in plugs} == {"spark_plug"}
    with pytest.raises(InvalidInputError, match="no such family"):
        store.export("parts", family="toaster")
    with pytest.raises(InvalidInputError, match="of no family"):
        store.export("jobs", family="carburetor")
    with pytest.raises(MissingError, match="no resource of this name"):
        store.export("toasters")


def test_a_quote_of_a_part_that_was_deleted_is_exported_still(shop: Store) -> None:
    shop.load_rows(QUOTE)
    shop.delete("parts", "1")
    (row,) = csv.DictReader(io.StringIO(shop.export("quotes")))
    assert (row["number"], row["price"]) == ("Q19-42", "9.80")
    assert told(shop.load(shop.export("quotes"))) == [("2", "number")]


def test_the_dates_of_the_demonstration_move_with_the_calendar(store: Store) -> None:
    with store.database.writers.begin() as session:
        late = datetime(2030, 6, 1, tzinfo=UTC)
        jobs = demonstration.load(Call(session, late, "local", store.knowledge))
    assert len(jobs) == len(store.items("jobs")) == 3
    assert max(quote["seen_on"] for quote in store.items("quotes")) <= late.date()
    assert max(quote["valid_until"] for quote in store.items("quotes")) > late.date()
