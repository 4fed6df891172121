"""CSV in: what a whole file is refused for, what a row, and what is created, changed and left alone."""

from collections.abc import Callable
from typing import Any

import pytest
from sqlalchemy import text

from api.errors import InvalidInputError
from api.services.import_report import ImportReport
from api.services.sheet import SheetLimits

PART = {
    "family": "carburetor",
    "maker": "Quillon",
    "number": "Q19-42",
    "grade": "aftermarket_unbranded",
    "throttle_bore": "19.0 mm",
}
Store = Any  # made in conftest.py


def told(report: ImportReport) -> list[tuple[str, str]]:
    """Return the row and column of each fault."""
    return [(fault.at, fault.column) for fault in report.faults]


def counts(report: ImportReport) -> tuple[int, int, int, int]:
    return report.created, report.updated, report.unchanged, report.failed


# What a whole file is refused for


@pytest.mark.parametrize(
    ("content", "says"),
    [
        pytest.param(b"", "empty", id="an empty file"),
        pytest.param(b"\n\n  \n", "empty", id="blank lines only"),
        pytest.param("familie;härte\nä;b".encode("latin-1"), "Line 1 is not in UTF-8", id="another encoding"),
        pytest.param(b"family,maker\ncarburetor,\xff", "Line 2 is not in UTF-8", id="a byte that is no text"),
        pytest.param("family,maker".encode("utf-16"), "UTF-16", id="UTF-16"),
        pytest.param(b"PK\x03\x04 and so on", "spreadsheet", id="a spreadsheet's own file"),
        pytest.param(b"family,maker,grade\ncarburetor,Qui\x00llon,oem", "Line 2 has a NUL", id="a NUL"),
        pytest.param(
            b'family,maker,grade\ncarburetor,"Quillon,oem\n',
            "row 1. A quotation mark is opened",
            id="open quote",
        ),
        pytest.param(b'family,maker,grade\n"' + b"x" * 140_000, "opened", id="a quote that never ends"),
        pytest.param(b'family,maker,grade\na,"b"c,d', "inside quotes write two", id="text after a quote"),
        pytest.param(b"1,2,3\n4,5,6", "do not say what the file holds", id="no header"),
        pytest.param(b"family,maker,grade,family\n", "stands twice", id="a doubled column"),
        pytest.param(b"family,,maker,grade\n", "Column 2 has no name", id="a column without a name"),
        pytest.param(b"family,makr,grade\n", "Was maker meant?", id="a mistyped column"),
        pytest.param(b"family,maker,grade,throttle_boar\n", "Was throttle_bore", id="a mistyped dimension"),
        pytest.param(b"family,maker\n", "A column for the grade is missing", id="a column that is needed"),
        pytest.param(b"price,maker,seen_on\n", "supplier or supplier_id", id="a quote without supplier"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_as_a_whole(store: Store, content: bytes, says: str) -> None:
    with pytest.raises(InvalidInputError) as refusal:
        store.load(content)
    everything = " ".join([refusal.value.detail, *(fault.detail for fault in refusal.value.faults)])
    assert says in everything
    assert store.items("parts") == []


def test_a_file_of_something_else_or_with_a_foreign_header_is_refused(store: Store) -> None:
    with pytest.raises(InvalidInputError, match="Parts and quotes can be imported"):
        store.load_rows(PART, resource="jobs")
    with pytest.raises(InvalidInputError, match="no column that is known here"):
        store.load("a,b\n1,2\n", resource="parts")


@pytest.mark.parametrize(
    ("limits", "says"),
    [
        (SheetLimits(most_bytes=20), "larger than"),
        (SheetLimits(most_rows=1), "more than 1 rows"),
        (SheetLimits(most_columns=3), "more than 3 columns"),
    ],
)
def test_a_file_beyond_a_limit_is_refused(store: Store, limits: SheetLimits, says: str) -> None:
    with pytest.raises(InvalidInputError, match=says):
        store.load_rows(PART, PART | {"number": "Q2"}, limits=limits)


def test_every_fault_of_the_columns_is_told_at_once(store: Store) -> None:
    with pytest.raises(InvalidInputError) as refusal:
        store.load("family,makr,colour\n")
    assert [fault.column for fault in refusal.value.faults] == ["makr", "colour", "maker", "grade"]


# What a row is refused for


def test_one_bad_row_never_stops_the_others_and_each_fault_has_its_place(store: Store) -> None:
    rows = [
        PART,
        PART | {"number": "Q2", "grade": "shiny", "throttle_bore": "-3 mm"},
        PART | {"number": "Q3", "family": "carburettor"},
        PART | {"number": "Q4", "maker": " ", "includes": "Not A Need"},
        PART | {"number": "Q5", "throttle_bore": '{"value": 19.0'},
        PART | {"number": "Q6", "throttle_bore": "9/16"},
        PART | {"number": "Q7", "capacitance": "0.2 uF"},
        PART | {"number": "Q8", "id": "seven"},
        PART | {"number": "Q9"},
    ]
    report = store.load_rows(*rows)
    assert counts(report) == (2, 0, 0, 7)
    assert told(report) == [
        ("3", "throttle_bore"),
        ("3", "grade"),
        ("4", "family"),
        ("5", "maker"),
        ("5", "includes"),
        ("6", "throttle_bore"),
        ("7", "throttle_bore"),
        ("8", "capacitance"),
        ("9", "id"),
    ]
    assert all(fault.detail.endswith((".", "?")) for fault in report.faults)
    assert [item["number"] for item in store.items("parts")] == ["Q19-42", "Q9"]


@pytest.mark.parametrize(
    "entry",
    [
        "nan",
        "inf",
        "١٩ mm",
        "19 furlongs",
        "1e999",
        "{}",
        "[]",
        "{" * 30_000,
        '{"value": NaN}',
        '{"value": ' + "[" * 9_000,
    ],
)
def test_a_value_that_means_nothing_is_a_fault_of_its_cell(store: Store, entry: str) -> None:
    report = store.load_rows(PART | {"throttle_bore": entry})
    assert (counts(report), told(report)) == ((0, 0, 0, 1), [("2", "throttle_bore")])


def test_a_row_with_more_or_fewer_cells_than_the_header_is_refused_with_both_counts(store: Store) -> None:
    rows = ["family,maker,grade", "carburetor,Quillon", "carburetor,Quillon,oem,extra", "", ",,"]
    report = store.load("\n".join([*rows, "carburetor,Quillon,oem,"]))
    assert told(report) == [("2", ""), ("3", "")]
    assert "2 cells and the header 3" in report.faults[0].detail
    assert counts(report) == (1, 0, 0, 2)


def test_two_rows_about_one_part_that_say_different_things_are_not_both_taken(store: Store) -> None:
    rows = [PART, PART | {"number": "q19 42", "title": "another"}, PART]
    report = store.load_rows(*rows)
    assert (counts(report), told(report)) == ((1, 0, 1, 1), [("3", "number")])
    assert "Row 2 is about the same part" in report.faults[0].detail
    assert counts(store.load_rows(*rows)) == (0, 0, 2, 1)


# What is created, changed and left alone


def test_the_same_file_twice_changes_nothing(either_store: Store, sheet: Callable[..., str]) -> None:
    content = sheet([PART, PART | {"number": "", "title": "no number"}, PART | {"number": "Q20"}])
    assert counts(either_store.load(content)) == (3, 0, 0, 0)
    revision, before = either_store.revision(), either_store.items("parts")
    assert counts(either_store.load(content)) == (0, 0, 3, 0)
    assert (either_store.revision(), either_store.items("parts")) == (revision, before)


def test_a_known_part_is_changed_and_its_history_keeps_what_was(either_store: Store) -> None:
    either_store.load_rows(PART)
    changed = PART | {"number": "q1942", "throttle_bore": "19.2 mm", "other_numbers": "A1; A2"}
    report = either_store.load_rows(changed)
    assert counts(report) == (0, 1, 0, 0)
    (part,) = either_store.items("parts")
    assert (part["version"], part["number"], part["other_numbers"]) == (2, "q1942", ["A1", "A2"])
    created, updated = either_store.history("parts", part["id"])
    assert created["after"] == updated["before"]
    assert (created["action"], created["after"]["dimensions"]["throttle_bore"]["value"]) == ("create", 19.0)
    assert (updated["action"], updated["after"]["dimensions"]["throttle_bore"]["value"]) == ("update", 19.2)
    assert created["revision"] < updated["revision"] == either_store.revision()


def test_an_imported_part_is_stored_as_one_that_came_by_http(store: Store) -> None:
    raw = PART | {"includes": "mounting_gasket; air_filter_gasket", "stated_for": "Harrowmere H206"}
    store.load_rows(raw)
    body: dict[str, Any] = {
        **PART,
        "number": "Q99",
        "dimensions": {"throttle_bore": "19.0 mm"},
        "stated_for": ["Harrowmere H206"],
    }
    body.pop("throttle_bore")
    store.create("parts", body | {"includes": ["mounting_gasket", "air_filter_gasket"]})
    with store.database.readers() as session:
        rows = session.execute(
            text("SELECT packed, dimensions, includes, stated_for FROM part ORDER BY id")
        ).all()
        needs = session.execute(text("SELECT need FROM part_include WHERE part_id = 1 ORDER BY need")).all()
        keys = session.execute(text("SELECT number, number_key FROM part_number WHERE part_id = 1")).all()
    assert rows[0] == rows[1]
    assert [tuple(row) for row in needs] == [("air_filter_gasket",), ("mounting_gasket",)]
    assert [tuple(row) for row in keys] == [("Q19-42", "Q1942")]


def test_a_part_without_a_number_is_told_by_its_id_and_only_among_its_like(store: Store) -> None:
    bare = PART | {"number": "", "title": "bare"}
    store.load_rows(PART, bare)
    changed = store.load_rows(bare | {"id": "2", "title": "bare, changed"})
    assert counts(changed) == (0, 1, 0, 0)
    # An id that is another kind of part's, or nobody's, makes no claim: the row is a part of its own.
    others = [
        bare | {"id": "1", "title": "x"},
        bare | {"id": "2", "maker": "Vennor"},
        bare | {"id": "77", "title": "y"},
    ]
    assert counts(store.load_rows(*others)) == (3, 0, 0, 0)
    both = [bare | {"id": "2", "title": "first"}, bare | {"id": "2", "title": "second"}]
    twice = store.load_rows(*both)
    assert (counts(twice), told(twice)) == ((0, 1, 0, 1), [("3", "number")])


def test_an_id_of_another_database_never_means_a_part_that_the_same_file_made(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.services.imports.ROWS_AT_ONCE", 1)
    rows = [PART | {"number": "", "id": str(number), "title": f"part {number}"} for number in (2, 1)]
    assert counts(store.load_rows(*rows)) == (2, 0, 0, 0)
    alike = [rows[0], rows[0] | {"id": "9"}]
    assert counts(store.load_rows(*alike)) == (0, 0, 2, 0)


def test_a_deleted_part_does_not_come_back_by_an_import_but_anew(store: Store) -> None:
    store.load_rows(PART)
    store.delete("parts", "1")
    assert counts(store.load_rows(PART)) == (1, 0, 0, 0)
    assert [item["id"] for item in store.items("parts")] == ["2"]


def test_a_dry_run_says_what_would_be_done_and_does_nothing(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.services.imports.ROWS_AT_ONCE", 2)
    seen: list[tuple[int, int]] = []
    rows = [
        PART,
        PART | {"number": "Q2"},
        PART | {"number": "Q3"},
        PART | {"number": "Q4", "grade": "x"},
        PART,
    ]
    report = store.load_rows(*rows, dry_run=True, progress=lambda done, all_: seen.append((done, all_)))
    assert counts(report) == (3, 0, 1, 1)
    assert (store.items("parts"), store.revision()) == ([], 0)
    assert seen == [(2, 5), (4, 5), (5, 5)]
    assert report.body()["dry_run"] is True


def test_a_row_of_a_later_batch_finds_the_part_of_an_earlier_one(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.services.imports.ROWS_AT_ONCE", 1)
    report = store.load_rows(PART, PART, PART | {"title": "another"})
    assert counts(report) == (1, 0, 1, 1)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_the_separator_is_found_and_a_byte_order_mark_is_no_part_of_the_header(
    store: Store, sheet: Callable[..., str], delimiter: str, mark: str
) -> None:
    content = mark + "\n" + sheet([PART | {"throttle_bore": "19,1 mm", "": ""}], delimiter)
    assert counts(store.load(content)) == (1, 0, 0, 0)
    assert store.items("parts")[0]["dimensions"]["throttle_bore"]["value"] == 19.1


def test_the_guard_against_formulas_is_taken_off_and_blanks_of_notes_are_kept(store: Store) -> None:
    row = PART | {"title": "'=1+1", "notes": " two\r\nlines ", "maker": " Quillon "}
    store.load_rows(row)
    (part,) = store.items("parts")
    assert (part["title"], part["notes"], part["maker"]) == ("=1+1", " two\r\nlines ", "Quillon")
