"""Values that are named rather than measured: choices, flags, sets and texts."""

from collections.abc import Iterable

from rapidfuzz import process

from fitworth.errors import Fault, InvalidValueError, raise_faults
from fitworth.families.model import Dimension
from fitworth.quantities.characters import refuse_unprintable, tidy
from fitworth.vocabulary import Kind

LONGEST_TEXT = 200
"""Characters in a named value; own choice."""
MOST_ITEMS = 100
"""Items in a set; own choice."""
NEAR_SCORE = 70.0
"""Likeness, 0 to 100, from which a name is offered instead of a mistyped one; own choice."""
_YES = frozenset({"yes", "y", "true"})
_NO = frozenset({"no", "n", "false"})


def read_named(dimension: Dimension, raw: object) -> str | bool | frozenset[str]:
    """Return a choice, flag, set or text as the dimension knows it.

    Args:
        dimension: one whose kind is not numeric.
        raw: what JSON or a form brought.

    Raises:
        InvalidValueError: it is none of what the dimension takes; the faults say what would be.
    """
    if dimension.kind is Kind.CHOICE:
        return _read_choice(dimension, raw)
    if dimension.kind is Kind.FLAG:
        return _read_flag(raw)
    if dimension.kind is Kind.SET:
        return _read_set(dimension, raw)
    return _read_text(raw)


def list_nearest(name: str, known: Iterable[str]) -> list[str]:
    """Return up to three known names that a mistyped one may have meant, nearest first."""
    found = process.extract(name, sorted(known), limit=3, score_cutoff=NEAR_SCORE)
    return [candidate for candidate, _, _ in found]


def _read_text(raw: object) -> str:
    if isinstance(raw, int) and not isinstance(raw, bool) and abs(raw) < 10**15:
        return str(raw)
    if not isinstance(raw, str):
        raise InvalidValueError("A text is wanted here, in quotes.")
    text = tidy(raw)
    refuse_unprintable(text)
    if not text:
        raise InvalidValueError("Nothing was entered: write it, or leave the entry out.")
    if len(text) > LONGEST_TEXT:
        raise InvalidValueError(f"This is too long: at most {LONGEST_TEXT} characters.")
    return text


def _read_flag(raw: object) -> bool:
    if isinstance(raw, bool):
        return raw
    word = raw.strip().casefold() if isinstance(raw, str) else ""
    if word in _YES | _NO:
        return word in _YES
    raise InvalidValueError("Yes or no is wanted here.")


def _read_choice(dimension: Dimension, raw: object) -> str:
    if isinstance(raw, bool) and {"yes", "no"} <= set(dimension.choices):
        return "yes" if raw else "no"
    return _match_choice(dimension, _read_text(raw))


def _match_choice(dimension: Dimension, text: str) -> str:
    for choice in dimension.choices:
        if _bare(choice) == _bare(text):
            return choice
    near = list_nearest(text, dimension.choices)
    hint = f" Was {near[0]} meant?" if near else ""
    raise InvalidValueError(f"{dimension.label} is one of {', '.join(dimension.choices)}.{hint}")


def _bare(text: str) -> str:
    """Return the letters and digits of a name, so that "Manual Lever" and "manual-lever" are one."""
    folded = text.casefold().replace("×", "x")
    return "".join(character for character in folded if character.isalnum())


def _read_set(dimension: Dimension, raw: object) -> frozenset[str]:
    if isinstance(raw, str):
        items: list[object] = list(raw.split(","))
    elif isinstance(raw, list | tuple | set | frozenset):
        items = list(raw)
    else:
        raise InvalidValueError("A list is wanted here, or names with commas between.")
    if len(items) > MOST_ITEMS:
        raise InvalidValueError(f"This list is too long: at most {MOST_ITEMS} items.")
    faults: list[Fault] = []
    found: set[str] = set()
    for place, item in enumerate(items):
        try:
            text = _read_text(item)
            found.add(_match_choice(dimension, text) if dimension.choices else text)
        except InvalidValueError as error:
            faults += [fault.under("" if isinstance(raw, str) else f"/{place}") for fault in error.faults]
    raise_faults(faults)
    return frozenset(found)
