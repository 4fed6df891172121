"""Parts: found by words and numbers, caught up with by revision, loaded in bulk."""

import json
from datetime import datetime
from typing import Any

import pytest
from sqlalchemy import func, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from db import parts, records
from db.models import Part, PartInclude, PartNumber
from db.parts import NewPart, Number, PartFilter
from db.search_text import fold
from fitworth.vocabulary import Grade

NUMBERS = [Number("708-21B", "70821B"), Number("Q19-42", "Q1942")]


def test_a_bulk_load_with_a_double_stores_nothing_of_it(session: Session, now: datetime) -> None:
    with pytest.raises(IntegrityError), session.begin_nested():
        parts.bulk_insert(session, [new_part(1), new_part(2), new_part(1)], now=now, revision=1)
    assert session.scalar(select(func.count()).select_from(Part)) == 0


def test_a_bulk_load_of_nothing_does_nothing(session: Session, now: datetime) -> None:
    assert parts.bulk_insert(session, [], now=now, revision=1) == []


def test_a_bulk_load_stores_what_one_by_one_would(session: Session, shelf: Any, now: datetime) -> None:
    count = 2500
    ids = parts.bulk_insert(session, [new_part(n) for n in range(count)], now=now, revision=7)
    assert len(set(ids)) == count
    stored = parts.list_parts_by_ids(session, ids)
    assert {part.id: part.number for part in stored} == {found: f"Q-{n}" for n, found in enumerate(ids)}
    assert {(part.version, part.revision, part.created_at) for part in stored} == {(1, 7, now)}
    assert [number.number_key for number in parts.list_numbers(session, ids[:2])] == [
        "Q0",
        "ALSO0",
        "Q1",
        "ALSO1",
    ]
    single = shelf.part("X-1", other_numbers=["ALSO-X"], includes=["mounting_gasket"], title="float bowl")
    loaded = parts.list_parts(session, PartFilter(q="also-17 float"), limit=2)[0]
    assert single.search_text == "harrowmere\nfloat bowl\nx-1\nx1\nalso-x\nalsox"
    assert loaded.search_text == "quillon\nfloat bowl\nq-17\nq17\nalso-17\nalso17"
    assert session.scalar(select(func.count()).select_from(PartInclude)) == count + 1


def test_a_bulk_load_without_numbers_and_needs_stores_parts_alone(session: Session, now: datetime) -> None:
    bare = NewPart({"family": "flywheel_key", "maker": "Ostler", "grade": Grade.OEM})
    assert len(parts.bulk_insert(session, [bare, bare], now=now, revision=1)) == 2
    assert session.scalar(select(func.count()).select_from(PartNumber)) == 0


@pytest.mark.parametrize("q", ["nothing like it", "708%", "70_", "%", "708-21B brackwell", "\\"])
def test_words_that_do_not_all_stand_in_the_text_find_nothing(shelf: Any, q: str) -> None:
    shelf.part("708-21B", title="Carburetor")
    assert parts.list_parts(shelf.session, PartFilter(q=q), limit=5) == []


@pytest.mark.parametrize(
    "q",
    [
        "",
        "  ",
        "HARROWMERE",
        "21b 708",
        "70821b",
        "schlüssel",
        "SCHLÜSSEL",
        "ｓｃｈｌüssel",
        "h206",
        "100% dicht",
        "strasse",
    ],
)
def test_words_are_found_whatever_their_case_and_order(shelf: Any, q: str) -> None:
    wanted = shelf.part(
        "708-21B",
        title="Vergaser mit Schlu\u0308ssel",
        stated_for=["Harrowmere H206"],
        notes="100% dicht, Straße 7",
    )
    assert parts.list_parts(shelf.session, PartFilter(q=q), limit=5) == [wanted]


def test_folding_twice_changes_nothing_more() -> None:
    for text in ("Straße", "ﬃ", "ǅ", "İ", "ΐ", "Å", "ſ"):
        assert fold(fold(text)) == fold(text)


def test_parts_are_listed_by_family_maker_and_grade(shelf: Any, now: datetime) -> None:
    shelf.part("1-1", maker="Brackwell")
    shelf.part("1-2", family="rebuild_kit")
    shelf.part("1-3", grade=Grade.USED)
    wanted, gone = shelf.part("1-4"), shelf.part("1-5")
    session = shelf.session
    records.soft_delete(session, gone, now=now, revision=records.next_revision(session))
    filters = PartFilter(family="carburetor", maker="Harrowmere", grade=Grade.OEM)
    assert parts.list_parts(session, filters, limit=5) == [wanted]
    assert parts.list_parts(session, filters, limit=5, include_deleted=True) == [wanted, gone]
    assert parts.list_parts(session, filters, limit=5, after_id=wanted.id) == []


def test_parts_are_listed_by_more_ids_than_a_statement_takes(shelf: Any, now: datetime) -> None:
    first, gone = shelf.part("1-1"), shelf.part("1-2")
    session = shelf.session
    records.soft_delete(session, gone, now=now, revision=records.next_revision(session))
    wanted = [*range(gone.id, gone.id + 70_000), first.id, first.id]
    assert parts.list_parts_by_ids(session, wanted) == [first]
    assert parts.list_parts_by_ids(session, wanted, include_deleted=True) == [first, gone]
    assert parts.list_parts_by_ids(session, []) == []


def test_a_part_is_found_by_each_of_its_numbers_and_no_longer_by_an_old_one(shelf: Any) -> None:
    session, part = shelf.session, shelf.part("708-21B", other_numbers=["711-04"])
    for key in ("70821B", "71104"):
        assert parts.list_parts_by_number(session, key) == [part]
    parts.set_part_details(session, part, [NUMBERS[0]])
    assert parts.list_parts_by_number(session, "70821B", family="carburetor") == [part]
    assert parts.list_parts_by_number(session, "70821B", family="rebuild_kit") == []
    assert parts.list_parts_by_number(session, "71104") == []
    assert "711-04" not in part.search_text


def test_the_numbers_of_deleted_parts_are_not_listed(shelf: Any, now: datetime) -> None:
    session, part = shelf.session, shelf.part("708-21B", other_numbers=["711-04"])
    kit, gone = shelf.part("K-19", family="rebuild_kit"), shelf.part("9-9")
    records.soft_delete(session, gone, now=now, revision=records.next_revision(session))
    own = [(part.id, "708-21B"), (part.id, "711-04")]
    now_at = records.get_revision(session)
    assert parts.list_numbers_changed(session, "carburetor", 0, now_at) == [*own, (gone.id, None)]
    assert parts.list_numbers_changed(session, "carburetor", now_at - 1, now_at) == [(gone.id, None)]
    assert parts.list_numbers_changed(session, "carburetor", now_at, now_at + 1) == []
    assert parts.list_numbers_changed(session, "rebuild_kit", 0, now_at) == [(kit.id, "K-19")]
    assert parts.list_families(session) == ["carburetor", "rebuild_kit"]
    assert parts.list_parts_by_number(session, "99") == []


def test_a_copy_in_memory_catches_up_with_additions_edits_deletions_and_restorations(
    shelf: Any, now: datetime
) -> None:
    session = shelf.session
    copy: dict[int, tuple[str, bytes]] = {}
    caught_up = 0

    def catch_up() -> dict[int, tuple[str, bytes]]:
        nonlocal caught_up
        upto = records.get_revision(session)
        for chunk in parts.iter_packed(session, "carburetor", caught_up):
            assert all(caught_up < revision <= upto for revision in chunk.revisions)
            for part_id, deleted, grade, packed in zip(
                chunk.ids, chunk.deleted, chunk.grades, chunk.packed, strict=True
            ):
                copy.pop(part_id, None)
                if not deleted:
                    copy[part_id] = (grade, packed)
        caught_up = upto
        return copy

    first, second = shelf.part("1-1", packed=b"one"), shelf.part("1-2", packed=b"two", grade=Grade.USED)
    shelf.part("1-3", family="rebuild_kit", packed=b"kit")
    assert catch_up() == {first.id: ("oem", b"one"), second.id: ("used", b"two")}
    assert catch_up() == copy
    first.packed = b"edited"
    records.touch(session, first, now=now, revision=records.next_revision(session))
    records.soft_delete(session, second, now=now, revision=records.next_revision(session))
    third = shelf.part("1-4", packed=b"four")
    assert catch_up() == {first.id: ("oem", b"edited"), third.id: ("oem", b"four")}
    records.restore_record(session, second, now=now, revision=records.next_revision(session))
    assert catch_up()[second.id] == ("used", b"two")


def test_a_full_load_leaves_deleted_parts_out_and_comes_in_order(
    session: Session, shelf: Any, now: datetime
) -> None:
    gone = shelf.part("9-9")
    records.soft_delete(session, gone, now=now, revision=records.next_revision(session))
    kit = shelf.part("K-19", family="rebuild_kit", stated_for=["Harrowmere H206 „Schlüssel“"])
    (row,) = parts.iter_packed(session, "rebuild_kit")
    assert [(row.ids, [json.loads(text) for text in row.stated_for])] == [
        ((kit.id,), [["Harrowmere H206 „Schlüssel“"]])
    ]
    ids = parts.bulk_insert(session, [new_part(n) for n in range(45)], now=now, revision=3)
    chunks = list(parts.iter_packed(session, "carburetor"))
    assert [part_id for chunk in chunks for part_id in chunk.ids] == sorted(ids)
    assert {type(grade) for chunk in chunks for grade in chunk.grades} == {str}
    assert set(chunks[0].makers) == {"Quillon"}
    assert list(parts.iter_packed(session, "no_such_family")) == []


def test_rows_of_the_search_index_come_in_chunks(
    session: Session, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(parts, "CHUNK_ROWS", 20)
    parts.bulk_insert(session, [new_part(n) for n in range(45)], now=now, revision=1)
    assert [len(chunk.ids) for chunk in parts.iter_packed(session, "carburetor")] == [20, 20, 5]


def new_part(n: int) -> NewPart:
    """Return an invented part to load."""
    number = f"Q-{n}"
    return NewPart(
        {
            "family": "carburetor",
            "maker": "Quillon",
            "grade": Grade.AFTERMARKET_UNBRANDED,
            "number": number,
            "number_key": f"Q{n}",
            "title": "float bowl",
            "packed": b"\x00\x01",
            "includes": ["mounting_gasket", "mounting_gasket"],
        },
        [Number(number, f"Q{n}"), Number(f"ALSO-{n}", f"ALSO{n}")],
    )
