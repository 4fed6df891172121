"""Numbers as people write them at the bench, read into a family's canonical unit.

A bare decimal is in the canonical unit, a bare mixed fraction in inches; a bare proper fraction and a comma
before three digits have two readings and are refused with both. The last digit says how exact a number is.
"""

import math
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from fitworth.errors import InvalidValueError
from fitworth.quantities import entry
from fitworth.quantities.characters import make_plain, refuse_unprintable, tidy
from fitworth.quantities.entry import Entry, Shape
from fitworth.quantities.quantity import Quantity
from fitworth.quantities.units import CANONICAL, INCH, SPANS, Unit, get_unit
from fitworth.vocabulary import Kind


@dataclass(frozen=True, slots=True)
class NotationPrecision:
    """How exact a way of writing is taken to be.

    Attributes:
        inch_fraction_half_in: half-width of inches in fractions, whole inches included: those are fractions
            with nothing left over [in]; half of 1/64 in, the finest division of a rule (common practice).
        drill_half_mm: half-width of a drill's nominal size [mm]; own choice: shanks wear and burr by this.
        finest: smallest half-width that any notation claims [canonical unit]; own choice: more digits come
            from a calculation, and say nothing.
    """

    inch_fraction_half_in: Fraction = Fraction(1, 128)
    drill_half_mm: Fraction = Fraction(1, 100)
    finest: Fraction = Fraction(1, 10**9)


PRECISION = NotationPrecision()
_LARGEST_NUMBER = 10**15  # beyond any span in any unit; keeps the arithmetic short


@dataclass(frozen=True, slots=True)
class Reading:
    """A number as it was read.

    Attributes:
        value: in the kind's canonical unit, exact.
        half_width: what its notation leaves open [canonical unit].
        plus_minus: the half-width stated with it [canonical unit], None where none was.
        unit: the unit that it was read in.
        as_entered: the text that was read, tidied.
    """

    value: Fraction
    half_width: Fraction
    plus_minus: Fraction | None
    unit: Unit
    as_entered: str


def read_number(raw: object, kind: Kind, *, unit: str = "", signed: bool | None = None) -> Reading:
    """Return a number or a text read as a number of this kind.

    Args:
        raw: a JSON number (in `unit`, or the canonical unit) or a text as people write it.
        kind: a numeric kind.
        unit: the unit stated beside it, "" for none.
        signed: whether zero and negative numbers are sound; by default what the kind says.

    Raises:
        InvalidValueError: it cannot be read, has two readings, or cannot be a size; it says what would do.

    Examples:
        >>> float(read_number("1 9/16 in", Kind.LENGTH).value)
        39.6875
        >>> read_number("24.1 mm ± 0.2 mm", Kind.LENGTH).plus_minus
        Fraction(1, 5)
    """
    stated = read_unit(unit, kind) if unit else None
    if isinstance(raw, str):
        reading = _read_text(raw, kind, stated)
    else:
        number = _read_json_number(raw)
        chosen = stated or CANONICAL[kind]
        echo = f"{raw} {stated.symbol}" if stated else str(raw)
        reading = Reading(number.amount * chosen.factor, _half_width(number, chosen), None, chosen, echo)
    signed = SPANS[kind].signed if signed is None else signed
    _check_size(reading.value, kind, signed=signed)
    if kind is Kind.COUNT:
        return _as_count(reading)
    if reading.plus_minus is not None:
        check_plus_minus(reading.plus_minus, None if signed else reading.value)
    return reading


def read_plus_minus(
    raw: object, kind: Kind, value: Fraction, *, unit: str = "", signed: bool = False
) -> Fraction:
    """Return a half-width stated beside a value [canonical unit].

    Args:
        raw: a JSON number or a text, with or without a leading ±; "5 %" is a share of the value.
        kind: a numeric kind.
        value: what it belongs to [canonical unit].
        unit: the unit stated for value and half-width, "" for the canonical one.
        signed: whether the value may be zero or negative; only then may the half-width be the larger.

    Raises:
        InvalidValueError: it cannot be read, is not positive, or is larger than the value.
    """
    stated = read_unit(unit, kind) if unit else None
    if isinstance(raw, str):
        plain = make_plain(raw)
        text = plain.removeprefix("±").removeprefix("+/-").strip() or plain
        share = entry.find_percent(text)
        if share is not None:
            half_width = abs(value) * share
        else:
            number = entry.parse(text, kind)
            half_width = number.amount * (number.unit or _choose_unit(number, None, kind, stated)).factor
    else:
        half_width = _read_json_number(raw).amount * (stated or CANONICAL[kind]).factor
    check_plus_minus(half_width, None if signed else value)
    return half_width


def read_unit(text: str, kind: Kind) -> Unit:
    """Return the unit that stands beside a value, as typed.

    Raises:
        InvalidValueError: unprintable, unknown, or the unit of something else; it says which would be right.
    """
    text = tidy(text)
    refuse_unprintable(text)
    return get_unit(text, kind)


def check_plus_minus(half_width: Fraction, value: Fraction | None) -> None:
    """Refuse a half-width that says nothing or everything.

    Args:
        half_width: as stated [canonical unit].
        value: what it belongs to, None where it may be smaller [canonical unit].

    Raises:
        InvalidValueError: zero, negative, finer than can be measured, or larger than the value.
    """
    if half_width < PRECISION.finest:
        raise InvalidValueError("The ± must be more than zero: how far off may the value be, either way?")
    if value is not None and half_width > value:
        raise InvalidValueError(
            "The ± is larger than the value itself: check the point and the unit of both."
        )
    if half_width > _LARGEST_NUMBER:
        raise InvalidValueError("The ± is far too large: check the point and the unit.")


def describe(quantity: Quantity) -> str:
    """Return how a quantity was read, for the person who typed it: "39.69 mm, 1 9/16 in".

    Digits beyond a tenth of its half-width are left out; the entry is repeated where it looked different.
    """
    half_width = quantity.plus_minus
    places = min(9, max(0, math.ceil(-math.log10(half_width / 10)))) if half_width > 0 else 0
    number = f"{quantity.value:.{places}f}"
    if "." in number:
        number = number.rstrip("0").rstrip(".")
    read = number if quantity.unit == "1" else f"{number} {quantity.unit}"
    return read if quantity.as_entered in {"", number, read} else f"{read}, {quantity.as_entered}"


def _read_text(raw: str, kind: Kind, stated: Unit | None) -> Reading:
    first, second = entry.split_restated(make_plain(raw))
    text, plus_minus_text = entry.split_plus_minus(first)
    share = entry.find_percent(plus_minus_text)
    number = entry.parse(text, kind)
    deviation = entry.parse(plus_minus_text, kind) if plus_minus_text and share is None else None
    unit = _choose_unit(number, deviation, kind, stated)
    value, half_width = number.amount * unit.factor, _half_width(number, unit)
    if second:
        _check_restated(value, half_width, second, kind)
    if share is not None:
        plus_minus: Fraction | None = abs(value) * share
    elif deviation is not None:
        plus_minus = deviation.amount * _choose_deviation_unit(deviation, unit, kind, stated).factor
    else:
        plus_minus = None
    as_entered = tidy(raw)
    echo = f"{as_entered} {stated.symbol}" if stated and number.unit is None else as_entered
    return Reading(value, half_width, plus_minus, unit, echo)


def _read_json_number(raw: object) -> Entry:
    if isinstance(raw, bool) or not isinstance(raw, int | float):
        raise InvalidValueError("A number or a text such as “39.7 mm” is wanted here.")
    if isinstance(raw, float) and not math.isfinite(raw):
        raise InvalidValueError("This is not a number that can be measured.")
    if abs(raw) > _LARGEST_NUMBER:
        raise InvalidValueError("This number is far too large to be a measurement.")
    number = Decimal(repr(float(raw)) if isinstance(raw, float) else int(raw))
    exponent = number.as_tuple().exponent
    places = -exponent if isinstance(exponent, int) else 0
    return Entry(Fraction(number), Fraction(1, 2 * 10**places), Shape.DECIMAL if places else Shape.WHOLE)


def _choose_unit(number: Entry, deviation: Entry | None, kind: Kind, stated: Unit | None) -> Unit:
    """Return the unit that a number is in; refuse where two would do."""
    if stated and number.unit and stated != number.unit:
        raise InvalidValueError(
            f"The value says {number.unit.symbol}, the unit beside it {stated.symbol}: leave one of them out."
        )
    shared = deviation.unit if deviation else None
    if unit := number.unit or stated:
        return unit
    if kind is Kind.LENGTH and number.shape is Shape.MIXED:
        return INCH
    if kind is Kind.LENGTH and number.shape is Shape.PROPER:
        if shared == INCH:
            return INCH
        raise InvalidValueError(entry.say_both_readings(number))
    if shared and shared != CANONICAL[kind]:
        raise InvalidValueError(
            f"Does {shared.symbol} hold for the value too, or only for the ±? Write the unit after both."
        )
    return CANONICAL[kind]


def _choose_deviation_unit(deviation: Entry, unit: Unit, kind: Kind, stated: Unit | None) -> Unit:
    if chosen := deviation.unit or stated:
        return chosen
    in_fractions = deviation.shape in {Shape.MIXED, Shape.PROPER}
    if (unit == CANONICAL[kind] and not in_fractions) or (unit == INCH and in_fractions):
        return unit
    raise InvalidValueError(
        f"Is the ± in {unit.symbol} or in {CANONICAL[kind].symbol}? Write its unit after it."
    )


def _half_width(number: Entry, unit: Unit) -> Fraction:
    if number.is_drill:
        return PRECISION.drill_half_mm
    if unit == INCH and number.shape is not Shape.DECIMAL:
        return PRECISION.inch_fraction_half_in * unit.factor
    return max(number.half_step * unit.factor, PRECISION.finest)


def _check_restated(value: Fraction, half_width: Fraction, second: str, kind: Kind) -> None:
    """Refuse a size that is stated twice and does not agree with itself, "0.030 in (.08382 cm)"."""
    again = entry.parse(second, kind)
    if again.unit is None and again.shape is not Shape.MIXED:
        raise InvalidValueError("Write a unit after the number in brackets.")
    unit = again.unit or _choose_unit(again, None, kind, None)
    other = again.amount * unit.factor
    if abs(other - value) > half_width + _half_width(again, unit):
        symbol = CANONICAL[kind].symbol
        raise InvalidValueError(
            f"The two sizes disagree: {float(value):.6g} {symbol}, in brackets {float(other):.6g} {symbol}. "
            "One of them is a slip: measure again or leave it out."
        )


def _check_size(value: Fraction, kind: Kind, *, signed: bool) -> None:
    span = SPANS[kind]
    if not signed and value <= 0:
        raise InvalidValueError(f"{span.called.capitalize()} must be more than zero.")
    if abs(value) > span.largest:
        raise InvalidValueError(
            f"This is more than anything measured here, {float(span.largest):g} {CANONICAL[kind].symbol}: "
            "check the point and the unit."
        )
    if not signed and value < span.smallest:
        raise InvalidValueError("This is smaller than anything measured here: check the point and the unit.")


def _as_count(reading: Reading) -> Reading:
    if reading.value < 0 or reading.value.denominator != 1:
        raise InvalidValueError("A count must be a whole number, 0 or more.")
    if reading.plus_minus is not None:
        raise InvalidValueError("A count is exact: leave the ± out.")
    return replace(reading, half_width=Fraction(0))
