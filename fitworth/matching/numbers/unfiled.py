"""The latest numbers, searched one by one; and the scan by plain edit distance that does it."""

from collections.abc import Iterable, Iterator, Sequence

from rapidfuzz import process
from rapidfuzz.distance import OSA

from fitworth.matching.numbers.text import UNREADABLE, fold, list_stems

MOST_EDITS = 3  # the scan keeps numbers up to so many edits away, unreadable characters apart; own choice
MOST_RANKED = 10  # how many it keeps for each one wanted, at least LEAST_RANKED: many are equally near
LEAST_RANKED = 100


class Unfiled:
    """Numbers in the order in which they came; each different one is searched once, and so is each stem.

    A stem that lacks one character only is as near by plain edits as its number, and is left out.
    """

    def __init__(self) -> None:
        self._entries: list[tuple[int, str, str]] = []
        self._of: dict[int, list[int]] = {}  # rows by bearer
        self._slots: dict[str, int] = {}  # places in the two lists below, by number or stem
        self._folded: list[str | None] = []
        self._rows: list[list[int]] = []

    def __len__(self) -> int:
        """Return how many numbers came, those that are gone among them."""
        return len(self._entries)

    def bearer(self, row: int) -> int:
        """Return whose number it is."""
        return self._entries[row][0]

    def number(self, row: int) -> str:
        """Return the number as written."""
        return self._entries[row][1]

    def plain(self, row: int) -> str:
        """Return the number as it is compared."""
        return self._entries[row][2]

    def add(self, entries: Iterable[tuple[int, str, str]]) -> None:
        """Add numbers: bearer, as written, as compared."""
        for entry in entries:
            row = len(self._entries)
            self._entries.append(entry)
            self._of.setdefault(entry[0], []).append(row)
            for text in _searched(entry[2]):
                slot = self._slots.setdefault(text, len(self._folded))
                if slot == len(self._folded):
                    self._folded.append(fold(text))
                    self._rows.append([])
                self._rows[slot].append(row)

    def drop(self, bearers: Iterable[int]) -> list[str]:
        """Take the numbers of some bearers out, and return them as they are compared."""
        gone = [row for bearer in bearers for row in self._of.pop(bearer, ())]
        for row in gone:
            for text in _searched(self.plain(row)):
                slot = self._slots[text]
                self._rows[slot].remove(row)
                if not self._rows[slot]:
                    del self._slots[text]
                    self._folded[slot] = None
        return [self.plain(row) for row in gone]

    def list_alive(self) -> Iterator[tuple[int, str]]:
        """Yield bearers and numbers as written that are still borne."""
        for rows in self._of.values():
            for row in rows:
                yield self.bearer(row), self.number(row)

    def near(self, read: str, limit: int) -> list[int]:
        """Return the rows of the numbers that a scan keeps."""
        rows = (row for slot in scan(read, self._folded, limit) for row in self._rows[slot])
        return list(dict.fromkeys(rows))


def _searched(plain: str) -> list[str]:
    return [plain, *(stem for stem, *_ in list_stems(plain) if len(plain) - len(stem) > 1)]


def scan(read: str, folded: Sequence[str | None], limit: int) -> list[int]:
    """Return the places of the numbers nearest by plain edit distance (optimal string alignment).

    Args:
        read: normalised.
        folded: what is searched; None is passed over.
        limit: how many numbers are wanted in the end.
    """
    close = process.extract(
        fold(read),
        folded,
        scorer=OSA.distance,
        processor=None,
        score_cutoff=MOST_EDITS + read.count(UNREADABLE),
        limit=max(LEAST_RANKED, MOST_RANKED * limit),
    )
    return [place for _, _, place in close]
