"""Cells and tables for spreadsheets."""

import csv
import io
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.errors import InvalidInputError, NotAcceptableError
from api.tabular import Form, Table, cell, choose_form, to_csv, to_value, uncell

FORMULAS = [
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    "\tx",
    "\rx",
    "\nx",
    " =1",
    "\n=1",
    "\u00a0=1",
    "\ufeff=1",
    "\u200b=1",
]
FORMULAS += ["＝1+1", "＋1", "－1", "＠SUM(A1)"]


@pytest.mark.parametrize("text", FORMULAS)
def test_a_text_is_never_run_as_a_formula(text: str) -> None:
    assert cell(text) == f"'{text}"
    assert uncell(cell(text)) == text


@given(st.text())
def test_every_text_comes_back_from_its_cell(text: str) -> None:
    guarded = cell(text)
    assert not guarded.startswith(("=", "+", "-", "@", "\t", "\r"))
    if not text.startswith("'"):
        assert uncell(guarded) == text


@pytest.mark.parametrize(
    ("value", "comma", "written"),
    [
        (None, False, ""),
        (True, False, "true"),
        (False, False, "false"),
        (3, True, "3"),
        (-0.5, False, "-0.5"),
        (-0.5, True, "-0,5"),
        (Decimal("9.80"), True, "9,80"),
        (["a", "b"], False, "a; b"),
        (["a;b"], False, '["a;b"]'),
        ([{"x": 1}], False, '[{"x":1}]'),
        ({"x": "ü"}, False, '{"x":"ü"}'),
    ],
)
def test_values_are_written_so(value: Any, comma: bool, written: str) -> None:
    assert cell(value, decimal_comma=comma) == written


def test_a_decimal_comma_makes_the_separator_a_semicolon() -> None:
    table = Table(("a", "b"), [(1.5, 'x;"y"'), (2, "z\nz")])
    text = to_csv(table, decimal_comma=True)
    assert text.startswith('a;b\r\n1,5;"x;""y"""\r\n')
    assert list(csv.reader(io.StringIO(text), delimiter=";"))[2] == ["2", "z\nz"]


@pytest.mark.parametrize(
    ("accept", "form"),
    [
        ("", "json"),
        ("*/*", "json"),
        ("text/csv", "csv"),
        ("text/html, text/csv;q=0.9, */*;q=0.1", "csv"),
        ("application/json;q=0.2, text/csv;q=0.1", "json"),
        ("text/csv;q=0, application/json", "json"),
        ("text/csv;q=x, application/json;q=0.1", "json"),
    ],
)
def test_the_accept_header_chooses_the_form(accept: str, form: str) -> None:
    assert choose_form({}, accept) == Form(form)  # type: ignore[arg-type]


def test_an_accept_header_that_nothing_meets_is_refused() -> None:
    with pytest.raises(NotAcceptableError):
        choose_form({}, "image/png")


def test_all_faults_of_the_form_are_told_at_once() -> None:
    with pytest.raises(InvalidInputError) as caught:
        choose_form({"format": "value", "decimal": "dot"}, "")
    assert [fault.at for fault in caught.value.faults] == ["field", "decimal"]


BODY = {"a/b": {"~": [1.5, "x  y\nz", True, None]}, "empty": [], "list": [[1]]}


@pytest.mark.parametrize(
    ("field", "value"),
    [("/a~1b/~0/0", "1.5"), ("/a~1b/~0/1", "x y z"), ("/a~1b/~0/2", "true"), ("/a~1b/~0/3", "")],
)
def test_a_pointer_names_a_single_cell(field: str, value: str) -> None:
    assert to_value(BODY, field) == value


@pytest.mark.parametrize(
    "field", ["/none", "/empty/0", "/list", "/list/x", "/a~1b/~0/0/0", "/list/²", "", "/"]
)
def test_a_pointer_that_names_none_says_what_is_there(field: str) -> None:
    with pytest.raises(InvalidInputError) as caught:
        to_value(BODY, field)
    assert caught.value.faults[0].at == "field"
