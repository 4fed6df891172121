"""Faults in sentences: what the models and the core found wrong with input, wherever it came in."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from api.errors import InputFault, Place
from fitworth.errors import CoreError, escape_pointer

SENTENCES: Mapping[str, str] = {
    "missing": "This is needed and was not given.",
    "extra_forbidden": "This is not known here; check the spelling, or leave it out.",
    "string_type": "This must be text.",
    "string_too_long": "This is too long: at most {max_length} characters.",
    "string_too_short": "This is too short: at least {min_length} characters.",
    "string_pattern_mismatch": "This is not written as it should be.",
    "bool_type": "This must be true or false.",
    "bool_parsing": "This must be true or false.",
    "int_type": "This must be a whole number.",
    "int_parsing": "This must be a whole number.",
    "int_from_float": "This must be a whole number.",
    "float_type": "This must be a number.",
    "float_parsing": "This must be a number.",
    "finite_number": "This must be a finite number.",
    "greater_than": "This must be more than {gt}.",
    "greater_than_equal": "This must be {ge} or more.",
    "less_than": "This must be less than {lt}.",
    "less_than_equal": "This must be {le} or less.",
    "list_type": "This must be a list.",
    "dict_type": "This must be an object with names and values.",
    "model_type": "This must be an object with names and values.",
    "model_attributes_type": "This must be an object with names and values.",
    "too_long": "This list is too long: at most {max_length}.",
    "too_short": "This list is too short: at least {min_length}.",
    "enum": "This must be one of {expected}.",
    "literal_error": "This must be one of {expected}.",
    "date_type": "This must be a date such as 2026-11-25.",
    "date_parsing": "This must be a date such as 2026-11-25.",
    "date_from_datetime_parsing": "This must be a date such as 2026-11-25.",
    "date_from_datetime_inexact": "This must be a date without a time, such as 2026-11-25.",
}


KEPT_BY_US = frozenset({"id", "version", "created_at", "updated_at", "deleted_at"})


def pointer(path: Sequence[str | int]) -> str:
    """Return the JSON pointer of a path of names and positions."""
    return "".join(f"/{escape_pointer(str(token))}" for token in path)


def core_faults(error: CoreError, place: Place = "pointer") -> list[InputFault]:
    """Return the faults of a core error as faults of the request."""
    if place == "pointer":
        return [InputFault(fault.says, place, fault.where) for fault in error.faults]
    # A fault of the whole question belongs to no parameter of its address.
    named = [(fault, fault.where.removeprefix("/measured").lstrip("/")) for fault in error.faults]
    return [InputFault(fault.says, place if name else None, name) for fault, name in named]


def sentence(entry: Mapping[str, Any]) -> str:
    """Return what a validation error means, without echoing what was sent."""
    if entry["type"] == "extra_forbidden" and entry["loc"][-1] in KEPT_BY_US:
        return "The service keeps this itself; leave it out."
    template = SENTENCES.get(entry["type"])
    if template is None:
        return str(entry["msg"]).removeprefix("Value error, ")
    return template.format_map({key: str(value) for key, value in entry.get("ctx", {}).items()})


def validation_faults(found: Iterable[Mapping[str, Any]], *, prefixed: bool) -> list[InputFault]:
    """Return pydantic's errors as faults; `prefixed` where their location begins with the request's part."""
    faults = []
    for entry in found:
        loc = tuple(entry["loc"])
        source, path = (str(loc[0]), loc[1:]) if prefixed and loc else ("body", loc)
        if source == "body":
            # A union names the branch it tried; such a token is not a name in what was sent.
            inner = entry.get("ctx", {}).get("faults")
            if entry["type"] == "json_invalid":
                faults.append(InputFault("This is not sound JSON.", "pointer", ""))
            elif inner is not None:
                faults.extend(InputFault(says, "pointer", pointer(path) + where) for where, says in inner)
            else:
                faults.append(InputFault(sentence(entry), "pointer", pointer(path)))
        else:
            place: Place = {"query": "parameter", "header": "header"}.get(source, "path")  # type: ignore[assignment]
            faults.append(InputFault(sentence(entry), place, ".".join(str(token) for token in path)))
    return faults


def count(faults: Sequence[InputFault]) -> str:
    """Return the sentence that opens a list of faults."""
    return "One thing must be mended." if len(faults) == 1 else f"{len(faults)} things must be mended."
