"""Worn and misread part numbers."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitworth.matching.numbers import LOOKALIKES, WEIGHTS, NumberIndex, like_numbers, normalise, similarity

STORED = ["708-21B", "718-21B", "708-21E", "BK-208", "Q19-42", "Q19-42T", "388-60"]


def test_what_cannot_be_read_at_all_is_like_nothing() -> None:
    assert like_numbers("??", STORED, 5) == []
    assert like_numbers(" - ", STORED, 5) == []
    assert like_numbers("708", [], 5) == []
    assert similarity("", "") == 0.0


def test_a_number_like_none_is_not_forced_on_one() -> None:
    assert like_numbers("ZZZZZZZZZZZZ", STORED, 5) == []


@pytest.mark.parametrize(
    ("written", "read"),
    [("708-21b", "70821B"), (" 708 21/B.", "70821B"), ("７08", "708"), ("7?8", "7?8"), ("№ 5", "NO5")],
)
def test_separators_and_case_say_nothing(written: str, read: str) -> None:
    assert normalise(written) == read


def test_the_same_number_written_otherwise_is_wholly_like() -> None:
    first = like_numbers("q19 42", STORED, 3)[0]
    assert (first.number, first.similarity) == ("Q19-42", 1.0)


def test_a_lost_character_fits_every_number_with_any_in_its_place() -> None:
    found = like_numbers("7?8-21B", STORED, 3)
    assert [match.number for match in found] == ["708-21B", "718-21B", "708-21E"]
    assert found[0].similarity == found[1].similarity == pytest.approx(1 - WEIGHTS.unreadable / 6)


@pytest.mark.parametrize(
    ("read", "cost"),
    [
        ("7O821B", WEIGHTS.lookalike),
        ("70321B", WEIGHTS.different),
        ("07821B", WEIGHTS.swapped),
        ("7081B", WEIGHTS.dropped),
        ("708211B", WEIGHTS.added),
    ],
    ids=["look-alike", "different", "swapped", "dropped", "added"],
)
def test_each_damage_costs_its_own(read: str, cost: float) -> None:
    assert similarity(read, "70821B") == pytest.approx(1 - cost / max(len(read), 6))


def test_look_alikes_rank_before_plain_differences() -> None:
    assert [match.number for match in like_numbers("70B-21B", ["705-21B", "708-21B"], 2)] == [
        "708-21B",
        "705-21B",
    ]


def test_equal_ones_stay_in_their_order_and_the_limit_holds() -> None:
    index = NumberIndex(["A1", "A2", "A3"])
    assert [match.number for match in index.like("A?", 2)] == ["A1", "A2"]


texts = st.text("0123458BSGOILZA-", min_size=1, max_size=10).filter(lambda text: bool(normalise(text)))


@given(texts, texts)
def test_similarity_lies_between_nothing_and_the_same(read: str, stored: str) -> None:
    found = similarity(normalise(read), normalise(stored))
    assert 0.0 <= found <= 1.0
    assert (found == 1.0) == (normalise(read) == normalise(stored))


@given(texts, st.data())
def test_one_look_alike_never_hides_the_number(stored: str, data: st.DataObject) -> None:
    place = data.draw(st.integers(0, len(stored) - 1))
    group = next((group for group in LOOKALIKES if stored[place] in group), stored[place])
    read = stored[:place] + data.draw(st.sampled_from(group)) + stored[place + 1 :]
    found = like_numbers(read, ["QQQQQQQQQQQQ", stored], 1)
    assert [match.number for match in found] == [stored]
