"""Families as they are shown."""

import math
from typing import Any

from api.errors import MissingError
from api.services.knowledge import Knowledge
from fitworth.families.model import (
    Accepts,
    Allowance,
    Around,
    BoltPlay,
    Cure,
    Dimension,
    Equal,
    Family,
    Interval,
    Percent,
)

Body = dict[str, Any]


def get_family(knowledge: Knowledge, key: str) -> Family:
    """Return a family.

    Raises:
        MissingError: there is none of that key.
    """
    family = knowledge.families.get(key)
    if family is None:
        raise MissingError(f"There is no such family; the families are {knowledge.family_keys}.")
    return family


def list_families(knowledge: Knowledge) -> list[Body]:
    """Return all families as they are shown."""
    return [family_body(family) for family in knowledge.families.values()]


def family_body(family: Family) -> Body:
    """Return a family as it is shown."""
    return {
        "key": family.key,
        "label": family.label,
        "view": family.view,
        "grades": list(family.grades),
        "life": {"clock": family.life.clock, "shape": family.life.shape},
        "needs": list(family.needs),
        "dimensions": [dimension_body(dimension) for dimension in family.dimensions],
    }


def dimension_body(dimension: Dimension) -> Body:
    """Return a dimension as it is shown."""
    return {
        "key": dimension.key,
        "label": dimension.label,
        "kind": dimension.kind,
        "unit": dimension.unit,
        "role": dimension.role,
        "how": dimension.how,
        "instrument": dimension.instrument,
        "allowance": None if dimension.allowance is None else allowance_body(dimension.allowance),
        "allowance_when": [
            {"dimension": when.dimension, "value": when.value, "allowance": allowance_body(when.allowance)}
            for when in dimension.allowance_when
        ],
        "choices": list(dimension.choices),
        "plausible": dimension.plausible,
        "consequence": dimension.consequence,
        "workshop_note": dimension.workshop_note,
        "cure": None if dimension.cure is None else cure_body(dimension.cure),
    }


def allowance_body(allowance: Allowance) -> Body:
    """Return an allowance as it is shown."""
    match allowance:
        case Interval(low, high):
            return {"rule": "interval", "low": finite(low), "high": finite(high)}
        case Percent(low, high):
            return {"rule": "percent", "low": finite(low), "high": finite(high)}
        case Around(low, high, cycle):
            return {"rule": "around", "low": low, "high": high, "cycle": cycle}
        case Accepts(table):
            return {"rule": "accepts", "accepts": {value: sorted(taken) for value, taken in table.items()}}
        case BoltPlay(hole, stud):
            return {"rule": "bolt_play", "hole": hole, "stud": stud}
        case Equal():
            return {"rule": "equal"}


def cure_body(cure: Cure) -> Body:
    """Return a cure as it is shown."""
    return {
        "needs": list(cure.needs),
        "minutes": cure.minutes,
        "cost": cure.cost,
        "low": finite(cure.low),
        "high": finite(cure.high),
    }


def finite(number: float) -> float | None:
    """Return a number, or None where there is no end."""
    return number if math.isfinite(number) else None
