"""A part's dimensions as one row of bytes of fixed length: stored beside a part, loaded by a catalogue.

A row begins with the fingerprint of the family's layout, so that rows packed under an older family file
are recognised and packed anew instead of being misread.
"""

import hashlib
import math
import struct
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

import numpy as np
import numpy.typing as npt

from fitworth.errors import Fault, InvalidValueError, escape_pointer, raise_faults
from fitworth.families.model import Dimension, Family
from fitworth.quantities.quantity import Quantity, Value
from fitworth.vocabulary import Kind

FINGERPRINT = "_fingerprint"
MOST_SET_CHOICES = 63  # one bit each; the highest bit says that the set is listed at all
LISTED_BIT = 1 << 63
TEXT_BYTES = 40  # what is kept of a text to be shown; its hash decides whether two are equal
MISSING_CODE = -1
LARGEST = 3.4e38  # four bytes hold no larger number
STRUCT_CODES = MappingProxyType(
    {"<i8": "q", "<f4": "f", "<i2": "h", "<u8": "Q", f"S{TEXT_BYTES}": f"{TEXT_BYTES}s"}
)

Rows = npt.NDArray[np.void]


class OldLayoutError(InvalidValueError):
    """A row was packed under another layout of its family and must be packed anew."""


def layout_fingerprint(family: Family) -> int:
    """Return a number of 63 bits that changes with whatever changes the meaning of a packed row.

    It hashes the family's key and each dimension's key, kind, unit and choices, in order; roles and
    allowances may change freely. BLAKE2b, shortened to what a signed 64-bit database column holds.
    """
    page = [family.key]
    for dimension in family.dimensions:
        page += (dimension.key, dimension.kind, dimension.unit, "\x1e".join(dimension.choices))
    digest = hashlib.blake2b("\x1f".join(page).encode(), digest_size=8).digest()
    return int.from_bytes(digest) >> 1


def is_mask(dimension: Dimension) -> bool:
    """Whether a set is kept as one bit for each choice; sets of free or very many words are kept as text."""
    return dimension.kind is Kind.SET and 0 < len(dimension.choices) <= MOST_SET_CHOICES


class RowLayout:
    """How the rows of one family are laid out.

    Attributes:
        family: the family.
        fingerprint: see layout_fingerprint.
        dtype: the structured type of a row: for a number its value and standard uncertainty as 4-byte floats,
            for a choice or flag its place as 2 bytes, for a set a bit mask, for a text its hash and
            beginning.
    """

    def __init__(self, family: Family) -> None:
        self.family = family
        self.fingerprint = layout_fingerprint(family)
        fields: list[tuple[str, str]] = [(FINGERPRINT, "<i8")]
        for dimension in family.dimensions:
            fields += _fields_of(dimension)
        self.dtype = np.dtype(fields)
        # One call of `struct` writes a row in a tenth of the time of as many assignments to an array.
        self._struct = struct.Struct("<" + "".join(STRUCT_CODES[code] for _, code in fields))
        self._places = {name: place for place, (name, _) in enumerate(fields)}
        self._empty = [self.fingerprint]
        for dimension in family.dimensions:
            self._empty += _empty_cells(dimension)

    def pack(self, values: Mapping[str, Value]) -> bytes:
        """Return one row.

        Args:
            values: the listed dimensions by key, numbers in the family's unit.

        Raises:
            InvalidValueError: keys that the family does not have, or values of another kind; all at once.
        """
        row = self._empty.copy()
        faults = []
        for key, value in values.items():
            dimension = self.family.by_key.get(key)
            says = _no_such(key, self.family) if dimension is None else find_kind_fault(dimension, value)
            if says or dimension is None:
                faults.append(Fault(f"/{escape_pointer(key)}", says or ""))
                continue
            cells = _cells(dimension, value)
            row[self._places[key] : self._places[key] + len(cells)] = cells
        raise_faults(faults)
        return self._struct.pack(*row)

    def rows(self, packed: Sequence[bytes]) -> Rows:
        """Return packed rows as one structured array.

        Raises:
            OldLayoutError: some row was packed under another layout.
        """
        joined = b"".join(packed)
        if len(joined) != len(packed) * self.dtype.itemsize:
            raise OldLayoutError(self._old())
        rows = np.frombuffer(joined, self.dtype)
        if not bool((rows[FINGERPRINT] == self.fingerprint).all()):
            raise OldLayoutError(self._old())
        return rows

    def unpack(self, packed: bytes) -> dict[str, Value]:
        """Return the listed dimensions of a row; what it does not list is absent.

        Raises:
            OldLayoutError: the row was packed under another layout.
        """
        row = self.rows([packed])[0]
        read = {dimension.key: _read(row, dimension) for dimension in self.family.dimensions}
        return {key: value for key, value in read.items() if value is not None}

    def _old(self) -> str:
        return (
            f"A row was packed under another file of the family {self.family.key}; pack its dimensions anew."
        )


def pack(family: Family, values: Mapping[str, Value]) -> bytes:
    """Return one packed row, see RowLayout.pack; for many rows keep one RowLayout."""
    return RowLayout(family).pack(values)


def unpack(family: Family, packed: bytes) -> dict[str, Value]:
    """Return the listed dimensions of a packed row, see RowLayout.unpack."""
    return RowLayout(family).unpack(packed)


def shown_number(value: float, uncertainty: float, unit: str) -> Quantity:
    """Return a stored number as a quantity, to the seven significant digits that its four bytes hold."""
    text = f"{value:.7g}"
    return Quantity(float(text), unit, float(f"{uncertainty:.7g}"), f"{text} {unit}" if unit != "1" else text)


def text_hash(text: str) -> int:
    """Return 64 bits by which two texts are held equal; never 0, which stands for "not listed"."""
    return int.from_bytes(hashlib.blake2b(text.encode(), digest_size=8).digest()) or 1


def as_text(value: str | frozenset[str]) -> str:
    """Return a text, or a set's members in order and joined by commas."""
    return value if isinstance(value, str) else ",".join(sorted(value))


def from_text(dimension: Dimension, text: bytes) -> Value:
    """Return what as_text made a text of, as far as its beginning was kept."""
    shown = text.decode(errors="ignore")
    return frozenset(filter(None, shown.split(","))) if dimension.kind is Kind.SET else shown


def mask_of(dimension: Dimension, members: frozenset[str]) -> int:
    """Return a set as a bit mask with the bit that says it is listed."""
    return sum(1 << dimension.choices.index(member) for member in members) | LISTED_BIT


def from_mask(dimension: Dimension, mask: int) -> frozenset[str]:
    """Return the set of a bit mask."""
    return frozenset(choice for place, choice in enumerate(dimension.choices) if mask >> place & 1)


def _fields_of(dimension: Dimension) -> list[tuple[str, str]]:
    if dimension.kind.is_numeric:
        return [(dimension.key, "<f4"), (f"{dimension.key}.u", "<f4")]
    if dimension.kind in {Kind.CHOICE, Kind.FLAG}:
        return [(dimension.key, "<i2")]
    if is_mask(dimension):
        return [(dimension.key, "<u8")]
    return [(dimension.key, "<u8"), (f"{dimension.key}.text", f"S{TEXT_BYTES}")]


def find_kind_fault(dimension: Dimension, value: Value) -> str | None:
    """Return what is wrong with the kind of a value for its dimension, or None."""
    kind = dimension.kind
    if kind.is_numeric:
        if isinstance(value, Quantity) and value.unit == dimension.unit and _fits_four_bytes(value):
            return None
        return f"{dimension.label} is a number in {dimension.unit}."
    if kind is Kind.FLAG:
        return None if isinstance(value, bool) else f"{dimension.label} is either true or false."
    if kind is Kind.SET:
        fits = isinstance(value, frozenset) and (not dimension.choices or value <= set(dimension.choices))
        return None if fits else f"{dimension.label} is a list of {_among(dimension)}."
    if kind is Kind.CHOICE:
        return None if value in dimension.choices else f"{dimension.label} is one of {_among(dimension)}."
    return None if isinstance(value, str) else f"{dimension.label} is a text."


def _fits_four_bytes(quantity: Quantity) -> bool:
    return abs(quantity.value) <= LARGEST and quantity.standard_uncertainty <= LARGEST


def _among(dimension: Dimension) -> str:
    return ", ".join(dimension.choices) or "words"


def _no_such(key: str, family: Family) -> str:
    return f"{family.label} has no dimension “{key}”; it has {', '.join(family.by_key)}."


def _empty_cells(dimension: Dimension) -> list[Any]:
    """Return the cells of a dimension that is not listed."""
    if dimension.kind.is_numeric:
        return [math.nan, 0.0]
    if dimension.kind in {Kind.CHOICE, Kind.FLAG}:
        return [MISSING_CODE]
    return [0] if is_mask(dimension) else [0, b""]


def _cells(dimension: Dimension, value: Value) -> list[Any]:
    """Return the cells of a listed value, sound for its dimension."""
    match value:
        case Quantity():
            return [value.value, value.standard_uncertainty]
        case bool():
            return [int(value)]
        case frozenset() if is_mask(dimension):
            return [mask_of(dimension, value)]
        case str() if dimension.kind is Kind.CHOICE:
            return [dimension.choices.index(value)]
        case _:
            text = as_text(value)
            return [text_hash(text), text.encode()[:TEXT_BYTES]]


def _read(row: np.void, dimension: Dimension) -> Value | None:
    stored = row[dimension.key].item()
    if dimension.kind.is_numeric:
        if math.isnan(stored):
            return None
        return shown_number(stored, row[f"{dimension.key}.u"].item(), dimension.unit)
    if dimension.kind is Kind.FLAG:
        return None if stored == MISSING_CODE else bool(stored)
    if dimension.kind is Kind.CHOICE:
        return None if stored == MISSING_CODE else dimension.choices[stored]
    if stored == 0:
        return None
    return (
        from_mask(dimension, stored)
        if is_mask(dimension)
        else from_text(dimension, row[f"{dimension.key}.text"])
    )
