"""The query by measurements as one address holds it: read the same for the machine interface and the page."""

from collections.abc import Collection, Mapping
from typing import Any

from pydantic import ValidationError

from api.errors import InputFault, InvalidInputError
from api.faults import count, validation_faults
from api.schemas.fits import FitsIn
from fitworth.families.model import Family
from fitworth.vocabulary import Kind

OWN_PARAMETERS = ("family", "instrument", "marking", "known_number", "engine", "limit")


def read_query(
    given: Mapping[str, str],
    families: Mapping[str, Family],
    *,
    repeated: Collection[str] = (),
    apart: Collection[str] = (),
) -> FitsIn:
    """Return the query that an address holds.

    Args:
        given: its parameters by name.
        families: those on hand.
        repeated: the names that stand in the address more than once.
        apart: names that say how the answer is to look, and nothing about the removed part.

    Raises:
        InvalidInputError: with every fault, each with its parameter.
    """
    family = families.get(given.get("family", ""))
    raw: dict[str, Any] = {"measured": {}}
    for name, value in given.items():
        if name in OWN_PARAMETERS:
            raw[name] = value
        elif name not in apart:
            raw["measured"][name] = written(family, name, value)
    faults = [InputFault("This stands twice; give it once.", "parameter", name) for name in repeated]
    try:
        data = FitsIn.model_validate(raw)
    except ValidationError as error:
        faults += [in_address(fault) for fault in validation_faults(error.errors(), prefixed=False)]
    if faults:
        raise InvalidInputError(count(faults), faults)
    return data


def written(family: Family | None, key: str, value: str) -> Any:
    """Return a parameter as it would stand in a body: sets as lists."""
    dimension = None if family is None else family.by_key.get(key)
    if dimension is not None and dimension.kind is Kind.SET:
        return [item.strip() for item in value.split(",") if item.strip()]
    return value


def in_address(fault: InputFault) -> InputFault:
    """Return a fault of a body as one of the parameter that it came from."""
    tokens = fault.at.removeprefix("/measured").removeprefix("/").split("/")
    return InputFault(fault.detail, "parameter", tokens[0].replace("~1", "/").replace("~0", "~"))
