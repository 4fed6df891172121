"""JSON as the service accepts it: sound, small, unambiguous. Everything else is refused before it is read.

Python's reader takes NaN, 1e999, doubled names and lone surrogates; a database or a browser further on does
not. One pass here names every such fault with its place.
"""

import json
import math
from collections.abc import Iterator
from typing import Any

from api.errors import InputFault, MalformedBodyError
from fitworth.errors import escape_pointer

MAX_DEPTH = 32
MAX_WHOLE_NUMBER = 2**53  # the largest range in which every JSON reader agrees (RFC 8259, section 6)


class _Doubled(ValueError):  # noqa: N818 - never leaves this module
    """A name stands twice in one object."""


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise _Doubled
    return found


def _refuse_constant(_: str) -> float:
    return math.nan


def _faults(value: Any, where: str, depth: int) -> Iterator[InputFault]:
    if depth > MAX_DEPTH:
        yield InputFault(f"This is nested too deeply: at most {MAX_DEPTH} levels.", "pointer", where)
    elif isinstance(value, str):
        yield from _text_faults(value, where)
    elif isinstance(value, float) and not math.isfinite(value):
        yield InputFault("This must be a finite number.", "pointer", where)
    elif isinstance(value, int) and not isinstance(value, bool) and abs(value) > MAX_WHOLE_NUMBER:
        yield InputFault("This number is too large.", "pointer", where)
    elif isinstance(value, list):
        for position, item in enumerate(value):
            yield from _faults(item, f"{where}/{position}", depth + 1)
    elif isinstance(value, dict):
        for name, item in value.items():
            if any(_text_faults(name, where)):
                yield InputFault("A name in this object has characters that are no text.", "pointer", where)
            else:
                yield from _faults(item, f"{where}/{escape_pointer(name)}", depth + 1)


def _text_faults(text: str, where: str) -> Iterator[InputFault]:
    if "\x00" in text:
        yield InputFault("This text has a NUL character; leave it out.", "pointer", where)
    if any("\ud800" <= character <= "\udfff" for character in text):
        yield InputFault(
            "This text has half a character (a lone surrogate); enter it again.", "pointer", where
        )


def check_json(body: bytes) -> None:
    """Raise MalformedBodyError with every fault of a JSON body; return nothing where it is sound.

    Raises:
        MalformedBodyError: not UTF-8, not JSON, a doubled name, a number that is not finite or too large,
            text that is no text, or nesting beyond 32 levels.
    """
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError as error:
        raise MalformedBodyError("The body must be JSON in UTF-8.") from error
    try:
        value = json.loads(text, object_pairs_hook=_unique, parse_constant=_refuse_constant)
    except _Doubled as error:
        raise MalformedBodyError("A name stands twice in one object; keep one of the two.") from error
    except RecursionError as error:
        raise MalformedBodyError(f"The body is nested too deeply: at most {MAX_DEPTH} levels.") from error
    except json.JSONDecodeError as error:
        raise MalformedBodyError(
            f"The body is not JSON: see line {error.lineno}, character {error.colno}."
        ) from error
    except ValueError as error:
        raise MalformedBodyError("A number in the body is too long.") from error
    faults = list(_faults(value, "", 0))
    if faults:
        raise MalformedBodyError("The body has values that cannot be stored.", faults)
