"""How near a stored number can be at most, from what is quickly counted: few need a close look."""

from rapidfuzz.distance import OSA

from fitworth.matching.numbers.damage import Damage
from fitworth.matching.numbers.text import MOST_PREFIX, MOST_SUFFIX, UNREADABLE, fold


class LeastDistance:
    """Lower bounds of the distances from one reading.

    They start from the number of plain edits (optimal string alignment) between the folded numbers. A "?"
    costs at least itself; an excess of characters is dropped, or goes with prefix and suffix; each further
    edit is an exchange, a swap, or half of one dropped and one added.
    """

    def __init__(self, read: str, damage: Damage) -> None:
        """Prepare for a reading, normalised and not empty."""
        self._folded = fold(read)
        self._characters = sorted(self._folded)
        self._unreadable = read.count(UNREADABLE)
        self._damage = damage
        self._lost = self._unreadable * min(damage.unreadable, damage.added)
        self._pair = damage.added + damage.dropped
        # What is dropped beside an added one may go with a prefix or suffix.
        self._loose_pair = damage.added + min(damage.dropped, damage.prefix, damage.suffix)

    def of(self, stored: str) -> float:
        """Return what the distance of a stored number, normalised and not empty, is not below; [nat]."""
        damage, folded = self._damage, fold(stored)
        edits = OSA.distance(self._folded, folded)
        longer = len(folded) - len(self._folded)
        prefix, suffix = not stored[0].isdigit(), not stored[-1].isdigit()
        further = edits - self._unreadable - abs(longer)
        if further <= 0:
            return self._lost + self._of_length(longer, prefix=prefix, suffix=suffix)
        each = min(damage.swapped, damage.different, (damage.added if prefix or suffix else self._pair) / 2)
        if longer == self._unreadable == 0 and sorted(folded) != self._characters:
            # Swaps alone leave the characters the same.
            pair = self._loose_pair if prefix or suffix else self._pair
            return min(damage.different + (further - 1) * each, pair + max(0, further - 2) * each)
        return self._lost + further * each + self._of_length(longer, prefix=prefix, suffix=suffix)

    def _of_length(self, longer: int, *, prefix: bool, suffix: bool) -> float:
        """Return what it costs at least that the stored number has so many characters more."""
        damage = self._damage
        if longer <= 0:
            return -longer * max(0.0, damage.added - damage.unreadable)
        ways = [(0.0, 0)]
        if prefix:
            ways.append((damage.prefix, MOST_PREFIX))
        if suffix:
            ways += [(cost + damage.suffix, count + MOST_SUFFIX) for cost, count in ways]
        return min(cost + damage.dropped * max(0, longer - count) for cost, count in ways)
