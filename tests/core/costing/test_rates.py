"""Exchange rates: which one counts on a day."""

from datetime import date
from decimal import Decimal

import pytest

from fitworth.costing.rates import Rate, find_rate, get_rate
from fitworth.errors import InvalidValueError, NotComputableError

DAY = date(2026, 11, 20)


def rate(base: str, quote: str, value: str, day: int) -> Rate:
    return Rate(base, quote, Decimal(value), date(2026, 11, day))


def test_a_missing_rate_is_told_with_the_pair_the_day_and_the_remedy() -> None:
    with pytest.raises(NotComputableError, match=r"from EUR to USD on or before 2026-11-20; enter one"):
        get_rate([], "EUR", "USD", DAY)


@pytest.mark.parametrize("value", ["0", "-1", "NaN", "Infinity"])
def test_a_rate_must_be_above_zero(value: str) -> None:
    with pytest.raises(InvalidValueError, match="above zero"):
        rate("EUR", "USD", value, 1)


def test_a_rate_of_a_later_day_does_not_count() -> None:
    assert find_rate([rate("EUR", "USD", "1.10", 21)], "EUR", "USD", DAY) is None


def test_the_same_currency_needs_no_rate() -> None:
    assert get_rate([], "USD", "USD", DAY) == 1


def test_the_latest_rate_on_or_before_the_day_counts() -> None:
    rates = [rate("EUR", "USD", "1.08", 18), rate("EUR", "USD", "1.10", 20), rate("EUR", "USD", "1.09", 19)]
    assert find_rate(rates, "EUR", "USD", DAY) == Decimal("1.10")
    assert find_rate(rates, "EUR", "USD", date(2026, 11, 19)) == Decimal("1.09")


def test_the_opposite_rate_is_turned_round() -> None:
    assert find_rate([rate("USD", "EUR", "0.8", 19)], "EUR", "USD", DAY) == Decimal("1.25")


def test_of_both_directions_the_later_counts_and_of_one_day_the_direct_one() -> None:
    opposite = rate("USD", "EUR", "0.8", 19)
    assert find_rate([opposite, rate("EUR", "USD", "1.10", 18)], "EUR", "USD", DAY) == Decimal("1.25")
    assert find_rate([opposite, rate("EUR", "USD", "1.10", 19)], "EUR", "USD", DAY) == Decimal("1.10")


def test_two_currencies_meet_in_a_third_by_the_chain_whose_older_rate_is_youngest() -> None:
    rates = [
        rate("EUR", "GBP", "0.9", 20),
        rate("GBP", "USD", "1.3", 10),
        rate("EUR", "CHF", "0.95", 18),
        rate("USD", "CHF", "0.8", 17),
        rate("EUR", "SEK", "11", 12),
        rate("SEK", "USD", "0.1", 12),
        rate("NOK", "EUR", "0.1", 20),
    ]
    assert find_rate(rates, "EUR", "USD", DAY) == Decimal("0.95") * (1 / Decimal("0.8"))
    assert find_rate(rates, "NOK", "SEK", DAY) == Decimal("1.1")
    assert find_rate(rates, "NOK", "USD", DAY) is None
