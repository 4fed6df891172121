"""What is said about one value, taken apart before any number in it is read."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypeVar

from fitworth.errors import Fault, InvalidValueError, raise_faults
from fitworth.families.model import Dimension
from fitworth.matching.instruments import can_measure
from fitworth.quantities.characters import refuse_unprintable
from fitworth.quantities.notation import read_unit
from fitworth.vocabulary import Instrument, Kind

MOST_READINGS = 20
"""Repeated readings of one value; own choice: more say hardly more."""
LONGEST_ECHO = 4000
"""Characters of `as_entered`; own choice, so that the longest row of readings fits."""
_MEASURED_KEYS = ("value", "unit", "plus_minus", "instrument", "as_entered", "readings")
_NAMED_KEYS = ("value", "instrument", "as_entered")
_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class Statement:
    """What was said about one value.

    Attributes:
        raws: the value, or the repeated readings, unread.
        places: the JSON pointer of each.
        instrument: what it was measured with.
        unit: the unit stated beside it, "" for none.
        plus_minus: the half-width stated beside it, unread; None for none.
        as_entered: the earlier echo, None where this is a fresh entry.
    """

    raws: tuple[object, ...]
    places: tuple[str, ...]
    instrument: Instrument
    unit: str = ""
    plus_minus: object = None
    as_entered: str | None = None


def collect(faults: list[Fault], where: str, read: Callable[[], _T]) -> _T | None:
    """Return what `read` returns; where it finds faults, add them to the list as seen from `where`."""
    try:
        return read()
    except InvalidValueError as error:
        faults += [fault.under(where) for fault in error.faults]
        return None


def take_apart(dimension: Dimension, raw: object, usual: Instrument) -> Statement:
    """Return the parts of a raw value.

    Args:
        dimension: what the value belongs to.
        raw: a number, a text, a list, or an object with the keys of the interface.
        usual: the instrument where the value does not name one.

    Raises:
        InvalidValueError: everything wrong with its shape at once.
    """
    if not isinstance(raw, Mapping):
        return Statement((raw,), ("",), usual)
    faults: list[Fault] = []
    keys = _MEASURED_KEYS if dimension.kind.is_numeric else _NAMED_KEYS
    if not all(key in keys for key in raw):
        faults.append(Fault("", f"Only these entries are known here: {', '.join(keys)}."))
    unit = collect(faults, "/unit", lambda: _read_unit(dimension, raw.get("unit")))
    instrument = collect(faults, "/instrument", lambda: _read_instrument(dimension, raw.get("instrument")))
    as_entered = collect(faults, "/as_entered", lambda: _read_echo(raw.get("as_entered")))
    readings = collect(faults, "/readings", lambda: _read_readings(dimension, raw))
    if "value" not in raw and "readings" not in raw:
        faults.append(Fault("", "The value itself is missing: give “value”."))
    raise_faults(faults)
    raws = readings or (raw.get("value"),)
    places = tuple(f"/readings/{place}" for place in range(len(raws))) if readings else ("/value",)
    return Statement(raws, places, instrument or usual, unit or "", raw.get("plus_minus"), as_entered)


def _read_unit(dimension: Dimension, raw: object) -> str:
    if raw is None or not dimension.kind.is_numeric:
        return ""
    if not isinstance(raw, str):
        raise InvalidValueError("The unit is wanted as a text, such as mm.")
    return read_unit(raw, dimension.kind).symbol


def _read_instrument(dimension: Dimension, raw: object) -> Instrument | None:
    if raw is None:
        return None
    word = (
        "_".join(raw.casefold().replace("-", " ").replace("_", " ").split()) if isinstance(raw, str) else ""
    )
    try:
        instrument = Instrument(word)
    except ValueError:
        raise InvalidValueError(f"The instrument is one of {', '.join(Instrument)}.") from None
    if not can_measure(instrument, dimension.kind):
        right = ", ".join(other for other in Instrument if can_measure(other, dimension.kind))
        raise InvalidValueError(
            f"{instrument} does not measure this; for {dimension.kind} there are {right}."
        )
    return instrument


def _read_echo(raw: object) -> str | None:
    if raw is None:
        return None
    if not isinstance(raw, str) or len(raw) > LONGEST_ECHO:
        raise InvalidValueError(f"A text of at most {LONGEST_ECHO} characters is wanted here.")
    refuse_unprintable(raw)
    return raw


def _read_readings(dimension: Dimension, raw: Mapping[str, object]) -> tuple[object, ...]:
    if "readings" not in raw:
        return ()
    readings = raw["readings"]
    if dimension.kind is Kind.COUNT:
        raise InvalidValueError("A count is exact: give one value, not several readings.")
    if "value" in raw:
        raise InvalidValueError("Give either one value or several readings, not both.")
    if not isinstance(readings, list | tuple) or not 1 <= len(readings) <= MOST_READINGS:
        raise InvalidValueError(f"A list of 1 to {MOST_READINGS} readings is wanted here.")
    return tuple(readings)
