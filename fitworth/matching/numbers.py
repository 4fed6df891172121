"""Part numbers that are worn, misread or mistyped: which stored number is most like what can be read.

A quick pass by plain edit distance on folded numbers (look-alike characters made one) finds the few that a
weighted edit distance then ranks: an unreadable character, a look-alike, two swapped characters and a dropped
one cost less than a plainly different one.
"""

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

from rapidfuzz import process
from rapidfuzz.distance import OSA

UNREADABLE = "?"
LOOKALIKES = ("0ODQ", "8B", "5S", "1IL", "2Z", "6G")


@dataclass(frozen=True, slots=True)
class NumberWeights:
    """What each kind of damage costs, in plainly different characters. Own choices.

    Attributes:
        unreadable: a "?" for any one character; it says nothing against the number.
        lookalike: one character for another of LOOKALIKES.
        swapped: two neighbours exchanged.
        dropped: a character of the stored number that is missing in what was read.
        added: a character read that the stored number has not.
        different: any other character.
        most_edits: the quick pass keeps numbers up to this many edits away, unreadable characters apart.
        most_ranked: how many it keeps for each one wanted.
    """

    unreadable: float = 0.15
    lookalike: float = 0.25
    swapped: float = 0.6
    dropped: float = 0.8
    added: float = 0.9
    different: float = 1.0
    most_edits: int = 3
    most_ranked: int = 5


WEIGHTS = NumberWeights()
_FOLD = {ord(other): group[0] for group in LOOKALIKES for other in group}
_GROUP = {character: group for group in LOOKALIKES for character in group}


@dataclass(frozen=True, slots=True)
class NumberMatch:
    """A stored number and how much it is like what was read: 1 the same, 0 where nothing agrees."""

    number: str
    similarity: float


def normalise(number: str) -> str:
    """Return a number as it is compared: letters and digits in upper case, and "?" for what cannot be read.

    Unicode forms are made one (NFKC); spaces, hyphens, points and slashes say nothing.

    Examples:
        >>> normalise("７08-21b")
        '70821B'
    """
    return "".join(
        character
        for character in unicodedata.normalize("NFKC", number).upper()
        if character.isalnum() or character == UNREADABLE
    )


class NumberIndex:
    """Stored numbers, ready to be asked often."""

    def __init__(self, numbers: Sequence[str], weights: NumberWeights = WEIGHTS) -> None:
        self._weights = weights
        self._shown = tuple(numbers)
        self._plain = [normalise(number) for number in self._shown]
        self._folded = [plain.translate(_FOLD) for plain in self._plain]

    def like(self, worn: str, limit: int) -> list[NumberMatch]:
        """Return the stored numbers most like what was read, best first; equal ones as they were stored.

        Args:
            worn: what can be read, "?" for each character that cannot.
            limit: how many at most.
        """
        read = normalise(worn)
        unreadable = read.count(UNREADABLE)
        if len(read) == unreadable:
            return []
        close = process.extract(
            read.translate(_FOLD),
            self._folded,
            scorer=OSA.distance,
            processor=None,
            score_cutoff=self._weights.most_edits + unreadable,
            limit=limit * self._weights.most_ranked,
        )
        matches = [
            (place, NumberMatch(self._shown[place], similarity(read, self._plain[place], self._weights)))
            for _, _, place in close
        ]
        matches.sort(key=lambda match: (-match[1].similarity, match[0]))
        return [match for _, match in matches[:limit]]


def like_numbers(worn: str, numbers: Sequence[str], limit: int) -> list[NumberMatch]:
    """Return the numbers most like what was read, best first; for many questions keep one NumberIndex."""
    return NumberIndex(numbers).like(worn, limit)


def similarity(read: str, stored: str, weights: NumberWeights = WEIGHTS) -> float:
    """Return how much a stored number is like what was read, 0 to 1; 1 only where they are the same.

    One less the weighted edit distance (optimal string alignment) by the longer number's length.

    Args:
        read: as normalise makes it.
        stored: the same.
        weights: what each damage costs.
    """
    longest = max(len(read), len(stored))
    if not longest:
        return 0.0
    return max(0.0, 1.0 - _distance(read, stored, weights) / longest)


def _distance(read: str, stored: str, weights: NumberWeights) -> float:
    before: list[float] = []
    row = [place * weights.dropped for place in range(len(stored) + 1)]
    for i, character in enumerate(read, start=1):
        before, above = row, before
        row = [i * weights.added]
        for j, kept in enumerate(stored, start=1):
            best = min(
                before[j] + weights.added,
                row[j - 1] + weights.dropped,
                before[j - 1] + _exchange(character, kept, weights),
            )
            if i > 1 and j > 1 and character == stored[j - 2] and read[i - 2] == kept and character != kept:
                best = min(best, above[j - 2] + weights.swapped)
            row.append(best)
    return row[-1]


def _exchange(read: str, stored: str, weights: NumberWeights) -> float:
    if read == stored and read != UNREADABLE:
        return 0.0
    if read == UNREADABLE:
        return weights.unreadable
    return weights.lookalike if stored in _GROUP.get(read, "") else weights.different
