"""Entries on file that are probably wrong, family by family, the most doubtful first."""

import re
from typing import Any

from api.errors import InputFault, InvalidInputError
from api.services.call import Call
from api.services.fits import FitService, part_short
from api.services.numbers import check_family
from db import parts as stored_parts
from db.models import Part
from fitworth.families.model import Family
from fitworth.matching.doubtful import doubtful_entries_of
from fitworth.matching.doubtful_entry import DoubtfulEntry
from fitworth.matching.measurements import write_value

Body = dict[str, Any]
Place = tuple[float, int, tuple[str, ...]]

PLACE = re.compile(r"([01]\.[0-9]{6})-([1-9][0-9]{0,17})-([a-z][a-z0-9_]*(?:\.[a-z][a-z0-9_]*)?)")


def list_entries(
    call: Call, fits: FitService, family: str | None, *, limit: int, cursor: str | None
) -> tuple[list[Body], str | None]:
    """Return a page of doubtful entries, and the cursor to go on from, or None at the end.

    Args:
        call: the request's surroundings.
        fits: keeps the catalogues.
        family: its key, or None for all families.
        limit: how many at most.
        cursor: of the page before, or None.

    Raises:
        InvalidInputError: there is no such family; the cursor is none of this list.
    """
    after = read_place(cursor)
    check_family(call, family)
    families = call.knowledge.families
    found = [
        (place_of(one), families[key], one)
        for key in sorted(families)
        if family in {None, key}
        for one in fits.with_catalogue(call, families[key], doubtful_entries_of)
    ]
    left = sorted((one for one in found if after is None or one[0] > after), key=lambda one: one[0])
    page = left[:limit]
    rows = stored_parts.list_parts_by_ids(call.session, [one.part_id for _, _, one in page])
    parts = {part.id: part for part in rows}
    # A part stored after the call began is in memory, and not yet to be seen.
    items = [entry_body(of, one, parts[one.part_id]) for _, of, one in page if one.part_id in parts]
    return items, show_place(page[-1][0]) if len(left) > limit else None


def place_of(entry: DoubtfulEntry) -> Place:
    """Return where an entry stands in the list; no two stand at one place."""
    return -entry.probability, entry.part_id, entry.keys


def show_place(place: Place) -> str:
    """Return the cursor that stands for a place."""
    return f"{-place[0]:.6f}-{place[1]}-{'.'.join(place[2])}"


def read_place(cursor: str | None) -> Place | None:
    """Return the place that a cursor stands for, or None before the first.

    Raises:
        InvalidInputError: it is no cursor of this list.
    """
    if cursor is None:
        return None
    found = PLACE.fullmatch(cursor)
    if found is None:
        raise InvalidInputError(
            "There is no such page.",
            [InputFault("Give `next_cursor` of the page before, or leave it out.", "parameter", "cursor")],
        )
    return -float(found[1]), int(found[2]), tuple(found[3].split("."))


def entry_body(family: Family, entry: DoubtfulEntry, part: Part) -> Body:
    """Return a doubtful entry as it is shown; what the part lists stands as it was entered."""
    supposed = entry.supposed
    return {
        "family": family.key,
        "part": part_short(part),
        "doubt": entry.doubt,
        "dimensions": [
            {
                "key": key,
                "label": family.by_key[key].label,
                "listed": part.dimensions.get(key, write_value(family.by_key[key], listed)),
            }
            for key, listed in zip(entry.keys, entry.listed, strict=True)
        ],
        "supposed": None if supposed is None else write_value(family.by_key[entry.keys[0]], supposed),
        "say_so": entry.say_so,
        "probability": entry.probability,
        "slip": entry.slip,
        "says": entry.says,
    }
