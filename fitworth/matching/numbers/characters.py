"""What a number on no file looks like: as long as those on file, of the characters that those have.

So a marking that reads like a number says more for a stored number the rarer its characters are, and the
longer it is.
"""

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from fitworth.matching.numbers.text import UNREADABLE

LONGEST = 200  # characters; a longer number counts as one of this length
USUAL_LENGTH = 7  # characters of a number where none is on file; own choice
LENGTH_FALLS = 0.7  # a length one further off is that much rarer; own choice
WEIGHT = 10.0  # numbers on file that weigh as much as what is usual; own choice
DIGITS, LETTERS = 0.75, 0.24  # shares of a usual number's characters, the rest any other script; own choice

_OTHER = 36
_FIRST, _INSIDE, _LAST = range(3)
_CLASS = np.full(256, _OTHER, np.int64)
_CLASS[[*b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"]] = np.arange(36)
_USUAL = np.array([DIGITS / 10] * 10 + [LETTERS / 26] * 26 + [1.0 - DIGITS - LETTERS])
_FALLING = LENGTH_FALLS ** np.abs(np.arange(1, LONGEST + 1) - USUAL_LENGTH)
_LENGTHS = _FALLING / _FALLING.sum()

Counts = npt.NDArray[np.int64]


class Characters:
    """How long the numbers on file are, and which characters they have first, inside and last."""

    def __init__(self) -> None:
        self._lengths: Counts = np.zeros(LONGEST, np.int64)
        self._places: Counts = np.zeros((3, _OTHER + 1), np.int64)

    def count(self, plains: Sequence[str], times: int = 1) -> None:
        """Count numbers in, or with `times` -1 out again.

        Args:
            plains: normalised, none of them empty.
            times: how often.
        """
        if not plains:
            return
        lengths = np.fromiter(map(len, plains), np.int64, len(plains))
        codes = _classes("".join(plains))
        ends = np.cumsum(lengths)
        places = np.full(len(codes), _INSIDE)
        places[ends - 1] = _LAST
        places[ends - lengths] = _FIRST
        self._lengths += times * np.bincount(np.minimum(lengths, LONGEST) - 1, minlength=LONGEST)
        seen = np.bincount(places * (_OTHER + 1) + codes, minlength=self._places.size)
        self._places += times * seen.reshape(self._places.shape)

    def log_probability(self, read: str, unreadable: float) -> float:
        """Return log P(read | the part bears a number that is on no file); natural logarithm.

        Damage hardly changes how long numbers are and which characters they have, so that only the unreadable
        ones are counted. Over all readings of one length it adds up to the share of that length.

        Args:
            read: normalised, not empty.
            unreadable: unreadable characters for each that is read.
        """
        length = min(len(read), LONGEST) - 1
        count = int(self._lengths.sum())
        found = math.log((self._lengths[length] + WEIGHT * _LENGTHS[length]) / (count + WEIGHT))
        shares = self._places + WEIGHT * _USUAL
        logs = np.log(shares / shares.sum(axis=1, keepdims=True))
        codes = _classes(read)
        places = np.full(len(codes), _INSIDE)
        places[-1] = _LAST
        places[0] = _FIRST
        legible = np.array([character != UNREADABLE for character in read])
        found += float(logs[places, codes][legible].sum()) - len(read) * math.log1p(unreadable)
        return found + (len(read) - int(legible.sum())) * math.log(unreadable)


def _classes(text: str) -> Counts:
    return _CLASS[np.frombuffer(text.encode("ascii", "replace"), np.uint8)]
