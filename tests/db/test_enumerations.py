"""Every member of every stored enumeration fits into its column on a migrated database.

A migration is not found missing when an enumeration gains a member; its inserts would fail.
"""

from datetime import date, datetime
from enum import StrEnum
from typing import Any

import pytest
from sqlalchemy import Enum, text

from db.base import Base
from db.models import Change, Interchange, InterchangeDecision, Outcome
from fitworth.vocabulary import Action, Condition, Decision, Grade, OutcomeKind, Relation

STORED = {
    ("part", "grade"): Grade,
    ("interchange", "relation"): Relation,
    ("interchange_decision", "decision"): Decision,
    ("quote", "condition"): Condition,
    ("outcome", "what"): OutcomeKind,
    ("fit_forecast", "grade"): Grade,
    ("change", "action"): Action,
}


def test_every_column_with_an_enumeration_is_tried_below() -> None:
    found = {
        (table.name, column.name): column.type.enum_class
        for table in Base.metadata.sorted_tables
        for column in table.columns
        if isinstance(column.type, Enum)
    }
    assert found == STORED


def cases() -> list[Any]:
    return [
        pytest.param(table, column, member, id=f"{table}-{member}")
        for (table, column), members in STORED.items()
        for member in members
    ]


@pytest.mark.parametrize(("table", "column", "member"), cases())
def test_a_member_is_stored_as_its_value(
    shelf: Any, now: datetime, table: str, column: str, member: StrEnum
) -> None:
    part = shelf.part(grade=member if table == "part" else Grade.OEM)
    if table == "interchange":
        shelf.add(Interchange(from_number="1", from_key="1", to_number="2", to_key="2", relation=member))
    if table == "interchange_decision":
        other = shelf.part("708-21C")
        shelf.add(InterchangeDecision(low_part_id=part.id, high_part_id=other.id, decision=member))
    if table == "quote":
        shelf.quote(part, shelf.supplier(), condition=member)
    if table == "outcome":
        shelf.add(Outcome(part_id=part.id, what=member, on=date(2026, 11, 20)))
    if table == "fit_forecast":
        shelf.forecast(part, said=0.9, grade=member)
    if table == "change":
        shelf.session.add(
            Change(
                at=now, actor="Ostler", resource="parts", resource_id=1, version=1, action=member, revision=1
            )
        )
        shelf.session.flush()
    assert shelf.session.scalar(text(f"SELECT {column} FROM {table}")) == member.value
