"""Values of dimensions as they come in and go out."""

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitworth.errors import InvalidValueError
from fitworth.families.model import Dimension, Family, Life
from fitworth.matching.instruments import JAWS, LIMITS, correct_inside_reading
from fitworth.matching.measurements import read_value, read_values, write_value
from fitworth.quantities.quantity import SQRT3, Quantity
from fitworth.vocabulary import Grade, Instrument, Kind, LifeClock, Role

BORE = Dimension(
    "throttle_bore",
    "Throttle bore",
    Kind.LENGTH,
    "mm",
    Role.RUN,
    "",
    None,
    Instrument.CALIPER_OUTSIDE,
    (10, 60),
)
HOLE = replace(
    BORE, key="bolt_hole_diameter", label="Bolt hole", instrument=Instrument.CALIPER_INSIDE, plausible=(3, 16)
)
OFFSET = replace(BORE, key="offset", label="Offset of the steps", plausible=(-5, 5))
LISTED = replace(BORE, key="listed", label="Listed size", instrument=Instrument.LISTING, plausible=None)
ANGLE = replace(
    BORE,
    key="axis",
    label="Bolt axis",
    kind=Kind.ANGLE,
    unit="deg",
    instrument=Instrument.RULE,
    plausible=(-180, 360),
)
COIL = replace(
    BORE,
    key="coil",
    label="Secondary",
    kind=Kind.RESISTANCE,
    unit="ohm",
    instrument=Instrument.MULTIMETER,
    plausible=(0, 20_000),
)
CAN = replace(
    BORE,
    key="can",
    label="Can",
    kind=Kind.CAPACITANCE,
    unit="uF",
    instrument=Instrument.MULTIMETER,
    plausible=(0.05, 2),
)
LEGS = replace(
    BORE, key="legs", label="Legs", kind=Kind.COUNT, unit="1", instrument=Instrument.LOOK, plausible=(0, 4)
)
NAMED = replace(BORE, unit="", instrument=Instrument.LOOK, plausible=None)
CHOKE = replace(
    NAMED, key="choke_type", label="Choke", kind=Kind.CHOICE, choices=("manual_lever", "electric", "none")
)
THREAD = replace(NAMED, key="thread", label="Thread", kind=Kind.CHOICE, choices=("m10x1.0", "m14x1.25"))
SEAT = replace(
    NAMED, key="seat_replaceable", label="Seat replaceable", kind=Kind.CHOICE, choices=("yes", "no")
)
DIODE = replace(NAMED, key="stop_diode", label="Stop diode", kind=Kind.FLAG)
GASKETS = replace(
    NAMED,
    key="gasket_set",
    label="Gaskets",
    kind=Kind.SET,
    choices=("mounting_gasket", "insulator", "bowl_gasket"),
)
PORTS = replace(NAMED, key="ports", label="Ports", kind=Kind.SET)
NOTE = replace(NAMED, key="note", label="Note", kind=Kind.TEXT)
ALL = (BORE, HOLE, OFFSET, LISTED, ANGLE, COIL, CAN, LEGS, CHOKE, THREAD, SEAT, DIODE, GASKETS, PORTS, NOTE)
MEASURED = tuple(dimension for dimension in ALL if dimension.kind.is_numeric)
FAMILY = Family("mower_part", "Mower part", "seen from above", (Grade.OEM,), Life(LifeClock.HOURS, 1.5), ALL)

SCALARS = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text()
    | st.sampled_from(["39.7", "1 9/16 in", "yes"])
)
JSON = st.recursive(
    SCALARS,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.text(max_size=4)
            | st.sampled_from(["value", "unit", "plus_minus", "readings", "instrument", "as_entered"]),
            inner,
            max_size=5,
        )
    ),
    max_leaves=8,
)


def says(read: Callable[[], object]) -> dict[str, str]:
    """The sentence of each fault by its place."""
    with pytest.raises(InvalidValueError) as refusal:
        read()
    return {fault.where: fault.says for fault in refusal.value.faults}


def read_quantity(dimension: Dimension, raw: object, instrument: Instrument | None = None) -> Quantity:
    value = read_value(dimension, raw, instrument)
    assert isinstance(value, Quantity)
    return value


def test_all_faults_of_a_form_are_told_at_once_each_with_its_place() -> None:
    raw = {
        "throttle_bor": 19,
        "a/b~c\ud800": 1,
        "throttle_bore": "9/16",
        "axis": {"value": 90, "unit": "mm", "instrument": "multimeter", "colour": "red"},
        "legs": {"readings": [2, 3]},
        "can": {"readings": ["abc", "0.2", 0]},
        "choke_type": {"value": "vacuum"},
        "gasket_set": ["mounting gasket", "tyre", 3.5],
    }
    faults = says(lambda: read_values(FAMILY, raw))
    assert set(faults) == {
        "/throttle_bor",
        "/a~1b~0c?",
        "/throttle_bore",
        "/axis",
        "/axis/unit",
        "/axis/instrument",
        "/legs/readings",
        "/can/readings/0",
        "/can/readings/2",
        "/choke_type/value",
        "/gasket_set/1",
        "/gasket_set/2",
    }
    assert "throttle_bore" in faults["/throttle_bor"]
    assert "one of manual_lever, electric, none" in faults["/choke_type/value"]


def test_only_the_first_unknown_names_are_looked_up() -> None:
    faults = says(lambda: read_values(FAMILY, {f"throttle_bore_{number}": 1 for number in range(30)}))
    assert len(faults) == 30
    assert "meant" in faults["/throttle_bore_0"]
    assert "meant" not in faults["/throttle_bore_29"]


@pytest.mark.parametrize(
    ("raw", "where", "reason"),
    [
        (None, "", "wanted here"),
        ("", "", "Nothing was entered"),
        ([19.1], "", "wanted here"),
        ({}, "", "value itself is missing"),
        ({"value": None}, "/value", "wanted here"),
        ({"value": 19.1, "readings": [19.1]}, "/readings", "not both"),
        ({"readings": []}, "/readings", "1 to 20 readings"),
        ({"readings": [19.1] * 21}, "/readings", "1 to 20 readings"),
        ({"readings": "19.1"}, "/readings", "1 to 20 readings"),
        ({"readings": ["19.1 ± 0.1", 19.2]}, "/readings", "State the ± once"),
        ({"readings": [19.1, 41.0], "plus_minus": 31}, "/plus_minus", "larger than the value"),
        ({"value": 19.1, "colour": "red"}, "", "Only these entries"),
        ({"value": 19.1, "unit": 5}, "/unit", "as a text"),
        ({"value": 19.1, "unit": "ohm"}, "/unit", "unit of resistance"),
        ({"value": "19.1 mm", "unit": "in"}, "/value", "leave one of them out"),
        ({"value": 19.1, "instrument": "ruler"}, "/instrument", "one of caliper_outside"),
        ({"value": 19.1, "instrument": 5}, "/instrument", "one of caliper_outside"),
        ({"value": 19.1, "instrument": "multimeter"}, "/instrument", "does not measure this"),
        ({"value": 19.1, "plus_minus": 0}, "/plus_minus", "more than zero"),
        ({"value": 19.1, "plus_minus": -0.2}, "/plus_minus", "more than zero"),
        ({"value": 19.1, "plus_minus": 20}, "/plus_minus", "larger than the value"),
        ({"value": "19.1 ± 0.1", "plus_minus": 0.2}, "/plus_minus", "stated twice"),
        ({"value": 19.1, "as_entered": 5}, "/as_entered", "at most 4000"),
        ({"value": 19.1, "as_entered": "x" * 4001}, "/as_entered", "at most 4000"),
        ({"value": 19.1, "as_entered": "\x00"}, "/as_entered", "cannot be printed"),
    ],
)
def test_a_measurement_with_a_fault_is_refused_at_its_place(raw: object, where: str, reason: str) -> None:
    faults = says(lambda: read_value(BORE, raw))
    assert list(faults) == [where]
    assert reason in faults[where]


@pytest.mark.parametrize(
    ("dimension", "raw", "remedy"),
    [
        (BORE, "1.563", "Is it in inches? Then write 1.563 in."),
        (BORE, "39.7 in", "Is it in millimetres, not inches? Then write 39.7 mm."),
        (BORE, 391, "Is the decimal point missing? Then write 39.1 mm."),
        (BORE, "15.63 in", "Is the decimal point missing? Then write 1.563 in."),
        (BORE, "750.0", "Is it in thousandths of an inch? Then write 750 thou."),
        (BORE, 4, "Is it in centimetres? Then write 4 cm."),
        (BORE, 9000, "Check the number, the point and the unit."),
        (COIL, "8600 kohm", "Is it in ohms, not kilohms? Then write 8600 ohm."),
        (CAN, 200, "Is it in nanofarads? Then write 200 nF."),
        (LEGS, 22, "22 cannot be right for “Legs”, between 0 and 4."),
    ],
)
def test_an_implausible_value_is_refused_and_its_likely_slip_named(
    dimension: Dimension, raw: object, remedy: str
) -> None:
    assert remedy in says(lambda: read_value(dimension, raw))[""]


def test_a_size_that_the_instrument_cannot_tell_is_refused() -> None:
    gap = replace(BORE, plausible=(0.05, 3))
    assert "finer instrument" in says(lambda: read_value(gap, 0.3, Instrument.RULE))[""]
    assert read_quantity(gap, {"value": 0.3, "plus_minus": 0.05}, Instrument.RULE).value == 0.3


@pytest.mark.parametrize("raw", [{"value": 3, "plus_minus": 1}, {"value": 3, "plus_minus": False}])
def test_a_count_takes_no_half_width(raw: object) -> None:
    assert "exact" in says(lambda: read_value(LEGS, raw))["/plus_minus"]


def test_sizes_are_above_zero_unless_the_family_lets_them_go_below() -> None:
    assert "more than zero" in says(lambda: read_value(BORE, 0))[""]
    assert "more than zero" in says(lambda: read_value(COIL, 0))[""]
    assert read_quantity(OFFSET, 0.0).value == 0.0
    assert read_quantity(OFFSET, "-0.5 mm").value == -0.5
    assert read_quantity(ANGLE, "-45°").value == -45.0


@pytest.mark.parametrize(
    ("raw", "half_widths"),
    [
        ("19.1 mm", (0.02, 0.05)),
        (19, (0.02, 0.5)),
        ("1 9/16 in", (0.02, 0.1984375)),
        ({"value": 19.1, "instrument": "Rule"}, (0.5, 0.05)),
        ({"value": 19.1, "instrument": "drill-shank"}, (0.1, 0.05)),
        ({"value": 19.1, "instrument": "listing"}, (0.05,)),
        ({"value": "19.1", "instrument": None, "unit": None, "plus_minus": None}, (0.02, 0.05)),
        ("24.1 mm ± 0.2 mm", (0.2,)),
        ({"value": "1 21/32 in", "plus_minus": "0.2 mm"}, (0.2,)),
        ({"value": "1 9/16 in", "plus_minus": 0.2}, (0.2,)),
        ({"value": 1.5, "unit": "in", "plus_minus": 0.01}, (0.254,)),
        ({"value": 19.1, "plus_minus": 0.2, "instrument": "tape"}, (0.2,)),
    ],
)
def test_a_stated_half_width_replaces_instrument_and_notation_which_else_add(
    raw: object, half_widths: tuple[float, ...]
) -> None:
    quantity = read_quantity(BORE, raw)
    assert quantity.standard_uncertainty == pytest.approx(math.hypot(*half_widths) / SQRT3, rel=1e-8)


def test_the_instrument_is_the_values_own_then_the_forms_then_the_dimensions() -> None:
    own = read_quantity(BORE, {"value": 19.1, "instrument": "rule"}, Instrument.TAPE)
    form = read_quantity(BORE, 19.1, Instrument.TAPE)
    usual = read_quantity(BORE, 19.1)
    assert own.plus_minus == pytest.approx(math.hypot(0.5, 0.05), rel=1e-8)
    assert form.plus_minus == pytest.approx(math.hypot(1.0, 0.05), rel=1e-8)
    assert usual.plus_minus == pytest.approx(math.hypot(0.02, 0.05), rel=1e-8)


def test_an_instrument_named_for_the_whole_form_gives_way_where_it_cannot_measure() -> None:
    values = read_values(FAMILY, {"coil": "8600 ohm", "throttle_bore": 19.1}, Instrument.CALIPER_OUTSIDE)
    assert isinstance(values["coil"], Quantity)
    assert values["coil"].plus_minus == pytest.approx(math.hypot(86.0, 0.5), rel=1e-8)


def test_an_unfit_usual_instrument_adds_nothing() -> None:
    odd = replace(ANGLE, instrument=Instrument.CALIPER_OUTSIDE)
    assert read_quantity(odd, 90).plus_minus == pytest.approx(0.5)


def test_repeated_readings_add_the_scatter_of_their_mean() -> None:
    quantity = read_quantity(BORE, {"readings": [39.6, "39,7 mm", 39.5]})
    assert quantity.value == pytest.approx(39.6)
    assert quantity.standard_uncertainty == pytest.approx(
        math.sqrt((0.02**2 + 0.05**2) / 3 + 0.1**2 / 3), rel=1e-8
    )
    assert (quantity.as_entered, quantity.readings) == ("39.6; 39,7 mm; 39.5", 3)


def test_a_stated_half_width_beside_readings_keeps_their_scatter() -> None:
    quantity = read_quantity(BORE, {"readings": [39.6, 39.8], "plus_minus": 0.3})
    assert quantity.standard_uncertainty == pytest.approx(math.sqrt(0.3**2 / 3 + 0.1**2), rel=1e-8)


def test_one_reading_in_a_list_is_that_reading() -> None:
    assert read_quantity(BORE, {"readings": [39.6]}) == read_quantity(BORE, 39.6)


def test_inside_jaws_read_low_in_small_holes_and_are_corrected_once() -> None:
    fresh = read_quantity(HOLE, "6.5 mm")
    chord_mm = math.sqrt(fresh.value**2 - JAWS.width_mm**2)
    assert chord_mm == pytest.approx(6.5, abs=1e-12)
    assert fresh.as_entered == "6.5 mm"
    assert read_value(HOLE, write_value(HOLE, fresh)) == fresh
    assert read_quantity(HOLE, {"value": 6.5, "instrument": "drill_shank"}).value == 6.5
    assert read_quantity(HOLE, 6.5, Instrument.LISTING).value == 6.5
    assert read_quantity(HOLE, 15.0).value == 15.0


def test_the_correction_carries_the_doubt_about_the_jaws() -> None:
    diameter_mm, doubt = correct_inside_reading(6.5)
    wider_mm = math.hypot(6.5, JAWS.width_mm + 1e-6)
    slope = (wider_mm - diameter_mm) / 1e-6
    assert doubt.standard_uncertainty == pytest.approx(slope * JAWS.width_half_mm / SQRT3, rel=1e-5)


def test_every_limit_names_its_source() -> None:
    assert all(limit.source for limit in LIMITS.values())
    assert {instrument for instrument, _ in LIMITS} == set(Instrument)


@pytest.mark.parametrize(
    ("dimension", "raw", "reason"),
    [
        (CHOKE, "vacuum", "Choke is one of manual_lever, electric, none."),
        (CHOKE, "manual_lver", "Was manual_lever meant?"),
        (CHOKE, True, "text is wanted"),
        (CHOKE, 1.5, "text is wanted"),
        (DIODE, "perhaps", "Yes or no"),
        (DIODE, 1, "Yes or no"),
        (GASKETS, 5, "list is wanted"),
        (GASKETS, "mounting_gasket,,", "Nothing was entered"),
        (GASKETS, ["insulator"] * 101, "at most 100"),
        (NOTE, "", "Nothing was entered"),
        (NOTE, "x" * 201, "at most 200"),
        (NOTE, "a\ud800", "cannot be printed"),
        (NOTE, "a\x00", "cannot be printed"),
        (NOTE, 10**5000, "text is wanted"),
        (NOTE, None, "text is wanted"),
    ],
    ids=range(15),
)
def test_a_name_that_the_dimension_does_not_take_is_refused(
    dimension: Dimension, raw: object, reason: str
) -> None:
    assert any(reason in sentence for sentence in says(lambda: read_value(dimension, raw)).values())


@pytest.mark.parametrize("raw", [{"value": "electric", "unit": "mm"}, {"value": "electric", "readings": []}])
def test_a_name_takes_no_unit_and_no_readings(raw: object) -> None:
    assert "Only these entries" in says(lambda: read_value(CHOKE, raw))[""]


@pytest.mark.parametrize(
    ("dimension", "raw", "value"),
    [
        (CHOKE, "manual_lever", "manual_lever"),
        (CHOKE, " Manual Lever ", "manual_lever"),
        (CHOKE, "manual-lever", "manual_lever"),
        (CHOKE, {"value": "Electric", "instrument": "look", "as_entered": "Electric"}, "electric"),
        (THREAD, "M14 × 1.25", "m14x1.25"),
        (SEAT, True, "yes"),
        (SEAT, False, "no"),
        (SEAT, "No", "no"),
        (DIODE, True, True),
        (DIODE, "no", False),
        (DIODE, " Yes", True),
        (GASKETS, "mounting gasket, insulator", frozenset({"mounting_gasket", "insulator"})),
        (GASKETS, ["Insulator", "insulator"], frozenset({"insulator"})),
        (GASKETS, [], frozenset()),
        (PORTS, ["vent", "canister, large"], frozenset({"vent", "canister, large"})),
        (NOTE, "  two\u00a0lines\nof text ", "two lines of text"),
        (NOTE, 7, "7"),
    ],
)
def test_a_name_is_read_whatever_its_case_and_hyphens(
    dimension: Dimension, raw: object, value: object
) -> None:
    assert read_value(dimension, raw) == value


def test_values_go_out_as_json_carries_them() -> None:
    assert write_value(BORE, read_value(BORE, {"value": "1 9/16 in", "plus_minus": 0.2})) == {
        "value": 39.6875,
        "unit": "mm",
        "plus_minus": 0.2,
        "as_entered": "1 9/16 in",
    }
    assert write_value(LEGS, read_value(LEGS, "3")) == {
        "value": 3,
        "unit": "1",
        "plus_minus": 0.0,
        "as_entered": "3",
    }
    assert write_value(GASKETS, frozenset({"insulator", "bowl_gasket"})) == ["bowl_gasket", "insulator"]
    assert write_value(DIODE, False) is False
    assert write_value(CHOKE, "none") == "none"


def test_a_family_of_values_is_read_by_key() -> None:
    assert read_values(FAMILY, {"stop_diode": False, "choke_type": "none"}) == {
        "stop_diode": False,
        "choke_type": "none",
    }


TEXTS = st.one_of(
    st.decimals(min_value=10, max_value=16, places=2).map(lambda number: f"{number} mm"),
    st.integers(26, 40).map(lambda sixty_fourths: f"{sixty_fourths}/64 in"),
    st.integers(400, 620).map(lambda thou: f"{thou} thou"),
)
ENTRIES = st.one_of(
    TEXTS,
    st.floats(10, 16),
    st.builds(lambda text, plus: {"value": text, "plus_minus": plus}, TEXTS, st.floats(1e-9, 10)),
    st.builds(
        lambda readings: {"readings": readings}, st.lists(TEXTS | st.floats(10, 16), min_size=1, max_size=20)
    ),
)


@given(
    st.sampled_from([BORE, HOLE, LISTED, replace(ANGLE, kind=Kind.LENGTH, unit="mm")]),
    ENTRIES,
    st.none() | st.sampled_from([Instrument.CALIPER_INSIDE, Instrument.DRILL_SHANK, Instrument.LISTING]),
)
def test_what_comes_out_reads_back_to_the_same_value(
    dimension: Dimension, raw: object, instrument: Instrument | None
) -> None:
    try:
        value = read_quantity(dimension, raw, instrument)
    except InvalidValueError:  # a reading corrected beyond the largest hole
        return
    again = read_quantity(dimension, write_value(dimension, value), Instrument.CALIPER_INSIDE)
    assert replace(again, readings=value.readings) == value


@given(st.sampled_from(MEASURED), st.floats(-2000, 2000) | st.integers(0, 4))
def test_any_number_that_is_read_comes_back_the_same(dimension: Dimension, raw: float) -> None:
    try:
        value = read_value(dimension, raw)
    except InvalidValueError:
        return
    assert read_value(dimension, write_value(dimension, value)) == value


@given(st.sampled_from(ALL), JSON, st.none() | st.sampled_from(Instrument))
def test_whatever_json_brings_is_read_or_refused_with_a_sentence(
    dimension: Dimension, raw: object, instrument: Instrument | None
) -> None:
    refusal = None
    try:
        value = read_value(dimension, raw, instrument)
    except InvalidValueError as error:
        refusal = error
    if refusal is None:
        assert read_value(dimension, write_value(dimension, value)) is not None
    else:
        assert refusal.faults
        assert all((fault.where + fault.says).encode() for fault in refusal.faults)


@given(
    st.dictionaries(
        st.text(max_size=3) | st.sampled_from([dimension.key for dimension in ALL]), JSON, max_size=4
    )
)
def test_whatever_a_form_brings_is_read_or_refused(raw: dict[str, object]) -> None:
    refusal = None
    try:
        values = read_values(FAMILY, raw)
    except InvalidValueError as error:
        refusal = error
    if refusal is None:
        assert set(values) == set(raw)
    else:
        assert all((fault.where + fault.says).encode() for fault in refusal.faults)
