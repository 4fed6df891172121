"""The life of a record: added, found, listed, edited, deleted, restored, each time at a new revision."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import Engine, delete, text, update
from sqlalchemy.exc import DBAPIError, IntegrityError
from sqlalchemy.orm import Session

from db import records
from db.models import Change, Machine, Part
from db.session import make_session_factory
from fitworth.vocabulary import Action, Grade


@pytest.mark.parametrize("number", [0, -1, 2**63, 10**400])
def test_a_number_that_can_be_no_key_finds_nothing(session: Session, number: int) -> None:
    assert records.find_record(session, Part, number) is None
    assert records.list_changes(session, "parts", number) == []


@pytest.mark.parametrize("after_id", [2**63 - 1, 10**400])
def test_a_page_after_the_last_possible_key_is_empty(shelf: Any, after_id: int) -> None:
    shelf.part()
    assert records.list_page(shelf.session, Part, limit=5, after_id=after_id) == []


def test_a_record_that_is_not_there_is_not_found(session: Session) -> None:
    assert records.find_record(session, Part, 12) is None


def test_a_new_record_is_its_first_version(shelf: Any, now: datetime) -> None:
    part = shelf.part()
    assert (part.version, part.created_at, part.updated_at, part.deleted_at) == (1, now, now, None)
    assert part.revision == records.get_revision(shelf.session) == 1
    assert records.find_record(shelf.session, Part, part.id) is part


def test_an_edit_is_the_next_version_at_the_next_revision(shelf: Any, now: datetime) -> None:
    part, later = shelf.part(), now + timedelta(minutes=5)
    part.title = "carburetor with manual choke"
    records.touch(shelf.session, part, now=later, revision=records.next_revision(shelf.session))
    assert (part.version, part.revision, part.created_at, part.updated_at) == (2, 2, now, later)


def test_a_deleted_record_is_found_only_when_asked_for_and_comes_back(shelf: Any, now: datetime) -> None:
    session, part = shelf.session, shelf.part()
    records.soft_delete(session, part, now=now, revision=records.next_revision(session))
    assert records.find_record(session, Part, part.id) is None
    assert records.find_record(session, Part, part.id, include_deleted=True) == part
    assert records.list_page(session, Part, limit=5) == []
    assert records.list_page(session, Part, limit=5, include_deleted=True) == [part]
    records.restore_record(session, part, now=now, revision=records.next_revision(session))
    assert records.find_record(session, Part, part.id) == part
    assert (part.version, part.revision) == (3, 3)


def test_pages_follow_one_another_without_gap_or_double(shelf: Any) -> None:
    made = [shelf.part(f"{n}-1").id for n in range(7)]
    seen: list[int] = []
    while page := records.list_page(shelf.session, Part, limit=3, after_id=seen[-1] if seen else 0):
        assert len(page) <= 3
        seen += [part.id for part in page]
    assert seen == made


def test_a_page_is_filtered_by_the_values_of_its_columns(shelf: Any) -> None:
    shelf.part("1-1", maker="Brackwell")
    wanted = shelf.part(None, maker="Quillon", grade=Grade.USED)
    session = shelf.session
    assert records.list_page(session, Part, {"maker": "Quillon", "grade": Grade.USED}, limit=9) == [wanted]
    assert records.list_page(session, Part, {"number": None}, limit=9) == [wanted]
    assert records.list_page(session, Part, {"grade": "no such grade"}, limit=9) == []


def test_two_parts_of_one_maker_number_and_grade_are_refused(shelf: Any) -> None:
    shelf.part("708-21B")
    shelf.part("708-21B", grade=Grade.USED)
    shelf.part("708-21B", maker="Brackwell")
    shelf.part("708-21B", family="rebuild_kit")
    with pytest.raises(IntegrityError):
        shelf.part("708-21B")


def test_parts_without_a_number_are_never_doubles(shelf: Any) -> None:
    assert shelf.part(None).id != shelf.part(None).id


def test_a_deleted_part_leaves_its_number_free_and_cannot_come_back_beside_another(
    shelf: Any, now: datetime
) -> None:
    session, first = shelf.session, shelf.part("708-21B")
    records.soft_delete(session, first, now=now, revision=records.next_revision(session))
    shelf.part("708-21B")
    with pytest.raises(IntegrityError):
        records.restore_record(session, first, now=now, revision=records.next_revision(session))


def test_revisions_count_up_one_by_one_and_looking_does_not_count(session: Session) -> None:
    assert [records.next_revision(session) for _ in range(3)] == [1, 2, 3]
    assert records.lock_revision(session) == records.get_revision(session) == 3


def test_a_revision_that_was_rolled_back_is_given_again(own_engine: Engine) -> None:
    factory = make_session_factory(own_engine, writer=True)
    with factory() as session:
        assert records.next_revision(session) == 1
        session.rollback()
        assert records.next_revision(session) == 1


def test_the_audit_trail_tells_who_did_what_and_when(shelf: Any, now: datetime) -> None:
    session, part = shelf.session, shelf.part()
    records.append_change(
        session,
        part,
        resource="parts",
        action=Action.CREATE,
        actor="Ostler",
        at=now,
        after={"maker": "Harrowmere"},
    )
    records.soft_delete(session, part, now=now, revision=records.next_revision(session))
    records.append_change(
        session,
        part,
        resource="parts",
        action=Action.DELETE,
        actor="Vennor",
        at=now,
        before={"maker": "Harrowmere"},
    )
    records.append_change(session, part, resource="quotes", action=Action.UPDATE, actor="Vennor", at=now)
    found = [
        (line.actor, line.action, line.version, line.revision, line.before, line.after, line.at)
        for line in records.list_changes(session, "parts", part.id)
    ]
    assert found == [
        ("Ostler", Action.CREATE, 1, 1, None, {"maker": "Harrowmere"}, now),
        ("Vennor", Action.DELETE, 2, 2, {"maker": "Harrowmere"}, None, now),
    ]


def test_no_changes_write_nothing(session: Session) -> None:
    records.append_changes(session, [])
    assert session.query(Change).count() == 0


@pytest.mark.parametrize("verb", ["update", "delete", "truncate"])
def test_a_line_of_the_audit_trail_can_be_neither_altered_nor_removed(
    shelf: Any, verb: str, now: datetime
) -> None:
    session, part = shelf.session, shelf.part()
    records.append_change(session, part, resource="parts", action=Action.CREATE, actor="Ostler", at=now)
    postgres = session.get_bind().dialect.name == "postgresql"
    forgeries: dict[str, Any] = {
        "update": update(Change).values(actor="nobody"),
        "delete": delete(Change),
        "truncate": text("TRUNCATE change" if postgres else "DELETE FROM change"),
    }
    with pytest.raises(DBAPIError, match="append-only"), session.begin_nested():
        session.execute(forgeries[verb])
    assert [line.actor for line in records.list_changes(session, "parts", part.id)] == ["Ostler"]


def test_a_change_and_its_line_in_the_trail_are_kept_or_lost_together(
    own_engine: Engine, now: datetime
) -> None:
    factory = make_session_factory(own_engine, writer=True)
    with factory() as session:
        machine = Machine(name="TL-07", currency="USD")
        records.add_record(session, machine, now=now, revision=records.next_revision(session))
        records.append_change(
            session, machine, resource="machines", action=Action.CREATE, actor="Ostler", at=now
        )
        session.rollback()
    with factory() as session:
        assert (session.query(Change).count(), session.query(Machine).count()) == (0, 0)
