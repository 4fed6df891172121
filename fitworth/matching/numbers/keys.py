"""Keys by which a damaged number finds the stored one: hashes of numbers and of their single deletions.

Look-alike characters hash alike. A number is filed under itself, under itself less any one character, and
under its stems. A reading is looked up as it stands, and changed in the ways that undo one more damage, so
that any two of unreadable, confused, dropped and swapped lead to a key in common:

| damage | reading changed so | is the stored number |
| --- | --- | --- |
| dropped | not at all | less one |
| swapped | swapped back | itself |
| swapped and dropped | swapped back | less one |
| dropped twice | any one character put in | less one |
| swapped twice | swapped back, less one | less one |
| unreadable | any one character in its place | itself |
| unreadable and dropped | the same | less one |
| unreadable and swapped | the same, less one | less one |
| unreadable twice | the same for one, less the other | less one |

A missing prefix or suffix counts as one damage; a stem then stands where the number itself does. The hash is
a polynomial over 64 bits with odd base, whose value for a changed text follows from sums over the original's.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fitworth.matching.numbers.damage import Damage
from fitworth.matching.numbers.text import LOOKALIKES, UNREADABLE

MOST_UNREADABLE = 2  # with more, too many characters could be put in
MOST_TURNED = 40  # characters; longer readings are not changed twice, so that none costs too much to look up

Hashes = npt.NDArray[np.uint64]

_WHOLE = 2**64
_BASE = 0x9E3779B97F4A7C15  # odd, so that it has an inverse; its bits are those of the golden ratio
_MIX = np.uint64(0xD1342543DE82EF95)  # odd; spreads the sum's low bits over the high ones
_INVERSE = np.uint64(pow(_BASE, -1, _WHOLE))
_FOREIGN = ord(UNREADABLE)  # what encoding puts for a character of another script, so that they look alike


def _spread(number: int) -> int:
    """Return the number's place in a fixed sequence that looks random (splitmix64 by S. Vigna)."""
    mixed = (number * _BASE) % _WHOLE
    mixed = ((mixed ^ (mixed >> 30)) * 0xBF58476D1CE4E5B9) % _WHOLE
    mixed = ((mixed ^ (mixed >> 27)) * 0x94D049BB133111EB) % _WHOLE
    return mixed ^ (mixed >> 31)


_FOLDED = {other: group[0] for group in LOOKALIKES for other in group}
_VALUE: Hashes = np.array(
    [_spread(ord(_FOLDED.get(chr(code), chr(code))) + 1) for code in range(256)], np.uint64
)
_LETTERS = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ" + bytes([_FOREIGN])
_ANY: Hashes = np.unique(_VALUE[[*_LETTERS]])


def values_of(texts: str) -> Hashes:
    """Return the hash value of each character of a text; look-alikes have the same."""
    return _VALUE[np.frombuffer(texts.encode("ascii", "replace"), np.uint8)]


def whole_keys(values: Hashes) -> Hashes:
    """Return the keys of texts of one length.

    Args:
        values: (n, length) hash values of their characters.

    Returns:
        (n,)
    """
    sums: Hashes = (values * _powers(values.shape[1])).sum(axis=1, dtype=np.uint64)
    return sums * _MIX


def deletion_keys(values: Hashes) -> Hashes:
    """Return the keys of texts of one length, each less any one of its characters.

    Args:
        values: (n, length) hash values of their characters.

    Returns:
        all of them, flat.
    """
    terms = values * _powers(values.shape[1])
    until = np.cumsum(terms, axis=1, dtype=np.uint64)
    after = (until[:, -1:] - until) * _INVERSE  # what follows moves one place forward
    shorter: Hashes = (until - terms + after).reshape(-1)
    return shorter * _MIX


def insertion_keys(values: Hashes) -> Hashes:
    """Return the keys of a text with any one character put in anywhere.

    Args:
        values: (length,) hash values of its characters.

    Returns:
        all of them, flat.
    """
    powers = _powers(len(values) + 1)
    until = np.concatenate((np.zeros(1, np.uint64), np.cumsum(values * powers[:-1], dtype=np.uint64)))
    after = (until[-1:] - until) * np.uint64(_BASE)
    longer: Hashes = ((until + after)[:, None] + powers[:, None] * _ANY).reshape(-1)
    return longer * _MIX


@dataclass(frozen=True, slots=True)
class Wave:
    """What to look up at once.

    Attributes:
        least: [nat] the least distance of a number within two damages that no earlier wave finds.
        make_keys: makes the keys.
        is_wide: whether they are as many as the square of the reading's length.
        is_last_resort: whether they look for more than two damages, which is worth while only where no number
            is as near as that.
    """

    least: float
    make_keys: Callable[[], Hashes]
    is_wide: bool = False
    is_last_resort: bool = False


def list_waves(read: str, damage: Damage) -> list[Wave]:
    """Return what to look up for a reading, the nearest numbers first.

    Args:
        read: normalised, with at most MOST_UNREADABLE unreadable characters and at least one other.
        damage: what each damage costs.
    """
    lost = [place for place, character in enumerate(read) if character == UNREADABLE]
    waves = _WAVES[len(lost)](values_of(read), lost, damage)
    return [wave for wave in waves if len(read) <= MOST_TURNED or not wave.is_wide]


def _legible(values: Hashes, _: list[int], damage: Damage) -> list[Wave]:
    one = values[None, :]
    turned = _turned(one)
    other = min(damage.different, damage.added)
    twice = damage.dropped + min(damage.dropped, damage.prefix, damage.suffix)
    return [
        Wave(0.0, lambda: whole_keys(np.concatenate((one, turned)))),
        Wave(twice, lambda: insertion_keys(values)),
        Wave(other, lambda: deletion_keys(one)),
        Wave(2 * damage.swapped, lambda: whole_keys(_turned(turned)), is_wide=True),
        Wave(damage.swapped + other, lambda: deletion_keys(turned), is_wide=True, is_last_resort=True),
    ]


def _one_lost(values: Hashes, lost: list[int], damage: Damage) -> list[Wave]:
    filled, short = _filled(values[None, :], lost[0]), np.delete(values, lost[0])[None, :]
    least = damage.unreadable + min(damage.different, damage.added)
    return [
        Wave(damage.unreadable, lambda: whole_keys(filled)),
        Wave(
            min(damage.unreadable + damage.swapped, damage.added),
            lambda: whole_keys(np.concatenate((short, _turned(short)))),
        ),
        Wave(least, lambda: deletion_keys(filled), is_last_resort=True),
    ]


def _two_lost(values: Hashes, lost: list[int], damage: Damage) -> list[Wave]:
    filled = _filled(values[None, :], lost[0])
    both = 2 * damage.unreadable
    return [
        Wave(both, lambda: whole_keys(np.delete(filled, lost[1], axis=1))),
        Wave(both + damage.dropped, lambda: whole_keys(_filled(filled, lost[1])), is_last_resort=True),
    ]


_WAVES = (_legible, _one_lost, _two_lost)


def _filled(values: Hashes, place: int) -> Hashes:
    """Return texts with any character in one place, (n * characters, length)."""
    filled = np.repeat(values, len(_ANY), axis=0)
    filled[:, place] = np.tile(_ANY, len(values))
    return filled


def _turned(values: Hashes) -> Hashes:
    """Return texts with each two neighbours exchanged in turn, (n * (length - 1), length)."""
    places = np.arange(values.shape[1] - 1)
    turned = np.repeat(values[:, None, :], len(places), axis=1)
    turned[:, places, places], turned[:, places, places + 1] = values[:, 1:], values[:, :-1]
    return turned.reshape(-1, values.shape[1])


def _powers(count: int) -> Hashes:
    return _POWERS[:count] if count <= len(_POWERS) else np.array(_list_powers(count), np.uint64)


def _list_powers(count: int) -> list[int]:
    found = [1]
    while len(found) < count:
        found.append(found[-1] * _BASE % _WHOLE)
    return found


_POWERS: Hashes = np.array(_list_powers(256), np.uint64)
