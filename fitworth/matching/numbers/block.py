"""Many numbers filed once under their keys, in one sorted array; what goes later is only marked as gone."""

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
import numpy.typing as npt

from fitworth.matching.answer import Ints
from fitworth.matching.numbers.keys import Hashes, deletion_keys, values_of, whole_keys
from fitworth.matching.numbers.text import list_stems, normalise

KEYS_IN_BUCKET = 8  # keys that are looked through at once: as many as lie in one line of the cache
MOST_SCANNED = 64  # keys; where a bucket has more, since many bear one number, it is searched in halves
CHUNK = 1 << 16  # numbers hashed at once, so that they stay near the processor

_NO_KEYS: Hashes = np.empty(0, np.uint64)
Places = npt.NDArray[np.uint32]
Flags = npt.NDArray[np.bool_]


class Block:
    """Numbers with their bearers; about 95 bytes for a number of seven characters.

    The low bits of each key are the number's row, so that one array of 8 bytes a key holds all; the high bits
    say in which bucket it lies, since hashes are evenly spread.

    Attributes:
        alive_count: how many numbers are still borne.
    """

    def __init__(self, entries: Sequence[tuple[int, str]]) -> None:
        """File numbers.

        Args:
            entries: bearer and number as written, at least one, in rising order of the bearers.
        """
        bearers = np.fromiter((bearer for bearer, _ in entries), np.int64, len(entries))
        self._bearers = bearers.astype(np.min_scalar_type(int(bearers[-1])))
        shown = [number.encode() for _, number in entries]
        plains = [normalise(number) for _, number in entries]
        self._shown, self._shown_at = b"".join(shown), _starts(shown)
        self._plains = "\n".join(plains).encode()
        self._plains_at = _starts([plain.encode() + b"\n" for plain in plains])
        self._alive: Flags = np.ones(len(entries), np.bool_)
        self.alive_count = len(entries)
        self._row_bits = np.uint64((1 << (len(entries) - 1).bit_length()) - 1)
        self._keys = _filed(plains, self._row_bits)
        bits = max(1, (len(self._keys) // KEYS_IN_BUCKET).bit_length())
        self._shift = np.uint64(64 - bits)
        starts = np.arange(1 << bits, dtype=np.uint64) << self._shift
        self._buckets = np.append(np.searchsorted(self._keys, starts), len(self._keys)).astype(np.uint32)

    def __len__(self) -> int:
        """Return how many numbers are filed, those that are gone among them."""
        return len(self._alive)

    @property
    def size_bytes(self) -> int:
        """How much memory the block takes."""
        arrays = (self._bearers, self._shown_at, self._plains_at, self._alive, self._keys, self._buckets)
        return len(self._shown) + len(self._plains) + sum(array.nbytes for array in arrays)

    def find(self, keys: Hashes) -> list[int]:
        """Return the rows of the numbers filed under any of these keys, each once, in rising order."""
        wanted = keys & ~self._row_bits
        bucket = (wanted >> self._shift).astype(np.int64)
        begin, end = (self._buckets[bucket + step].astype(np.int64) for step in (0, 1))
        if int((end - begin).max(initial=0)) > MOST_SCANNED:
            begin = np.searchsorted(self._keys, wanted)
            end = np.searchsorted(self._keys, wanted | self._row_bits, side="right")
        some = end > begin
        places = begin[some, None] + np.arange((end - begin).max(initial=0))
        found = self._keys[np.minimum(places, len(self._keys) - 1)]
        hit = (places < end[some, None]) & ((found & ~self._row_bits) == wanted[some, None])
        rows = np.unique(found[hit] & self._row_bits).astype(np.int64)
        alive: list[int] = rows[self._alive[rows]].tolist()
        return alive

    def bearer(self, row: int) -> int:
        """Return whose number it is."""
        return int(self._bearers[row])

    def number(self, row: int) -> str:
        """Return a number as written."""
        return self._shown[self._shown_at[row] : self._shown_at[row + 1]].decode()

    def plain(self, row: int) -> str:
        """Return a number as it is compared."""
        return self._plains[self._plains_at[row] : self._plains_at[row + 1] - 1].decode()

    def list_plains(self) -> list[str]:
        """Return all numbers as they are compared, those that are gone among them."""
        return self._plains.decode().split("\n")

    def expand(self, rows: Iterable[int]) -> list[int]:
        """Return the rows of the numbers that are compared like some, gone ones left out."""
        plains = {self.plain(row) for row in rows}
        keys = np.concatenate(
            [whole_keys(values_of(plain)[None, :]) for plain in sorted(plains)] or [_NO_KEYS]
        )
        return [row for row in self.find(keys) if self.plain(row) in plains]

    def drop(self, bearers: Ints) -> list[str]:
        """Mark the numbers of some bearers as gone, and return them as they are compared."""
        here = (bearers >= self._bearers[0]) & (bearers <= self._bearers[-1])
        wanted = bearers[here].astype(self._bearers.dtype)  # of another type, all of them would be converted
        begin = np.searchsorted(self._bearers, wanted)
        end = np.searchsorted(self._bearers, wanted, side="right")
        spans = zip(begin.tolist(), end.tolist(), strict=True)
        rows = [row for i, j in spans for row in range(i, j) if self._alive[row]]
        self._alive[rows] = False
        self.alive_count -= len(rows)
        return [self.plain(row) for row in rows]

    def list_alive(self) -> Iterator[tuple[int, str]]:
        """Yield bearers and numbers as written that are still borne."""
        for row in np.flatnonzero(self._alive).tolist():
            yield self.bearer(row), self.number(row)


def _starts(texts: Sequence[bytes]) -> Places:
    """Return where each text begins among all of them, and where the last ends; (n + 1,)."""
    lengths = np.fromiter(map(len, texts), np.int64, len(texts))
    return np.concatenate((np.zeros(1, np.uint32), np.cumsum(lengths).astype(np.uint32)))


def _filed(plains: Sequence[str], row_bits: np.uint64) -> Hashes:
    """Return the sorted keys of numbers, each with its row in the low bits."""
    parts = []
    for start in range(0, len(plains), CHUNK):
        rows = range(start, min(start + CHUNK, len(plains)))
        texts = [plains[row] for row in rows]
        parts += _keys_by_length(texts, rows, row_bits, deletions=True)
        stems = [(stem, row) for row, text in zip(rows, texts, strict=True) for stem, *_ in list_stems(text)]
        parts += _keys_by_length(
            [stem for stem, _ in stems], [row for _, row in stems], row_bits, deletions=False
        )
    keys = np.concatenate(parts)
    parts.clear()
    keys.sort()
    repeated = keys[1:] == keys[:-1]  # of doubled characters it is one whichever is left out
    different: Hashes = np.delete(keys, np.flatnonzero(repeated))
    return different


def _keys_by_length(
    texts: Sequence[str], rows: Sequence[int], row_bits: np.uint64, *, deletions: bool
) -> list[Hashes]:
    lengths = np.fromiter(map(len, texts), np.int64, len(texts))
    starts, places = np.cumsum(lengths) - lengths, np.array(rows, np.uint64)
    values = values_of("".join(texts))
    found = []
    for length in np.unique(lengths).tolist():
        these = np.flatnonzero(lengths == length)
        characters = values[starts[these][:, None] + np.arange(length)]
        keys = whole_keys(characters)[:, None]
        if deletions:
            keys = np.concatenate((keys, deletion_keys(characters).reshape(-1, length)), axis=1)
        found.append(((keys & ~row_bits) | places[these][:, None]).reshape(-1))
    return found
