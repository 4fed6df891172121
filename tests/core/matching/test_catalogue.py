"""The columns of a catalogue, and where each part lies."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fitworth.families.model import Family
from fitworth.matching import id_index
from fitworth.matching.catalogue import UNKNOWN_CODE, Catalogue
from fitworth.matching.id_index import NOWHERE, IdIndex
from fitworth.matching.layout import OldLayoutError
from fitworth.quantities.quantity import Quantity, Value

Filled = Callable[..., Catalogue]


def listed(catalogue: Catalogue, part: int, key: str) -> Value | None:
    return catalogue.list_values(catalogue.family.by_key[key], catalogue.rows_of([part]))[0]


def test_a_row_of_another_layout_changes_nothing(filled: Filled) -> None:
    catalogue = filled({"pattern": "a"})
    with pytest.raises(OldLayoutError):
        catalogue.upsert([2], [b"short"], ["Vennor"], [()])
    assert len(catalogue) == 1
    assert catalogue.maker_code("Vennor") == UNKNOWN_CODE


def test_every_kind_of_value_is_listed_again(filled: Filled, mm: Callable[..., Quantity]) -> None:
    values: dict[str, Value] = {
        "throttle_bore": mm(19.1),
        "choke_type": "none",
        "vented": True,
        "ports": frozenset({"vent"}),
        "labels": frozenset({"red", "blue"}),
        "pattern": "seven holes",
    }
    catalogue = filled({}, values, values)
    for key, value in values.items():
        assert listed(catalogue, 1, key) is None
        found = listed(catalogue, 2, key)
        assert found == listed(catalogue, 3, key)
        if isinstance(value, Quantity):
            assert isinstance(found, Quantity)
            assert (found.value, found.as_entered) == (19.1, "19.1 mm")
        else:
            assert found == value
            assert catalogue.code_of(catalogue.family.by_key[key], value) == catalogue.codes(key)[1]


def test_what_no_part_lists_has_a_code_of_its_own(filled: Filled) -> None:
    catalogue = filled({"ports": frozenset({"vent"}), "pattern": "a"})
    by_key = catalogue.family.by_key
    assert catalogue.code_of(by_key["ports"], frozenset({"pulse"})) == UNKNOWN_CODE
    assert catalogue.code_of(by_key["pattern"], "b") == UNKNOWN_CODE
    assert catalogue.code_of(by_key["labels"], frozenset({"b"})) == UNKNOWN_CODE


def test_a_part_given_twice_counts_once_with_its_later_row(filled: Filled, family: Family) -> None:
    catalogue = filled()
    rows = [catalogue.layout.pack({"pattern": text}) for text in ("old", "new")]
    catalogue.upsert([7, 7], rows, ["Vennor", "Ostler"], [["H206"], ["H389"]])
    assert len(catalogue) == 1
    assert listed(catalogue, 7, "pattern") == "new"
    assert catalogue.makers[0] == catalogue.maker_code("Ostler")
    assert catalogue.stated_lists[catalogue.stated[0]] == ("H389",)


def test_an_answer_is_recalled_until_the_parts_change(filled: Filled) -> None:
    catalogue = filled({})
    asked: list[int] = []

    def ask() -> int:
        asked.append(1)
        return len(catalogue)

    assert [catalogue.recall("count", ask), catalogue.recall("count", ask), len(asked)] == [1, 1, 1]
    catalogue.upsert([2], [catalogue.layout.pack({})], ["Vennor"], [()])
    assert [catalogue.recall("count", ask), len(asked)] == [2, 2]
    catalogue.remove([1])
    assert [catalogue.recall("count", ask), len(asked)] == [1, 3]


def test_what_is_renewed_is_given_what_was_made_before_and_only_after_a_change(filled: Filled) -> None:
    catalogue = filled({"pattern": "a"})
    given: list[int | None] = []

    def count(before: int | None) -> int:
        given.append(before)
        return 10 * len(catalogue) + (before or 0)

    assert [catalogue.renew("count", count), catalogue.renew("count", count)] == [10, 10]
    assert given == [None]
    catalogue.upsert([2], [catalogue.layout.pack({})], ["Vennor"], [()])
    assert [catalogue.renew("count", count), catalogue.renew("count", count)] == [30, 30]
    catalogue.remove([1])
    assert catalogue.renew("count", count) == 40
    assert given == [None, 10, 30]


def test_several_changes_renew_once_and_each_thing_for_itself(filled: Filled) -> None:
    catalogue = filled({}, {}, {})
    made: list[str] = []

    def note(what: str) -> str:
        def make(before: str | None) -> str:
            made.append(what)
            return f"{before} {what}"

        return catalogue.renew(what, make)

    assert [note("sizes"), note("words")] == ["None sizes", "None words"]
    catalogue.remove([1])
    catalogue.remove([2])
    assert note("sizes") == "None sizes sizes"
    assert made == ["sizes", "words", "sizes"]
    assert note("words") == "None words words"


def test_what_fails_to_be_renewed_is_tried_again_with_what_was_made_before(filled: Filled) -> None:
    catalogue = filled({})

    def fail(before: int | None) -> int:
        raise ValueError(before)

    assert catalogue.renew("count", lambda before: 1) == 1
    catalogue.remove([1])
    with pytest.raises(ValueError, match="1"):
        catalogue.renew("count", fail)
    assert catalogue.renew("count", lambda before: (before or 0) + 1) == 2


changes = st.lists(
    st.tuples(st.booleans(), st.lists(st.integers(1, 12), min_size=1, max_size=5), st.integers(0, 99)),
    max_size=12,
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(steps=changes, merge_at=st.sampled_from([1, 3, 50_000]))
def test_a_catalogue_holds_what_a_dictionary_would(
    family: Family, steps: list[tuple[bool, list[int], int]], merge_at: int
) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(id_index, "MERGE_AT", merge_at)
        catalogue, model = Catalogue(family), dict[int, str]()
        for adds, ids, number in steps:
            if adds:
                texts = [f"{number}-{place}" for place in range(len(ids))]
                rows = [catalogue.layout.pack({"pattern": text}) for text in texts]
                catalogue.upsert(ids, rows, ["Quillon"] * len(ids), [()] * len(ids))
                model.update(zip(ids, texts, strict=True))
            else:
                catalogue.remove(ids)
                for part in ids:
                    model.pop(part, None)
        assert {int(part): listed(catalogue, int(part), "pattern") for part in catalogue.ids} == model
        assert len(catalogue) == len(model)
        absent = [part for part in range(1, 13) if part not in model]
        assert (catalogue.rows_of(absent) == NOWHERE).all()


def test_only_other_ties_than_before_count_as_a_change(filled: Filled) -> None:
    catalogue = filled({"pattern": "a"}, {"pattern": "b"})

    def count() -> int:
        return catalogue.renew("count", lambda before: (before or 0) + 1)

    assert (catalogue.ties, catalogue.apart, count()) == ((), (), 1)
    catalogue.tie([(1, 2, 0.9)], [(2, 3)])
    assert (catalogue.ties, catalogue.apart, count()) == (((1, 2, 0.9),), ((2, 3),), 2)
    catalogue.tie(((1, 2, 0.9),), [(2, 3)])
    assert count() == 2
    catalogue.tie([(1, 2, 0.8)], [(2, 3)])
    assert count() == 3
    catalogue.tie([])
    assert (catalogue.ties, catalogue.apart, count()) == ((), (), 4)


def test_an_index_without_anything_finds_nothing() -> None:
    assert IdIndex().find(np.array([3])).tolist() == [NOWHERE]


def test_a_hundred_thousand_rows_load_in_a_blink(filled: Filled, mm: Callable[..., Quantity]) -> None:
    catalogue = filled()
    row = catalogue.layout.pack({"throttle_bore": mm(19.0), "pattern": "a", "ports": frozenset({"vent"})})
    count = 100_000
    catalogue.upsert(range(count), [row] * count, ["Quillon"] * count, [()] * count)
    assert len(catalogue) == count
    assert catalogue.numbers("throttle_bore")[0].dtype == np.float32
    assert listed(catalogue, count - 1, "pattern") == "a"
