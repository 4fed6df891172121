"""Money: what is refused, what is read, rounding and sharing to the minor unit."""

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitworth.errors import InvalidValueError
from fitworth.quantities.money import (
    MINOR_DIGITS,
    Money,
    from_minor,
    minor_digits,
    minor_unit,
    read_amount,
    read_money,
    round_money,
    share_by_value,
    to_minor,
)

CURRENCIES = st.sampled_from(sorted(MINOR_DIGITS))


@pytest.mark.parametrize(
    ("amount", "currency", "says"),
    [
        pytest.param(12.5, "USD", "in quotes", id="float"),
        pytest.param(12, "USD", "in quotes", id="int"),
        pytest.param(True, "USD", "in quotes", id="flag"),
        pytest.param(None, "USD", "in quotes", id="null"),
        pytest.param("", "USD", "plain digits", id="empty"),
        pytest.param("12,50", "USD", "no comma", id="comma"),
        pytest.param("1E+2", "USD", "exponent", id="exponent"),
        pytest.param("+1.00", "USD", "sign", id="plus"),
        pytest.param("-1.00", "USD", "negative", id="negative"),
        pytest.param("\N{MINUS SIGN}1.00", "USD", "negative", id="typographic minus"),
        pytest.param("$1.00", "USD", "currency", id="currency sign"),
        pytest.param("01.00", "USD", "plain digits", id="leading zero"),
        pytest.param("1.", "USD", "plain digits", id="point at the end"),
        pytest.param(".5", "USD", "plain digits", id="point at the start"),
        pytest.param("1.00\n", "USD", "plain digits", id="line end"),
        pytest.param(" 1.00", "USD", "plain digits", id="blank"),
        pytest.param("NaN", "USD", "plain digits", id="not a number"),
        pytest.param("१२.५०", "USD", "plain digits", id="digits of another script"),
        pytest.param("12345678901234.56", "USD", "15 digits", id="16 digits"),
        pytest.param("12.505", "USD", "at most 2 decimals", id="half a cent"),
        pytest.param("12.5", "JPY", "no decimals", id="half a yen"),
        pytest.param("1.0005", "KWD", "at most 3 decimals", id="half a fils"),
    ],
)
def test_an_amount_that_is_no_plain_decimal_of_its_currency_is_refused(
    amount: object, currency: str, says: str
) -> None:
    with pytest.raises(InvalidValueError) as caught:
        read_money({"amount": amount, "currency": currency})
    (fault,) = caught.value.faults
    assert fault.where == "/amount"
    assert says in fault.says


@pytest.mark.parametrize("currency", ["usd", "XXX", "XAU", "ZZZ", "", 840, None])
def test_a_currency_that_iso_4217_does_not_list_is_refused(currency: object) -> None:
    with pytest.raises(InvalidValueError) as caught:
        read_money({"amount": "1.00", "currency": currency})
    (fault,) = caught.value.faults
    assert fault.where == "/currency"
    assert "ISO 4217" in fault.says


def test_all_faults_of_one_amount_are_told_at_once() -> None:
    with pytest.raises(InvalidValueError) as caught:
        read_money({"amount": "1e5", "curency": "USD", "a/b": 1})
    assert [fault.where for fault in caught.value.faults] == ["/curency", "/a~1b", "/currency", "/amount"]


@pytest.mark.parametrize("raw", [None, 12.5, "12.50 USD", ["12.50", "USD"]])
def test_money_that_is_no_object_is_refused(raw: Any) -> None:
    with pytest.raises(InvalidValueError, match="amount, currency"):
        read_money(raw)


def test_more_decimals_than_the_currency_has_make_no_count_of_minor_units() -> None:
    with pytest.raises(InvalidValueError, match="USD has at most 2 decimals"):
        to_minor(Money(Decimal("0.001"), "USD"))


def test_fewer_decimals_than_the_currency_has_are_read_and_filled_up() -> None:
    assert read_money({"amount": "12.5", "currency": "USD"}) == Money(Decimal("12.50"), "USD")
    assert str(read_amount("12", "KWD")) == "12.000"
    assert str(read_amount("0", "JPY")) == "0"


@pytest.mark.parametrize(
    ("amount", "currency", "rounded"),
    [
        ("2.345", "EUR", "2.35"),
        ("-2.345", "EUR", "-2.35"),
        ("2.3449", "EUR", "2.34"),
        ("0.5", "JPY", "1"),
        ("1.0005", "KWD", "1.001"),
    ],
)
def test_halves_are_rounded_away_from_zero(amount: str, currency: str, rounded: str) -> None:
    assert str(round_money(Decimal(amount), currency)) == rounded


@given(st.integers(-(10**15), 10**15), CURRENCIES)
def test_minor_units_go_out_and_back_without_loss(count: int, currency: str) -> None:
    money = from_minor(count, currency)
    assert to_minor(money) == count
    assert round_money(money.amount, currency) == money.amount
    assert minor_unit(currency) == from_minor(1, currency).amount
    assert -money.amount.as_tuple().exponent == minor_digits(currency)  # type: ignore[operator]


@given(st.integers(0, 10**14), CURRENCIES)
def test_what_is_written_is_read_again(count: int, currency: str) -> None:
    money = from_minor(count, currency)
    assert read_money({"amount": str(money.amount), "currency": currency}) == money


@pytest.mark.parametrize("values", [[], [Decimal(1), Decimal(-1)]])
def test_a_sum_is_not_shared_over_nothing_or_less(values: list[Decimal]) -> None:
    with pytest.raises(InvalidValueError, match="one value or more"):
        share_by_value(Decimal(1), values, "USD")


def test_a_sum_is_shared_in_equal_parts_where_nothing_has_a_value() -> None:
    assert share_by_value(Decimal("0.05"), [Decimal(0)] * 2, "USD") == (Decimal("0.03"), Decimal("0.02"))


@given(
    st.integers(-(10**9), 10**9),
    st.lists(st.decimals(0, 10**6, places=2), min_size=1, max_size=6),
    CURRENCIES,
)
def test_shares_add_up_and_each_is_within_a_minor_unit_of_its_part(
    count: int, values: list[Decimal], currency: str
) -> None:
    total = from_minor(count, currency).amount
    shares = share_by_value(total, values, currency)
    assert sum(shares) == total
    whole = sum(values)
    for share, value in zip(shares, values, strict=True):
        part = total * value / whole if whole else total / len(values)
        assert abs(share - part) <= minor_unit(currency)
