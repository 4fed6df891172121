"""Numbers on file that resemble a worn or misread one."""

from typing import Any

from api.errors import InputFault, InvalidInputError
from api.services.call import Call
from api.services.fits import FitService
from db import parts as stored_parts


def check_family(call: Call, family: str | None) -> None:
    """Raise InvalidInputError for a family that is not on hand."""
    if family is not None and family not in call.knowledge.families:
        raise InvalidInputError(
            "There is no such family.",
            [InputFault(f"The families are {call.knowledge.family_keys}.", "parameter", "family")],
        )


def list_like(
    call: Call, fits: FitService, like: str, family: str | None, limit: int
) -> list[dict[str, Any]]:
    """Return the stored numbers most like one, with the parts that bear them."""
    check_family(call, family)
    matches = fits.list_like_numbers(call, like, family, limit)
    ids = [part_id for match in matches for part_id in match.bearers]
    parts = {part.id: part for part in stored_parts.list_parts_by_ids(call.session, ids)}
    found = [
        {
            "number": match.number,
            "similarity": match.similarity,
            "family": parts[part_id].family,
            "part_id": str(part_id),
            "maker": parts[part_id].maker,
            "grade": parts[part_id].grade,
        }
        for match in matches
        for part_id in match.bearers
        if part_id in parts  # one stored after the call began is in memory, and not yet to be seen
    ]
    return found[:limit]
