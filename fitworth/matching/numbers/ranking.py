"""The stored numbers nearest to one reading, found by looking closely at as few as can be."""

from bisect import insort
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Protocol

from fitworth.matching.numbers.bounds import LeastDistance
from fitworth.matching.numbers.damage import Damage

SAME = 1e-9  # [nat] distances that differ by less are equal


@dataclass(frozen=True, slots=True)
class NumberMatch:
    """A stored number and how much it is like what was read.

    Attributes:
        number: as written.
        similarity: 1 the same, 0 where nothing agrees; or the strength of a statement that ties the part to
            the removed part's number.
        log_ratio: log P(read | this number) less log P(read | a number on no file); natural logarithm; None
            where nothing was compared and `similarity` is the strength of a statement.
        bearers: who bears the number, in rising order.
    """

    number: str
    similarity: float
    log_ratio: float | None = None
    bearers: tuple[int, ...] = ()


class Filed(Protocol):
    """Where numbers lie, by row."""

    def bearer(self, row: int) -> int:
        """Return whose number it is."""

    def number(self, row: int) -> str:
        """Return the number as written."""

    def plain(self, row: int) -> str:
        """Return the number as it is compared."""


class Ranking:
    """The numbers that were looked at closely, by what is compared of them, each with its distance."""

    def __init__(self, read: str, damage: Damage, limit: int) -> None:
        """Begin with none.

        Args:
            read: normalised, not empty.
            damage: what each damage costs.
            limit: how many numbers are wanted, at least 1.
        """
        self._read = read
        self._bounds = LeastDistance(read, damage)
        self._damage = damage
        self._limit = limit
        self._sorted: list[float] = []
        self._distances: dict[str, float] = {}
        self._rows: dict[str, set[tuple[Filed, int]]] = {}

    def see(self, filed: Filed, rows: Iterable[int], least: float = 0.0) -> None:
        """Take in those numbers that may be among the nearest, until as many as are wanted cannot be beaten.

        Args:
            filed: where they lie.
            rows: which.
            least: the least distance that any of them can have [nat].
        """
        for lower, _, row, plain in sorted(self._judge(filed, rows, least)):
            if self.has_all_within(lower):
                return
            if plain not in self._distances:
                self._distances[plain] = self._damage.distance(self._read, plain)
                insort(self._sorted, self._distances[plain])
            self._rows.setdefault(plain, set()).add((filed, row))

    def has_all_within(self, distance: float) -> bool:
        """Return whether as many numbers as are wanted are so near [nat]."""
        return len(self._sorted) >= self._limit and self._sorted[self._limit - 1] <= distance + SAME

    def has_any_within(self, distance: float) -> bool:
        """Return whether any number is so near [nat]."""
        return bool(self._sorted) and self._sorted[0] <= distance + SAME

    def list_nearest(self) -> list[NumberMatch]:
        """Return the numbers nearest to the reading; equally near ones by their first bearer."""
        whole = self._damage.different * len(self._read)
        order = sorted(
            (round(self._distances[plain] / SAME), min(filed.bearer(row) for filed, row in rows), plain)
            for plain, rows in self._rows.items()
            if self._distances[plain] < whole
        )
        found: list[NumberMatch] = []
        for _, _, plain in order[: self._limit]:
            written: dict[str, set[int]] = {}
            for filed, row in self._rows[plain]:
                written.setdefault(filed.number(row), set()).add(filed.bearer(row))
            similarity = 1.0 - self._distances[plain] / whole
            same = [
                NumberMatch(number, similarity, None, tuple(sorted(who))) for number, who in written.items()
            ]
            found += sorted(same, key=lambda match: (match.bearers[0], match.number))
        return found[: self._limit]

    def _judge(
        self, filed: Filed, rows: Iterable[int], least: float
    ) -> Iterator[tuple[float, int, int, str]]:
        """Yield how far away each number is at least, its bearer, its row, and what is compared of it."""
        for row in rows:
            plain = filed.plain(row)
            yield max(least, self._bounds.of(plain)), filed.bearer(row), row, plain
