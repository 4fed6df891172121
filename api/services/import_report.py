"""What an import did: counts, and every row that could not be taken, with its place."""

from dataclasses import dataclass, field
from typing import Any

from api.errors import InputFault


@dataclass(slots=True)
class ImportReport:
    """The counts of an import and its faults; `dry_run` says that nothing was kept."""

    resource: str
    rows: int
    dry_run: bool
    created: int = 0
    updated: int = 0
    unchanged: int = 0
    failed: int = 0
    faults: list[InputFault] = field(default_factory=list)

    def refuse(self, faults: list[InputFault]) -> None:
        """Count a row that could not be taken."""
        self.failed += 1
        self.faults += faults

    def body(self) -> dict[str, Any]:
        """Return the report as it is shown."""
        return {
            "resource": self.resource,
            "dry_run": self.dry_run,
            "rows": self.rows,
            "created": self.created,
            "updated": self.updated,
            "unchanged": self.unchanged,
            "failed": self.failed,
            "errors": [fault.as_json() for fault in self.faults],
        }
