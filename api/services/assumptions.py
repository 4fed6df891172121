"""The assumptions: the defaults, with the user's own values on top."""

from collections.abc import Mapping
from typing import Any

from api.errors import InputFault, InvalidInputError, StaleEditError
from api.services.call import Call
from db import assumptions as stored
from db import records
from db.models import Assumption as StoredAssumption
from fitworth.advice.assumptions import Assumptions
from fitworth.errors import InvalidValueError, escape_pointer
from fitworth.vocabulary import Action, Origin


def current(call: Call) -> Assumptions:
    """Return the assumptions that hold for every job.

    A value on file about a family whose file was taken away says nothing now; it stays on file.
    """
    defaults, words = call.knowledge.assumptions, call.knowledge.assumption_words
    own = stored.list_assumptions(call.session)
    try:
        return defaults.with_overrides(own, Origin.YOURS, words)
    except InvalidValueError as error:
        unknown = {fault.where for fault in error.faults}
        known = {name: value for name, value in own.items() if f"/{escape_pointer(name)}" not in unknown}
        return defaults.with_overrides(known, Origin.YOURS, words)


def list_all(call: Call) -> tuple[list[dict[str, Any]], int]:
    """Return every assumption with its meaning and origin, and the revision of the last change."""
    defaults = call.knowledge.assumptions
    items = [
        {
            "name": name,
            "value": assumption.value,
            "default": defaults.value(name),
            "unit": assumption.unit,
            "meaning": assumption.meaning,
            "origin": assumption.origin,
        }
        for name, assumption in sorted(current(call).by_name.items())
    ]
    return items, stored.get_last_revision(call.session)


def replace_own(call: Call, revision: int | None, values: Mapping[str, float]) -> None:
    """Put the user's own values in place of all earlier ones; what is not named goes back to its default.

    Raises:
        InvalidInputError: with every name that is not known and every value out of bounds.
        StaleEditError: they were changed since `revision`.
    """
    try:
        call.knowledge.assumptions.with_overrides(values, Origin.YOURS, call.knowledge.assumption_words)
    except InvalidValueError as error:
        faults = [InputFault(fault.says, "pointer", f"/values{fault.where}") for fault in error.faults]
        raise InvalidInputError("An assumption cannot be set so.", faults) from error
    now_at = records.next_revision(call.session)
    if revision is not None and revision != stored.get_last_revision(call.session):
        raise StaleEditError(
            "The assumptions were changed since. Read them again, then edit that.",
            [InputFault("This is not the ETag of the present assumptions.", "header", "If-Match")],
        )
    own = stored.list_assumptions(call.session)
    for name in sorted(own.keys() | values.keys()):
        if own.get(name) != values.get(name):
            set_one(call, name, values.get(name), now_at)


def set_one(call: Call, name: str, value: float | None, revision: int) -> None:
    """Set or take back one value, with its line in the audit trail."""
    row = stored.find_assumption(call.session, name, include_deleted=True)
    before = None if row is None or row.deleted_at is not None else {"name": name, "value": row.value}
    if row is None:
        row = StoredAssumption(name=name, value=value)
        records.add_record(call.session, row, now=call.now, revision=revision)
        action = Action.CREATE
    elif value is None:
        records.soft_delete(call.session, row, now=call.now, revision=revision)
        action = Action.DELETE
    else:
        action = Action.RESTORE if row.deleted_at is not None else Action.UPDATE
        row.value, row.deleted_at = value, None
        records.touch(call.session, row, now=call.now, revision=revision)
    after = None if value is None else {"name": name, "value": value}
    records.append_change(
        call.session,
        row,
        resource="assumptions",
        action=action,
        actor=call.actor,
        at=call.now,
        before=before,
        after=after,
    )
