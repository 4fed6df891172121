"""Values of dimensions as they come in and go out: measured, listed, named.

What comes out is legal input again and reads back to the same value.
"""

from collections.abc import Mapping
from fractions import Fraction
from functools import partial

from fitworth.errors import Fault, InvalidValueError, escape_pointer, raise_faults
from fitworth.families.model import Dimension, Family
from fitworth.matching.instruments import can_measure, correct_inside_reading, limit_component
from fitworth.matching.named_values import list_nearest, read_named
from fitworth.matching.slips import check_plausible
from fitworth.matching.statement import Statement, collect, take_apart
from fitworth.quantities.notation import Reading, read_number, read_plus_minus
from fitworth.quantities.quantity import SQRT3, Quantity, Value
from fitworth.quantities.uncertainty import Component, combine, rectangular, repeated
from fitworth.quantities.units import CANONICAL, SPANS
from fitworth.vocabulary import Instrument, Kind

_MOST_SUGGESTIONS = 20  # own choice: so many unknown names are looked up, the others are only refused
_LONGEST_NAME = 100  # characters of an unknown name that are repeated


def read_values(
    family: Family, raw: Mapping[str, object], instrument: Instrument | None = None
) -> dict[str, Value]:
    """Return the values of a family's dimensions by key.

    Args:
        family: the family.
        raw: values by dimension key, each as for `read_value`.
        instrument: what everything was measured with, where a value does not say otherwise.

    Raises:
        InvalidValueError: every fault at once, each with a JSON pointer into `raw`.
    """
    values: dict[str, Value] = {}
    faults: list[Fault] = []
    unknown: list[str] = []
    for key, entry in raw.items():
        if key not in family.by_key:
            unknown.append(key.encode("utf-8", "replace").decode()[:_LONGEST_NAME])
            continue
        read = partial(read_value, family.by_key[key], entry, instrument)
        value = collect(faults, "/" + escape_pointer(key), read)
        if value is not None:
            values[key] = value
    for place, name in enumerate(unknown):
        near = list_nearest(name, family.by_key) if place < _MOST_SUGGESTIONS else []
        hint = f" Was {' or '.join(near)} meant?" if near else ""
        faults.append(
            Fault("/" + escape_pointer(name), f"{family.label} has no dimension of this name.{hint}")
        )
    raise_faults(faults)
    return values


def read_value(dimension: Dimension, raw: object, instrument: Instrument | None = None) -> Value:
    """Return one dimension's value.

    Uncertainty after the GUM (JCGM 100:2008): a stated ± is a half-width and replaces what instrument and
    notation leave open; else these two add in quadrature, each as a rectangular distribution; repeated
    readings add the standard deviation of their mean.

    Inside jaws read low in small holes: such a reading is corrected, and not a second time when it comes back
    with `as_entered`.

    Args:
        dimension: what the value belongs to.
        raw: a number, a text, or an object with `value` or `readings` and, as it likes, `unit`, `plus_minus`,
            `instrument`, `as_entered`.
        instrument: what it was measured with where the value does not say; one that cannot measure this kind
            gives way to the dimension's usual instrument.

    Returns:
        A quantity in the dimension's unit, or the choice, text, flag or set.

    Raises:
        InvalidValueError: every fault of the value, each with a JSON pointer into `raw`.
    """
    usual = instrument if instrument and can_measure(instrument, dimension.kind) else dimension.instrument
    statement = take_apart(dimension, raw, usual)
    if dimension.kind.is_numeric:
        return _read_quantity(dimension, statement)
    faults: list[Fault] = []
    named = collect(faults, statement.places[0], lambda: read_named(dimension, statement.raws[0]))
    if named is None:
        raise InvalidValueError(faults)
    return named


def write_value(dimension: Dimension, value: Value) -> object:
    """Return a value as JSON carries it; `read_value` reads it back to the same.

    Args:
        dimension: what the value belongs to.
        value: as `read_value` returned it.

    Returns:
        An object for a quantity, a sorted list for a set, the text or truth value itself.
    """
    if isinstance(value, Quantity):
        return {
            "value": int(value.value) if dimension.kind is Kind.COUNT else value.value,
            "unit": value.unit,
            "plus_minus": _round_half_width(value.plus_minus),
            "as_entered": value.as_entered,
        }
    return sorted(value) if isinstance(value, frozenset) else value


def _read_quantity(dimension: Dimension, statement: Statement) -> Quantity:
    faults: list[Fault] = []
    readings: list[Reading] = []
    for raw, place in zip(statement.raws, statement.places, strict=True):
        reading = collect(faults, place, partial(_read_one, dimension, raw, statement.unit))
        if reading is not None:
            readings.append(reading)
    if len(readings) > 1 and any(reading.plus_minus is not None for reading in readings):
        faults.append(Fault("/readings", "State the ± once, beside the readings, not within them."))
    raise_faults(faults)
    mean = sum((reading.value for reading in readings), Fraction(0)) / len(readings)
    stated = _find_stated(dimension, statement, readings[0], mean)
    value, jaws = float(mean), Component(0.0)
    fresh = statement.as_entered is None
    if fresh and statement.instrument is Instrument.CALIPER_INSIDE and dimension.kind is Kind.LENGTH:
        value, jaws = correct_inside_reading(value)
    scatter = repeated([float(reading.value) for reading in readings])
    if stated is not None:
        parts = [rectangular(float(stated)), scatter]
    else:
        limit = limit_component(statement.instrument, dimension.kind, value)
        notation = rectangular(float(max(reading.half_width for reading in readings)))
        parts = [limit, notation, jaws, scatter]
    half_width = _round_half_width(combine(parts).standard_uncertainty * SQRT3)
    echo = "; ".join(reading.as_entered for reading in readings) if fresh else statement.as_entered
    where = statement.places[0] if len(readings) == 1 else "/readings"
    collect(faults, where, partial(_check_result, dimension, value, half_width))
    raise_faults(faults)
    return Quantity(value, CANONICAL[dimension.kind].symbol, half_width / SQRT3, echo or "", len(readings))


def _read_one(dimension: Dimension, raw: object, unit: str) -> Reading:
    reading = read_number(raw, dimension.kind, unit=unit, signed=_is_signed(dimension))
    check_plausible(dimension, float(reading.value), reading.unit)
    return reading


def _find_stated(
    dimension: Dimension, statement: Statement, reading: Reading, mean: Fraction
) -> Fraction | None:
    """Return the half-width that was stated, in the text or beside it, or None."""
    raw = statement.plus_minus
    if raw is None:
        return reading.plus_minus
    if reading.plus_minus is not None:
        raise InvalidValueError(Fault("/plus_minus", "The ± is stated twice: leave one of them out."))
    if dimension.kind is Kind.COUNT:
        if isinstance(raw, bool) or raw != 0:
            raise InvalidValueError(Fault("/plus_minus", "A count is exact: leave the ± out."))
        return None
    faults: list[Fault] = []
    signed = _is_signed(dimension)
    read = partial(read_plus_minus, raw, dimension.kind, mean, unit=statement.unit, signed=signed)
    half_width = collect(faults, "/plus_minus", read)
    raise_faults(faults)
    return half_width


def _check_result(dimension: Dimension, value: float, half_width: float) -> None:
    """Refuse a result that the corrections carried out of range, and one that its uncertainty drowns."""
    check_plausible(dimension, value, CANONICAL[dimension.kind])
    if half_width > value and not _is_signed(dimension):
        raise InvalidValueError(
            f"{value:.4g} {dimension.unit} is less than what the measuring leaves open, ± {half_width:.2g}: "
            "take a finer instrument, or state the ±."
        )


def _is_signed(dimension: Dimension) -> bool:
    """Return whether zero and below are sound: in angles, and where a family's interval goes below zero."""
    return SPANS[dimension.kind].signed or (dimension.plausible is not None and dimension.plausible[0] < 0)


def _round_half_width(half_width: float) -> float:
    """Return a half-width to nine digits, few enough to survive a turn through sqrt(3) unchanged."""
    return float(f"{half_width:.9g}")
