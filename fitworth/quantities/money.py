"""Decimal money in a currency's minor unit.

Minor digits: ISO 4217, list one (current currencies and funds), as of 2026. Codes and digits were compared
with a public copy of the list; the changes since 2014 (SLE, VED, UYW, XCG, ZWG in; ANG, BGN, CUC, HRK, SLL,
ZWL out) are from memory. Metals, units of account and test codes have no minor unit and are no means of
payment: left out.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Context, Decimal
from fractions import Fraction
from types import MappingProxyType

from fitworth.errors import InvalidValueError
from fitworth.quantities.reading import Form, read_decimal

_CODES_BY_DIGITS = {
    0: "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF",
    2: """AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BOV BRL BSD BTN BWP BYN BZD CAD CDF
        CHE CHF CHW CNY COP COU CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD
        GTQ GYD HKD HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL
        MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MXV MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR
        PLN QAR RON RSD RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP
        TRY TTD TWD TZS UAH USD USN UYU UZS VED VES WST XCD XCG YER ZAR ZMW ZWG""",
    3: "BHD IQD JOD KWD LYD OMR TND",
    4: "CLF UYW",
}
MINOR_DIGITS = MappingProxyType(
    {code: digits for digits, codes in _CODES_BY_DIGITS.items() for code in codes.split()}
)
_WIDE = Context(prec=60)  # more digits than any product of amount, quantity and rates that is let in
_MINOR_UNIT = {code: Decimal(1).scaleb(-digits) for code, digits in MINOR_DIGITS.items()}


@dataclass(frozen=True, slots=True)
class Money:
    """An amount in a currency, with the currency's minor digits once it was read or rounded."""

    amount: Decimal
    currency: str


def minor_digits(currency: str) -> int:
    """Return how many decimals a currency has [1].

    >>> minor_digits("USD"), minor_digits("JPY"), minor_digits("KWD")
    (2, 0, 3)

    Raises:
        InvalidValueError: when the code is not in ISO 4217's list.
    """
    return MINOR_DIGITS[read_currency(currency)]


def minor_unit(currency: str) -> Decimal:
    """Return the smallest amount of a currency that is not zero: 0.01 USD, 1 JPY."""
    return _MINOR_UNIT[read_currency(currency)]


def round_money(amount: Decimal, currency: str) -> Decimal:
    """Return an amount rounded to the currency's minor unit, halves away from zero.

    Own choice, because shops and customs offices print half a cent as a cent, and never as none.

    >>> round_money(Decimal("2.345"), "EUR"), round_money(Decimal("-0.5"), "JPY")
    (Decimal('2.35'), Decimal('-1'))
    """
    return amount.quantize(minor_unit(currency), ROUND_HALF_UP, _WIDE)


def to_minor(money: Money) -> int:
    """Return an amount as a count of minor units: 12.50 USD is 1250.

    Raises:
        InvalidValueError: when the amount has more decimals than the currency.
    """
    count = money.amount.scaleb(minor_digits(money.currency))
    if count != count.to_integral_value():
        raise InvalidValueError(_too_fine(money.currency))
    return int(count)


def from_minor(count: int, currency: str) -> Money:
    """Return the amount that a count of minor units makes: 1250 of USD is 12.50."""
    return Money(Decimal(count).scaleb(-minor_digits(currency)), currency)


def share_by_value(total: Decimal, values: Sequence[Decimal], currency: str) -> tuple[Decimal, ...]:
    """Return a sum shared by value to the minor unit; the shares add up to it exactly.

    Each share is rounded towards zero, and the minor units left over go to the largest remainders, the first
    of equal ones first (method of largest remainder). Where all values are zero, all weigh the same. A
    negative sum is shared like a positive one.

    >>> share_by_value(Decimal("1.00"), [Decimal(1), Decimal(1), Decimal(1)], "USD")
    (Decimal('0.34'), Decimal('0.33'), Decimal('0.33'))

    Args:
        total: what is shared [currency].
        values: what it is shared by, each zero or more, one at least.
        currency: of the total.

    Raises:
        InvalidValueError: for no values, a negative one, or a total with more decimals than the currency.
    """
    if not values or min(values) < 0:
        raise InvalidValueError("A sum is shared over one value or more, each zero or more.")
    whole, sign = abs(to_minor(Money(total, currency))), -1 if total < 0 else 1
    weights = [Fraction(value) for value in values] if any(values) else [Fraction(1)] * len(values)
    exact = [whole * weight / sum(weights) for weight in weights]
    counts = [int(share) for share in exact]
    by_remainder = sorted(range(len(values)), key=lambda place: counts[place] - exact[place])
    for place in by_remainder[: whole - sum(counts)]:
        counts[place] += 1
    return tuple(from_minor(sign * count, currency).amount for count in counts)


def read_currency(raw: object) -> str:
    """Return a currency code that is in ISO 4217's list."""
    if not isinstance(raw, str) or raw not in MINOR_DIGITS:
        raise InvalidValueError(
            'The currency is not known; write its three capital letters of ISO 4217, like "USD".'
        )
    return raw


def read_amount(raw: object, currency: str) -> Decimal:
    """Return an amount of zero or more, given as a plain decimal string, with the currency's minor digits.

    >>> read_amount("12.5", "USD")
    Decimal('12.50')

    Raises:
        InvalidValueError: when it is no plain decimal string or has more decimals than the currency.
    """
    amount = read_decimal(raw)
    rounded = round_money(amount, currency)
    if rounded != amount:
        raise InvalidValueError(_too_fine(currency))
    return rounded


def read_money(raw: object) -> Money:
    """Return money from `{"amount": "12.50", "currency": "USD"}`; fewer decimals than it has are fine.

    Raises:
        InvalidValueError: with every fault: a bare number, a sign, an exponent, more than 15 digits, more
            decimals than the currency has, a currency or field that is not known, a missing field.
    """
    form = Form(raw, "Money", ("amount", "currency"))
    currency = form.required("currency", read_currency)
    amount = form.required(
        "amount", read_decimal if currency is None else lambda text: read_amount(text, currency)
    )
    form.finish()
    return Money(amount, currency)


def _too_fine(currency: str) -> str:
    digits = minor_digits(currency)
    allowed = "no decimals" if digits == 0 else f"at most {digits} decimals"
    return f"The amount has too many decimals; {currency} has {allowed}."
