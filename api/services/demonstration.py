"""The demonstration: an invented workshop's records from `seed_data/`, stored by the services as any others.

Records refer to each other there by a key of their own. Their dates are moved with the calendar, so that a
quote that is good in the scenario is good on the day of the demonstration.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from api.schemas.context import reading_with
from api.services import resource
from api.services.bench import JOBS, MACHINES
from api.services.call import Call
from api.services.parts import INTERCHANGE, PARTS
from api.services.resource import Body, Resource
from api.services.supply import DESTINATIONS, EXCHANGE_RATES, QUOTES, SUPPLIERS

SEED_DATA = Path(__file__).resolve().parents[2] / "seed_data"
FAMILIES = SEED_DATA / "families"
DAY = date(2026, 11, 25)
"""The day on which the scenario plays."""
DATES = frozenset({"valid_until", "seen_on", "on"})


@dataclass(frozen=True)
class Seeds:
    """The records of one resource: whose they are, and which fields name another record by its key."""

    resource: Resource[Any, Any]
    references: Mapping[str, Resource[Any, Any]] = field(default_factory=dict)

    @property
    def file_name(self) -> str:
        """The file they stand in."""
        return f"{self.resource.name.replace('-', '_')}.json"


IN_ORDER = (
    Seeds(PARTS),
    Seeds(INTERCHANGE),
    Seeds(SUPPLIERS),
    Seeds(QUOTES, {"supplier": SUPPLIERS, "part": PARTS}),
    Seeds(EXCHANGE_RATES),
    Seeds(DESTINATIONS),
    Seeds(MACHINES),
    Seeds(JOBS, {"machine": MACHINES, "destination": DESTINATIONS}),
)


def load(call: Call, folder: Path = SEED_DATA) -> list[str]:
    """Store all records of the demonstration; return the ids of its jobs, the main one first."""
    ids: dict[tuple[str, str], str] = {}
    jobs: list[str] = []
    with reading_with(call.knowledge.families):
        for seeds in IN_ORDER:
            for raw in json.loads((folder / seeds.file_name).read_text(encoding="utf-8")):
                body = moved(raw, call.today - DAY)
                key = body.pop("key")
                for name, other in seeds.references.items():
                    body[f"{name}_id"] = ids[other.name, body.pop(name)]
                data = seeds.resource.schema.model_validate(body)
                found = resource.create(call, seeds.resource, data)
                ids[seeds.resource.name, key] = found.body["id"]
                if seeds.resource is JOBS:
                    jobs.append(found.body["id"])
    return jobs


def moved(body: Body, days: timedelta) -> Body:
    """Return a record with its dates moved."""
    return {
        name: (date.fromisoformat(value) + days).isoformat() if name in DATES and value else value
        for name, value in body.items()
    }
