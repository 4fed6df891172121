"""A doubtful entry as a value, and the question that is asked about it."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from fitworth.quantities.quantity import Quantity, Value
from fitworth.vocabulary import Doubt, EntrySlip

QUESTIONS: Mapping[EntrySlip, str] = MappingProxyType(
    {
        EntrySlip.INCHES: "is it in inches?",
        EntrySlip.MILLIMETRES: "is it in millimetres, and was read as inches?",
        EntrySlip.UNIT: "is it in another unit?",
        EntrySlip.POINT: "is the decimal point in the right place?",
        EntrySlip.DIGITS: "a typing error?",
    }
)


@dataclass(frozen=True, slots=True)
class DoubtfulEntry:
    """An entry on file that is probably wrong.

    Attributes:
        part_id: whose.
        doubt: what it stands against.
        keys: of the dimension; of both where it is their proportion.
        listed: what is on file for each of them.
        supposed: what the group says; None for a proportion.
        say_so: how many other parts of the group say that; 0 for a proportion.
        probability: that the entry, or one of the two, is wrong.
        slip: what it looks like, or None.
        says: a sentence for whoever looks at the part again.
    """

    part_id: int
    doubt: Doubt
    keys: tuple[str, ...]
    listed: tuple[Value, ...]
    supposed: Value | None
    say_so: int
    probability: float
    slip: EntrySlip | None
    says: str


def ask_about(listed: Value, supposed: Value, slip: EntrySlip | None) -> str:
    """Return the question about an entry that its group denies.

    >>> ask_about("manual_cable", "manual_lever", None)
    'manual cable is entered, the group says manual lever: is that right?'
    """
    asks = "is that right?" if slip is None else QUESTIONS[slip]
    return f"{say_value(listed)} is entered, the group says {say_value(supposed)}: {asks}"


def say_value(value: Value) -> str:
    """Return a value within a sentence: a number to four significant digits or as many as it was given."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Quantity):
        return f"{value.value:.6g}" + ("" if value.unit == "1" else f" {value.unit}")
    if isinstance(value, frozenset):
        return ", ".join(sorted(value)).replace("_", " ") or "none"
    return value.replace("_", " ")
