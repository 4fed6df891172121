"""The interchange groups on file, family by family."""

from api.services.call import Call
from api.services.fits import FitService, part_short
from api.services.numbers import check_family
from api.services.resource import Body
from db import parts as stored_parts
from db.models import Part
from fitworth.families.model import Family
from fitworth.matching.interchange_groups import InterchangeGroup, interchange_groups_of
from fitworth.matching.measurements import write_value

MOST_MEMBERS = 500  # of a group that are named; own choice, so that a page stays a few megabytes


def list_groups(
    call: Call, fits: FitService, family: str | None, *, limit: int, after_id: int
) -> tuple[list[Body], int | None]:
    """Return a page of groups by the lowest ids among their parts, and the id to go on after, or None.

    Raises:
        InvalidInputError: there is no such family.
    """
    check_family(call, family)
    families = call.knowledge.families
    found = [
        (group.members[0].part_id, families[key], group)
        for key in sorted(families)
        if family in {None, key}
        for group in fits.with_catalogue(
            call,
            families[key],
            lambda catalogue: interchange_groups_of(catalogue, after_id=after_id, limit=limit + 1),
        )
    ]
    found.sort(key=lambda one: one[0])
    page = found[:limit]
    ids = [member.part_id for _, _, group in page for member in group.members[:MOST_MEMBERS]]
    parts = {part.id: part for part in stored_parts.list_parts_by_ids(call.session, ids)}
    items = [group_body(of, group, parts) for _, of, group in page]
    return items, page[-1][0] if len(found) > limit else None


def group_body(family: Family, group: InterchangeGroup, parts: dict[int, Part]) -> Body:
    """Return a group as it is shown."""
    return {
        "family": family.key,
        "size": len(group.members),
        # A part that was stored after the call began is in memory, and not yet to be seen.
        "parts": [
            {**part_short(parts[member.part_id]), "probability": round(member.probability, 6)}
            for member in group.members[:MOST_MEMBERS]
            if member.part_id in parts
        ],
        "dimensions": [
            {
                "key": figure.key,
                "value": write_value(family.by_key[figure.key], figure.value),
                "probability": round(figure.probability, 6),
                "say_so": figure.say_so,
            }
            for figure in group.figures
        ],
    }
