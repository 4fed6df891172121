"""Numbers as people write them: what the table of entries does not show."""

import math
from collections.abc import Callable
from fractions import Fraction
from typing import TypeVar

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitworth.errors import InvalidValueError
from fitworth.quantities.notation import (
    PRECISION,
    describe,
    read_number,
    read_plus_minus,
    read_unit,
)
from fitworth.quantities.quantity import SQRT3, Quantity
from fitworth.quantities.units import SPANS
from fitworth.vocabulary import NUMERIC_KINDS, Kind

MIXED_64THS = st.integers(65, 640).filter(lambda sixty_fourths: sixty_fourths % 64 != 0)
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=5,
)
NEARLY = st.text(
    st.sampled_from("0123456789.,/-+±()% #'\"″½⅝mincthoudrlkΩµFegKM\u00a0\u2212１\u0663\ud800\x00"),
    max_size=24,
)

T = TypeVar("T")


def read_or_refuse(read: Callable[[], T]) -> T | None:
    """What was read, or None where it was refused in sentences that can be sent."""
    refusal = None
    try:
        return read()
    except InvalidValueError as error:
        refusal = error
    assert refusal.faults
    assert all(fault.says.encode() for fault in refusal.faults)
    return None


@pytest.mark.parametrize(
    ("raw", "reason"),
    [
        (True, "wanted here"),
        (None, "wanted here"),
        ([39.7], "wanted here"),
        (math.nan, "not a number"),
        (math.inf, "not a number"),
        (-math.inf, "not a number"),
        pytest.param(10**5000, "far too large", id="five-thousand-digits"),
        (1e300, "far too large"),
        (-5, "more than zero"),
        (0, "more than zero"),
        (0.0, "more than zero"),
        (5e-324, "smaller than anything"),
        (1e9, "more than anything"),
        ("39\x007", "cannot be printed"),
        ("39.7\ud800", "cannot be printed"),
        ("39.7 m\u200fm", "not known"),
        ("39\u200b7", "cannot be read"),
    ],
)
def test_what_is_no_size_is_refused(raw: object, reason: str) -> None:
    with pytest.raises(InvalidValueError, match=reason):
        read_number(raw, Kind.LENGTH)


def test_a_bare_proper_fraction_is_refused_with_both_readings() -> None:
    with pytest.raises(InvalidValueError) as refusal:
        read_number("9/16", Kind.LENGTH)
    assert "14.29 mm" in str(refusal.value)
    assert "0.56 mm" in str(refusal.value)
    assert "9/16 in or 9/16 mm" in str(refusal.value)


def test_a_unit_that_contradicts_the_one_beside_it_is_refused() -> None:
    with pytest.raises(InvalidValueError, match="says in, the unit beside it mm"):
        read_number("1 9/16 in", Kind.LENGTH, unit="mm")


@pytest.mark.parametrize("unit", ["furlong", "kg\ud800", "ohm"])
def test_a_unit_beside_the_value_must_be_one_of_its_kind(unit: str) -> None:
    with pytest.raises(InvalidValueError):
        read_unit(unit, Kind.LENGTH)


@pytest.mark.parametrize(
    ("raw", "half_width"), [(19, 0.5), (19.0, 0.05), (39.7, 0.05), (39.6875, 0.00005), (1000, 0.5)]
)
def test_a_json_number_is_in_the_canonical_unit_and_as_exact_as_its_digits(
    raw: float, half_width: float
) -> None:
    reading = read_number(raw, Kind.LENGTH)
    assert float(reading.value) == raw
    assert float(reading.half_width) == half_width
    assert reading.as_entered == str(raw)


def test_a_unit_beside_the_value_holds_for_a_bare_number_and_is_echoed() -> None:
    assert read_number(1.5, Kind.LENGTH, unit="in").value == Fraction(381, 10)
    assert read_number(1.5, Kind.LENGTH, unit="in").as_entered == "1.5 in"
    reading = read_number("9/16", Kind.LENGTH, unit="inches")
    assert (float(reading.value), reading.as_entered) == (14.2875, "9/16 in")
    assert read_number("1.5 ± 0.1", Kind.LENGTH, unit="in").plus_minus == Fraction(254, 100)


@pytest.mark.parametrize(
    ("text", "plus_minus"),
    [
        ("24.1 mm ± 0.2 mm", Fraction(1, 5)),
        ("24.1 ± 0.2", Fraction(1, 5)),
        ("24.1 mm +/- 0.2 mm", Fraction(1, 5)),
        ("24.1 mm ± 1 %", Fraction(241, 1000)),
        ("1 21/32 in ± 0.2 mm", Fraction(1, 5)),
        ("1 21/32 ± 1/64", Fraction(254, 640)),
        ("9/16 ± 1/64 in", Fraction(254, 640)),
        ("39.7 mm", None),
    ],
)
def test_a_half_width_within_the_text_is_in_its_own_unit(text: str, plus_minus: Fraction | None) -> None:
    assert read_number(text, Kind.LENGTH).plus_minus == plus_minus


def test_zero_and_less_are_read_where_the_caller_says_that_they_are_sound() -> None:
    assert read_number(0, Kind.LENGTH, signed=True).value == 0
    assert read_number("-0.5 mm ± 1 mm", Kind.LENGTH, signed=True).plus_minus == 1


@pytest.mark.parametrize(
    ("raw", "reason"),
    [
        (0, "more than zero"),
        (-1, "more than zero"),
        ("0 mm", "more than zero"),
        (True, "wanted here"),
        (math.nan, "not a number"),
        (40, "larger than the value"),
        ("1/64", "inches"),
        ("0.2 ohm", "unit of resistance"),
        ("±", "cannot be read"),
    ],
)
def test_a_half_width_that_says_nothing_is_refused(raw: object, reason: str) -> None:
    with pytest.raises(InvalidValueError, match=reason):
        read_plus_minus(raw, Kind.LENGTH, Fraction(39))


def test_a_half_width_beyond_all_measure_is_refused_even_where_it_may_exceed_the_value() -> None:
    with pytest.raises(InvalidValueError, match="far too large"):
        read_plus_minus("9" * 60, Kind.ANGLE, Fraction(0), signed=True)


@pytest.mark.parametrize(
    ("raw", "unit", "half_width"),
    [
        (0.2, "", Fraction(1, 5)),
        ("0.2", "", Fraction(1, 5)),
        ("± 0.2 mm", "", Fraction(1, 5)),
        ("+/- 0.2 mm", "", Fraction(1, 5)),
        ("1/64 in", "", Fraction(254, 640)),
        (0.01, "in", Fraction(254, 1000)),
        ("1/64", "in", Fraction(254, 640)),
        ("0.2 mm", "in", Fraction(1, 5)),
        ("5 %", "", Fraction(2)),
    ],
)
def test_a_half_width_beside_the_value_takes_its_unit(raw: object, unit: str, half_width: Fraction) -> None:
    assert read_plus_minus(raw, Kind.LENGTH, Fraction(40), unit=unit) == half_width


def test_digits_that_come_from_a_calculation_claim_no_more_than_the_finest_notation() -> None:
    assert read_number(16.666666666666668, Kind.LENGTH).half_width == PRECISION.finest


@pytest.mark.parametrize(
    ("text", "described"),
    [
        ("1 9/16 in", "39.69 mm, 1 9/16 in"),
        ("39.7", "39.7 mm"),
        ("39,7 mm", "39.7 mm, 39,7 mm"),
        ("19", "19 mm"),
        ("30 thou", "0.762 mm, 30 thou"),
    ],
)
def test_a_reading_is_told_back_in_the_canonical_unit_and_as_it_was_written(
    text: str, described: str
) -> None:
    reading = read_number(text, Kind.LENGTH)
    quantity = Quantity(float(reading.value), "mm", float(reading.half_width) / SQRT3, reading.as_entered)
    assert describe(quantity) == described


def test_a_count_is_told_back_without_a_unit() -> None:
    assert describe(Quantity(3.0, "1", 0.0, "3")) == "3"


@given(MIXED_64THS)
def test_every_mixed_fraction_of_an_inch_is_read_exactly(sixty_fourths: int) -> None:
    whole, rest = divmod(sixty_fourths, 64)
    for text in (f"{whole} {rest}/64 in", f'{whole}-{rest}/64"', f"{whole} {rest}/64"):
        assert read_number(text, Kind.LENGTH).value == Fraction(sixty_fourths, 64) * Fraction(254, 10)


@given(st.decimals(min_value="0.001", max_value="9999", places=3))
def test_point_and_comma_decimals_mean_the_same(number: object) -> None:
    text = str(number) + "5"  # a fourth place: a comma before three digits could part thousands
    assert read_number(text.replace(".", ","), Kind.LENGTH).value == read_number(text, Kind.LENGTH).value


@given(st.sampled_from(sorted(NUMERIC_KINDS)), st.text() | NEARLY | JSON, st.booleans())
def test_whatever_is_entered_is_read_or_refused_with_a_sentence(
    kind: Kind, raw: object, signed: bool
) -> None:
    reading = read_or_refuse(lambda: read_number(raw, kind, signed=signed))
    if reading is not None:
        assert math.isfinite(float(reading.value))
        assert abs(reading.value) <= SPANS[kind].largest
        assert reading.half_width > 0 or kind is Kind.COUNT


@given(st.sampled_from(sorted(NUMERIC_KINDS)), st.text() | NEARLY | JSON)
def test_whatever_is_entered_as_half_width_is_read_or_refused(kind: Kind, raw: object) -> None:
    half_width = read_or_refuse(lambda: read_plus_minus(raw, kind, Fraction(20)))
    assert half_width is None or 0 < half_width <= 20
