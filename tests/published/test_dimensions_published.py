"""Sizes of the trade against published figures, each with its source."""

from fractions import Fraction
from pathlib import Path

import pytest

from fitworth.errors import InvalidValueError
from fitworth.families.model import Dimension
from fitworth.families.parse import parse_family
from fitworth.matching.measurements import read_value
from fitworth.quantities.drills import get_drill_mm
from fitworth.quantities.fasteners import (
    STUDS,
    LeaningFastener,
    fixed_tolerance_mm,
    floating_tolerance_mm,
    largest_standard_stud_mm,
    smallest_hole_mm,
)
from fitworth.quantities.notation import read_number
from fitworth.quantities.quantity import Quantity
from fitworth.vocabulary import Kind

BY_NAME = {stud.name: stud for stud in STUDS}


def size_mm(text: str) -> float:
    return float(read_number(text, Kind.LENGTH).value)


@pytest.mark.parametrize(
    ("text", "millimetres"),
    [
        ("1.000 in", 25.4),
        ("1/64 in", 0.396875),
        ("1/16 in", 1.5875),
        ("17/64 in", 6.746875),
        ("9/32 in", 7.14375),
        ("5/16 in", 7.9375),
        ("13/16 in", 20.6375),
        ("1 9/16 in", 39.6875),
    ],
)
def test_inches_are_25_4_mm_exactly(text: str, millimetres: float) -> None:
    # NIST SP 811 (attribution from memory); recomputed with pint.
    assert size_mm(text) == millimetres


@pytest.mark.parametrize(
    ("number", "inches"),
    [("51", "0.067"), ("54", "0.055"), ("55", "0.052"), ("58", "0.042"), ("66", "0.033"), ("68", "0.031")],
)
def test_number_drills(number: str, inches: str) -> None:
    # Army TM 5-3810-294-34, Table 1-4.
    assert get_drill_mm(number) == Fraction(inches) * Fraction(254, 10)
    assert size_mm(f"No. {number} drill ({inches} in)") == pytest.approx(float(inches) * 25.4)


@pytest.mark.parametrize(("number", "misprint"), [("28", "1.028"), ("54", "0.555")])
def test_misprinted_drills_are_seen_to_disagree(number: str, misprint: str) -> None:
    # The same table prints "No. 28 (1.028)" and "No. 54 (0.555)".
    with pytest.raises(InvalidValueError, match="two sizes disagree"):
        read_number(f"No. {number} drill ({misprint} in)", Kind.LENGTH)


def test_an_inch_size_misprinted_in_centimetres_is_seen_to_disagree() -> None:
    # Army TM 5-4310-360-14 prints "0.030 in (.08382 cm)" for a plug gap; .08382 cm is 0.033 in.
    with pytest.raises(InvalidValueError, match="two sizes disagree"):
        read_number("0.030 in (.08382 cm)", Kind.LENGTH)
    assert size_mm("0.033 in (.08382 cm)") == pytest.approx(0.8382)


@pytest.mark.parametrize(
    ("name", "holes_mm"),
    [
        # ISO 273: fine, medium, coarse.
        ("M5", (5.3, 5.5, 5.8)),
        ("M6", (6.4, 6.6, 7.0)),
        ("M8", (8.4, 9.0, 10.0)),
        ("M10", (10.5, 11.0, 12.0)),
        # ASME B18.2.8: close, normal, loose.
        ("#10", (5.2, 5.6, 6.0)),
        ("1/4 in", (6.8, 7.1, 7.5)),
        ("5/16 in", (8.3, 8.7, 9.1)),
        ("3/8 in", (9.9, 10.3, 10.7)),
    ],
)
def test_clearance_holes(name: str, holes_mm: tuple[float, float, float]) -> None:
    stud = BY_NAME[name]
    assert (stud.close_mm, stud.normal_mm, stud.loose_mm) == holes_mm
    assert all(largest_standard_stud_mm(hole_mm).diameter_mm >= stud.diameter_mm for hole_mm in holes_mm)


def test_fastener_formulas() -> None:
    # ASME Y14.5: floating T = H - F, fixed T = (H - F) / 2, H = F + T1 + T2 (1 + 2 P / D).
    assert floating_tolerance_mm(6.44, 6.0) == pytest.approx(0.44)
    assert fixed_tolerance_mm(6.44, 6.0) == pytest.approx(0.22)
    assert smallest_hole_mm(LeaningFastener(6.35, 0.2, 0.4, 12.0, 8.0)) == pytest.approx(8.15)


def test_play_of_two_stud_patterns() -> None:
    # H - F by the same standard: M6 in medium holes; 1/4 in studs in their normal hole, 9/32 in.
    assert floating_tolerance_mm(BY_NAME["M6"].normal_mm, BY_NAME["M6"].diameter_mm) == pytest.approx(0.6)
    inch = BY_NAME["1/4 in"]
    assert floating_tolerance_mm(size_mm("9/32 in"), inch.diameter_mm) == pytest.approx(0.794, abs=5e-4)
    assert largest_standard_stud_mm(size_mm("9/32 in")) is inch


@pytest.mark.parametrize(
    ("width", "diameter", "height_max_in", "height_min_in"),
    [
        ("1/8", "1/2", 0.203, 0.198),
        ("5/32", "5/8", 0.250, 0.245),
        ("3/16", "3/4", 0.313, 0.308),
        ("1/4", "7/8", 0.375, 0.370),
    ],
)
def test_woodruff_keys_are_plausible_flywheel_keys(
    width: str, diameter: str, height_max_in: float, height_min_in: float
) -> None:
    # ASME B17.2 in Machinery's Handbook 31, Table 8: W x B and the height's limits, inches.
    key = builtin_dimensions("flywheel_key")
    assert isinstance(read_value(key["width"], f"{width} in"), Quantity)
    assert isinstance(read_value(key["length"], f"{diameter} in"), Quantity)
    for height_in in (height_max_in, height_min_in):
        height = read_value(key["height"], f"{height_in:.3f} in")
        assert isinstance(height, Quantity)
        assert height.value == pytest.approx(height_in * 25.4)


@pytest.mark.parametrize("thread", ["M10x1.0", "M12x1.25", "M14x1.25", "M18x1.5"])
def test_spark_plug_threads_are_choices(thread: str) -> None:
    # M12x1.25 ISO 2705, M14x1.25 ISO 1919 (from memory), M18x1.5 ISO 2345.
    assert read_value(builtin_dimensions("spark_plug")["thread"], thread) == thread.lower()


@pytest.mark.parametrize("reach", ["9.5 mm", "12.7 mm", "19.0 mm", "26.0 mm", "1/2 in", "3/4 in"])
def test_spark_plug_reaches_are_plausible(reach: str) -> None:
    # 9.5, 12.7, 19 and about 26 mm are the usual reaches (general knowledge of the trade).
    value = read_value(builtin_dimensions("spark_plug")["reach"], reach)
    assert isinstance(value, Quantity)
    assert value.value == pytest.approx(size_mm(reach))


@pytest.mark.parametrize(("inches", "sold_as_mm"), [("13/16 in", "20.8 mm"), ("5/8 in", "16.0 mm")])
def test_a_hexagon_is_the_same_in_two_units(inches: str, sold_as_mm: str) -> None:
    # 13/16 in = 20.6375 mm is sold as 20.8, 5/8 in = 15.875 mm as 16: one spanner, two units.
    assert size_mm(f"{inches} ({sold_as_mm})") == size_mm(inches)


@pytest.mark.parametrize(("inches", "millimetres"), [("0.028", 0.711), ("0.033", 0.838), ("0.030", 0.76)])
def test_plug_gaps(inches: str, millimetres: float) -> None:
    # 0.028 to 0.033 in: Army TM 5-3810-294-34, CM1205; 0.030 in is common practice, no source.
    assert size_mm(f"{inches} in") == pytest.approx(millimetres, abs=5e-3 if millimetres == 0.76 else 5e-4)


@pytest.mark.parametrize(("millimetres", "inches"), [("2.8", "0.110"), ("4.8", "0.187"), ("6.3", "0.250")])
def test_flat_blade_terminals_agree_in_both_units(millimetres: str, inches: str) -> None:
    # Nominal widths, UL 310 and IEC 61210.
    assert size_mm(f"{millimetres} mm ({inches} in)") == float(millimetres)


def test_coil_air_gap_in_both_units() -> None:
    # 0.25 to 0.36 mm, 0.010 to 0.014 in: common practice, no source.
    assert size_mm("0.25 mm (0.010 in)") == 0.25
    assert size_mm("0.36 mm (0.014 in)") == 0.36


def builtin_dimensions(family: str) -> dict[str, Dimension]:
    source = Path(__file__).parents[2] / "fitworth" / "families" / f"{family}.toml"
    return dict(parse_family(source.read_bytes(), source.name).by_key)
