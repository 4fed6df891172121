"""Typed characters made plain before they are read: widths, spaces, dashes, ready-made fractions.

Unicode's own compatibility forms are no help: they turn 1⅝ into 15⁄8.
"""

import unicodedata
from collections.abc import Mapping
from types import MappingProxyType

from fitworth.errors import InvalidValueError

LONGEST_ENTRY = 100
"""Characters in an entry of a number; own choice, far above any real one."""

_UNPRINTABLE = frozenset({"Cc", "Cs", "Co", "Cn"})  # control, half of a surrogate pair, private, unassigned
_INVISIBLE = dict.fromkeys((0x200B, 0xFEFF), " ")  # zero-width spaces, which pasting brings along
_FULL_WIDTH = {code: code - 0xFEE0 for code in range(0xFF01, 0xFF5F)}
_DASHES = dict.fromkeys((0x2010, 0x2011, 0x2012, 0x2013, 0x2014, 0x2212, 0xFE63), "-")
_SLASHES = dict.fromkeys((0x2044, 0x2215), "/")
# Each with a space on both sides, so that 1⅝ is read as 1 5/8 and never as 15/8.
_FRACTIONS = str.maketrans(
    {
        "½": " 1/2 ",
        "¼": " 1/4 ",
        "¾": " 3/4 ",
        "⅛": " 1/8 ",
        "⅜": " 3/8 ",
        "⅝": " 5/8 ",
        "⅞": " 7/8 ",
    }
)
_PLAIN: Mapping[int, int | str] = MappingProxyType({**_FULL_WIDTH, **_DASHES, **_SLASHES, **_FRACTIONS})


def refuse_unprintable(text: str) -> None:
    """Refuse characters that no keyboard types: halves of surrogate pairs, NUL and other control characters.

    Raises:
        InvalidValueError: the text holds one.
    """
    if any(unicodedata.category(character) in _UNPRINTABLE for character in text):
        raise InvalidValueError("This holds characters that cannot be printed: type it again by hand.")


def tidy(text: str) -> str:
    """Return a text as it is echoed: white space of every kind as single spaces, none at the ends."""
    return " ".join(text.translate(_INVISIBLE).split())


def make_plain(text: str) -> str:
    """Return an entry of a number in ASCII digits, points, slashes and hyphens, single spaces.

    Args:
        text: what was typed.

    Raises:
        InvalidValueError: empty, too long, unprintable, or digits of a script that is not read here.

    Examples:
        >>> make_plain("１⅝″")
        '1 5/8 ″'
    """
    if len(text) > LONGEST_ENTRY:
        raise InvalidValueError(f"This is too long to be a measurement: at most {LONGEST_ENTRY} characters.")
    refuse_unprintable(tidy(text))
    plain = tidy(text.translate(_PLAIN))
    if not plain:
        raise InvalidValueError(
            "Nothing was entered: write a number, such as 39.7 mm, or leave the entry out."
        )
    if any(character.isnumeric() and not character.isascii() for character in plain):
        raise InvalidValueError("Write the number with the digits 0 to 9.")
    return plain
