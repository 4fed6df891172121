"""What every resource's answer has, and the envelopes around it."""

from datetime import datetime
from typing import Any

from pydantic import BaseModel, Field, create_model

from api.schemas.fields import Output, RecordId
from fitworth.vocabulary import Action


class Stored(Output):
    """What every stored record has besides what was entered."""

    id: RecordId
    version: int = Field(description="counts the edits; the ETag is made of it")
    created_at: datetime
    updated_at: datetime
    deleted_at: datetime | None = None


def page_of(item: type[BaseModel], name: str | None = None) -> type[BaseModel]:
    """Return the envelope of a list of items."""
    items: Any = list[item]  # type: ignore[valid-type]
    return create_model(
        name or f"{item.__name__}Page", __base__=Output, items=(items, ...), next_cursor=(str | None, None)
    )


class Change(Output):
    """One entry of the audit trail."""

    at: datetime
    actor: str
    action: Action
    version: int
    revision: int
    before: dict[str, Any] | None
    after: dict[str, Any] | None


class Changes(Output):
    """The history of one record, oldest first."""

    items: list[Change]
    next_cursor: str | None = None


class Fault(Output):
    """One thing that is wrong with a request."""

    detail: str
    pointer: str | None = Field(default=None, description="JSON pointer into the body (RFC 6901)")
    parameter: str | None = None
    header: str | None = None
    path: str | None = None
    row: str | None = None
    column: str | None = None


class Problem(Output):
    """Problem details (RFC 9457)."""

    type: str
    title: str
    status: int
    detail: str
    errors: list[Fault] | None = None


class Health(Output):
    """Alive or ready, and what the catalogue is at."""

    status: str
    revision: int | None = None
