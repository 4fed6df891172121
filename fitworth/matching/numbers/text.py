"""Numbers as they are compared: without separators, look-alike characters known, prefix and suffix parted."""

import re
import unicodedata

UNREADABLE = "?"
LOOKALIKES = ("0ODQ", "8B", "5S", "1IL", "2Z", "6G")
SHORTEST_STEM = 4  # characters; own choice: what is left of a shorter number could be any other's

_FOLD = {ord(other): group[0] for group in LOOKALIKES for other in group}
_SILENT = {code: None for code in range(128) if not (chr(code).isalnum() or chr(code) == UNREADABLE)}
# A few letters before the digits name a maker's range, one or two behind them a revision: common practice,
# no source.
MOST_PREFIX, MOST_SUFFIX = 3, 2
_PREFIX = re.compile(rf"[A-Z]{{1,{MOST_PREFIX}}}(?=[0-9])")
_SUFFIX = re.compile(rf"(?<=[0-9])[A-Z]{{1,{MOST_SUFFIX}}}\Z")


def normalise(number: str) -> str:
    """Return a number as it is compared: letters and digits in upper case, and "?" for what cannot be read.

    Unicode forms are made one (NFKC); spaces, hyphens, points and slashes say nothing.

    Examples:
        >>> normalise("７08-21b")
        '70821B'
    """
    if number.isascii():
        return number.upper().translate(_SILENT)
    return "".join(
        character
        for character in unicodedata.normalize("NFKC", number).upper()
        if character.isalnum() or character == UNREADABLE
    )


def fold(plain: str) -> str:
    """Return a normalised number with look-alike characters made one.

    Examples:
        >>> fold("7O8Z1B")
        '708218'
    """
    return plain.translate(_FOLD)


def prefix_length(plain: str) -> int:
    """Return how many letters stand before a normalised number's first digit, 0 where that is no prefix.

    Examples:
        >>> prefix_length("BK20814"), prefix_length("20814"), prefix_length("CARB20814")
        (2, 0, 0)
    """
    found = _PREFIX.match(plain)
    return found.end() if found else 0


def suffix_length(plain: str) -> int:
    """Return how many letters stand behind a normalised number's last digit, 0 where that is no suffix.

    Examples:
        >>> suffix_length("1942T"), suffix_length("1942")
        (1, 0)
    """
    found = _SUFFIX.search(plain)
    return len(plain) - found.start() if found else 0


def list_stems(plain: str) -> list[tuple[str, bool, bool]]:
    """Return what is left of a normalised number without prefix, without suffix and without both.

    Stems shorter than SHORTEST_STEM are left out.

    Returns:
        each stem, whether the prefix is gone, and whether the suffix is.

    Examples:
        >>> list_stems("Q1942T")
        [('1942T', True, False), ('Q1942', False, True), ('1942', True, True)]
    """
    if plain.isdigit():
        return []
    before, end = prefix_length(plain), len(plain) - suffix_length(plain)
    ways = [(before, len(plain)), (0, end), (before, end)]
    whole = len(plain)
    return [
        (plain[start:stop], start > 0, stop < whole)
        for place, (start, stop) in enumerate(ways)
        if (start or stop < whole) and stop - start >= SHORTEST_STEM and (start, stop) not in ways[:place]
    ]
