"""The parts of one family on file, column by column, as the match reads them."""

import math
from collections.abc import Callable, Hashable, Iterable, Sequence
from typing import TypeVar, cast

import numpy as np
import numpy.typing as npt

from fitworth.families.model import Dimension, Family
from fitworth.matching.answer import Ints
from fitworth.matching.id_index import NOWHERE, IdIndex
from fitworth.matching.layout import (
    MISSING_CODE,
    RowLayout,
    Rows,
    as_text,
    from_mask,
    from_text,
    is_mask,
    mask_of,
    shown_number,
    text_hash,
)
from fitworth.quantities.quantity import Value
from fitworth.vocabulary import Kind

FIRST_CAPACITY = 64
UNKNOWN_CODE = -2  # a value that no part lists; equal to no other code

T = TypeVar("T")
Tie = tuple[int, int, float]  # two parts by their ids, and the probability that they are one design
Singles = npt.NDArray[np.float32]
Codes = npt.NDArray[np.int32]


class _Words:
    """Distinct things that many rows share, each stored once under a small number."""

    def __init__(self) -> None:
        self.known: dict[Hashable, int] = {}

    def code(self, word: Hashable) -> int:
        return self.known.setdefault(word, len(self.known))


class Catalogue:
    """All parts of one family, held in memory: about 8 bytes for each number and 4 for each other dimension.

    Attributes:
        family: the family.
        layout: how packed rows are read.
        revision: whatever the caller sets; it names the state of the store that the columns mirror.
    """

    def __init__(self, family: Family) -> None:
        self.family = family
        self.layout = RowLayout(family)
        self.revision = 0
        self._count = 0
        self._recalled: dict[Hashable, object] = {}
        self._renewed: dict[Hashable, tuple[int, object]] = {}
        self._edits = 0
        self._ties: tuple[Tie, ...] = ()
        self._apart: tuple[tuple[int, int], ...] = ()
        self._index = IdIndex()
        self._words: dict[str, _Words] = {"maker": _Words(), "stated": _Words()}
        self._shown: dict[str, list[Value]] = {}
        self._columns: dict[str, npt.NDArray[np.generic]] = {}
        self._columns["id"] = np.empty(0, np.int64)
        self._columns["maker"] = np.empty(0, np.int32)
        self._columns["stated"] = np.empty(0, np.int32)
        for dimension in family.dimensions:
            key = f".{dimension.key}"
            if dimension.kind.is_numeric:
                self._columns[key] = np.empty(0, np.float32)
                self._columns[f"{key}.u"] = np.empty(0, np.float32)
            else:
                self._columns[key] = np.empty(0, np.int32)
                self._words[key], self._shown[key] = _Words(), _fixed_words(dimension)

    def __len__(self) -> int:
        """Return how many parts are on file."""
        return self._count

    @property
    def ids(self) -> Ints:
        """The parts' ids, (n,), in the order of the columns."""
        return self._columns["id"][: self._count].astype(np.int64, copy=False)

    @property
    def makers(self) -> Codes:
        """The parts' makers as codes, (n,)."""
        return self._codes("maker")

    @property
    def stated(self) -> Codes:
        """The parts' lists of stated engines as codes, (n,): places in `stated_lists`."""
        return self._codes("stated")

    @property
    def stated_lists(self) -> tuple[tuple[str, ...], ...]:
        """The distinct lists of engines or machines that parts are stated for; the empty one among them."""
        return tuple(self._words["stated"].known)  # type: ignore[arg-type]  # only tuples of texts are put there

    def maker_code(self, maker: str | None) -> int:
        """Return the code of a maker, UNKNOWN_CODE where no part is of that maker."""
        return self._words["maker"].known.get(maker, UNKNOWN_CODE)

    def numbers(self, key: str) -> tuple[Singles, Singles]:
        """Return values, not-a-number where not listed, and uncertainties of a number; (n,) each."""
        value, u = self._columns[f".{key}"], self._columns[f".{key}.u"]
        return value[: self._count].astype(np.float32, copy=False), u[: self._count].astype(
            np.float32, copy=False
        )

    def codes(self, key: str) -> Codes:
        """Return the codes of a dimension that is no number, MISSING_CODE where not listed; (n,)."""
        return self._codes(f".{key}")

    def code_of(self, dimension: Dimension, value: Value) -> int:
        """Return the code under which a value of a choice, flag, set or text would be listed."""
        if dimension.kind is Kind.FLAG:
            return int(value is True)
        if dimension.kind is Kind.CHOICE:
            return dimension.choices.index(str(value))
        known = self._words[f".{dimension.key}"].known
        if isinstance(value, frozenset) and is_mask(dimension):
            return known.get(mask_of(dimension, value), UNKNOWN_CODE)
        text = value if isinstance(value, frozenset) else str(value)
        return known.get(text_hash(as_text(text)), UNKNOWN_CODE)

    def list_values(self, dimension: Dimension, rows: Ints) -> list[Value | None]:
        """Return what the parts in some rows list for a dimension. Of long texts it is the beginning."""
        if dimension.kind.is_numeric:
            values, u = (column[rows].tolist() for column in self.numbers(dimension.key))
            return [
                None if math.isnan(value) else shown_number(value, spread, dimension.unit)
                for value, spread in zip(values, u, strict=True)
            ]
        shown = self._shown[f".{dimension.key}"]
        codes = self.codes(dimension.key)[rows].tolist()
        return [None if code == MISSING_CODE else shown[code] for code in codes]

    def rows_of(self, ids: Iterable[int]) -> Ints:
        """Return the rows of parts, -1 for those that are not on file."""
        return self._index.find(np.fromiter(ids, np.int64))

    def upsert(
        self,
        ids: Sequence[int],
        packed: Sequence[bytes],
        makers: Sequence[str],
        stated_for: Sequence[Sequence[str]],
    ) -> None:
        """Add parts, or put new rows in place of those on file.

        Args:
            ids: the parts' numbers; where one comes twice the later row counts.
            packed: their packed rows.
            makers: who makes them.
            stated_for: the engines or machines that their listings name.

        Raises:
            OldLayoutError: some row was packed under another layout; nothing is changed.
        """
        rows = self.layout.rows(packed)
        self._changed()
        last = {part: place for place, part in enumerate(ids)}
        wanted = np.fromiter(last, np.int64, len(last))
        source = np.fromiter(last.values(), np.int64, len(last))
        places = self._index.find(wanted)
        new = places == NOWHERE
        places[new] = np.arange(self._count, self._count + int(new.sum()))
        self._grow(self._count + int(new.sum()))
        self._index.put(wanted[new], places[new])
        self._columns["id"][places] = wanted
        self._columns["maker"][places] = self._code_all(
            "maker", (makers[place] for place in source), len(source)
        )
        stated = (tuple(stated_for[place]) for place in source)
        self._columns["stated"][places] = self._code_all("stated", stated, len(source))
        self._fill(places, rows if len(source) == len(rows) else rows[source])

    def remove(self, ids: Iterable[int]) -> None:
        """Take parts out; those that are not on file are passed over. The last row moves into each gap."""
        self._changed()
        for part in ids:
            row = int(self.rows_of([part])[0])
            if row == NOWHERE:
                continue
            self._count -= 1
            for column in self._columns.values():
                column[row] = column[self._count]
            moved = self._columns["id"][row : row + 1].astype(np.int64)
            self._index.put(moved, np.array([row]))
            self._index.put(np.array([part]), np.array([NOWHERE]))

    def tie(self, pairs: Sequence[Tie], apart: Sequence[tuple[int, int]] = ()) -> None:
        """Say which parts are stated to be one design, in place of all that was said before.

        Args:
            pairs: two part ids and the probability that they are one design, before their dimensions are
                looked at; parts that are not on file are passed over.
            apart: pairs of part ids that somebody compared and found to be two designs.
        """
        said = tuple(pairs), tuple(apart)
        if said != (self._ties, self._apart):
            self._changed()
            self._ties, self._apart = said

    @property
    def ties(self) -> tuple[Tie, ...]:
        """The pairs that are stated to be one design."""
        return self._ties

    @property
    def apart(self) -> tuple[tuple[int, int], ...]:
        """The pairs that were found to be two designs."""
        return self._apart

    def _changed(self) -> None:
        self._recalled = {}
        self._edits += 1

    def listed_keys(self) -> frozenset[str]:
        """Return the keys of the dimensions that at least one part lists."""
        return self.recall(Catalogue.listed_keys, lambda: frozenset(filter(self._lists, self.family.by_key)))

    def _lists(self, key: str) -> bool:
        if self.family.by_key[key].kind.is_numeric:
            return not bool(np.isnan(self.numbers(key)[0]).all())
        return bool((self.codes(key) != MISSING_CODE).any())

    def renew(self, what: Hashable, compute: Callable[[T | None], T]) -> T:
        """Return what `compute` makes of the parts; once they have changed, of what it made before."""
        kept = self._renewed.get(what)
        if kept is None or kept[0] != self._edits:
            before = None if kept is None else cast("T", kept[1])
            kept = self._renewed[what] = (self._edits, compute(before))
        return cast("T", kept[1])

    def recall(self, what: Hashable, compute: Callable[[], T]) -> T:
        """Return what `compute` says of the parts; it is asked again only once they have changed."""
        kept = self._recalled
        if what not in kept:
            kept[what] = compute()
        return cast("T", kept[what])

    def _codes(self, name: str) -> Codes:
        return self._columns[name][: self._count].astype(np.int32, copy=False)

    def _code_all(self, name: str, words: Iterable[Hashable], count: int) -> Codes:
        code = self._words[name].code
        return np.fromiter((code(word) for word in words), np.int32, count)

    def _grow(self, wanted: int) -> None:
        """Make room; doubling keeps the work of adding one part constant on the whole."""
        self._count, before = wanted, self._count
        if wanted <= len(self._columns["id"]):
            return
        capacity = max(wanted, 2 * len(self._columns["id"]), FIRST_CAPACITY)
        for name, column in self._columns.items():
            larger = np.empty(capacity, column.dtype)
            larger[:before] = column[:before]
            self._columns[name] = larger

    def _fill(self, places: Ints, rows: Rows) -> None:
        for dimension in self.family.dimensions:
            key = f".{dimension.key}"
            if dimension.kind.is_numeric:
                self._columns[key][places] = rows[dimension.key]
                self._columns[f"{key}.u"][places] = rows[f"{dimension.key}.u"]
            elif dimension.kind in {Kind.CHOICE, Kind.FLAG}:
                self._columns[key][places] = rows[dimension.key]
            else:
                self._columns[key][places] = self._intern(dimension, rows)

    def _intern(self, dimension: Dimension, rows: Rows) -> Codes:
        """Return sets and texts as codes; each distinct one is kept once, to be shown."""
        distinct, first, places = np.unique(rows[dimension.key], return_index=True, return_inverse=True)
        words, shown = self._words[f".{dimension.key}"], self._shown[f".{dimension.key}"]
        codes = []
        for stored, place in zip(distinct.tolist(), first.tolist(), strict=True):
            code = words.code(stored) if stored else MISSING_CODE
            if code == len(shown):
                kept = rows[place]
                text = None if is_mask(dimension) else kept[f"{dimension.key}.text"]
                shown.append(from_mask(dimension, stored) if text is None else from_text(dimension, text))
            codes.append(code)
        return np.array(codes, np.int32)[places]


def _fixed_words(dimension: Dimension) -> list[Value]:
    if dimension.kind is Kind.FLAG:
        return [False, True]
    return list(dimension.choices) if dimension.kind is Kind.CHOICE else []
