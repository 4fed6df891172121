"""References between records: what they must name, and the fault where they do not."""

from collections.abc import Iterator

from api.errors import InputFault
from api.services.call import Call
from api.services.resource import record_id
from db import records
from db.base import Record


def missing_reference(
    call: Call, model: type[Record], noun: str, path: str, text: str | None, at: str
) -> Iterator[InputFault]:
    """Yield a fault where a reference names a record that is not there, or was deleted."""
    if text is None:
        return
    row = records.find_record(call.session, model, record_id(text), include_deleted=True)
    if row is None:
        yield InputFault(f"There is no {noun} with this id; GET /v1/{path} lists them.", "pointer", at)
    elif row.deleted_at is not None:
        yield InputFault(
            f"This {noun} was deleted; POST /v1/{path}/{row.id}/restore brings it back, or name another.",
            "pointer",
            at,
        )


def shown(number: int | None) -> str | None:
    """Return a reference as it is shown."""
    return None if number is None else str(number)
