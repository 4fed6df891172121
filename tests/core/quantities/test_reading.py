"""Fields of a form: numbers, shares, names, countries, lists."""

from decimal import Decimal

import pytest

from fitworth.errors import InvalidValueError
from fitworth.quantities.reading import (
    Form,
    read_country,
    read_decimal,
    read_items,
    read_name,
    read_number,
    read_positive,
    read_share,
)


@pytest.mark.parametrize("raw", ["4", True, None, -1, float("nan"), float("inf"), 10**400])
def test_what_is_no_sound_number_is_refused(raw: object) -> None:
    with pytest.raises(InvalidValueError, match=r"[Nn]umber"):
        read_number(raw)


def test_nothing_is_not_above_zero() -> None:
    with pytest.raises(InvalidValueError, match="above zero"):
        read_positive(0)


def test_a_percentage_is_no_share() -> None:
    with pytest.raises(InvalidValueError, match=r"0\.20"):
        read_share("20")


@pytest.mark.parametrize("raw", [None, "", "   ", 7])
def test_a_name_needs_a_character(raw: object) -> None:
    with pytest.raises(InvalidValueError, match="at least one character"):
        read_name(raw)


def test_a_name_has_an_end() -> None:
    with pytest.raises(InvalidValueError, match="100 characters"):
        read_name("x" * 101)


@pytest.mark.parametrize("raw", [None, "us", "USA", "U", "ＵＳ", 1])
def test_a_country_is_two_capital_letters(raw: object) -> None:
    with pytest.raises(InvalidValueError, match="two capital letters"):
        read_country(raw)


def test_the_faults_of_all_items_are_told_at_once() -> None:
    with pytest.raises(InvalidValueError) as caught:
        read_items([1, -1, "x"], "Days", read_number)
    assert [fault.where for fault in caught.value.faults] == ["/1", "/2"]
    with pytest.raises(InvalidValueError, match="Days is a list"):
        read_items({"0": 1}, "Days", read_number)


def test_sound_fields_are_read() -> None:
    form = Form({"days": 4, "name": " post ", "gone": None}, "A test", ("days", "name", "gone", "share"))
    assert form.required("days", read_positive) == 4.0
    assert form.required("name", read_name) == "post"
    assert form.optional("gone", read_country) is None
    assert form.optional("share", read_share, Decimal(0)) == 0
    form.finish()
    assert read_share("0.2") == Decimal("0.2")
    assert read_country("US") == "US"
    assert read_decimal("100") == 100
    assert read_items((1, 2), "Days", read_number) == (1.0, 2.0)
