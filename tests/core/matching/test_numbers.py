"""Worn and misread part numbers: finding the stored ones that they may have been."""

from collections.abc import Callable, Iterable, Sequence
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitworth.matching.numbers import (
    DAMAGE,
    LOOKALIKES,
    UNREADABLE,
    NumberIndex,
    NumberMatch,
    normalise,
)

STORED = ["708-21B", "718-21B", "708-21E", "BK-208", "Q19-42", "Q19-42T", "388-60"]
KINDS = ("unreadable", "confused", "dropped", "swapped")
FILED_AT_ONCE, NEVER_FILED = 1, 10**9

ways_to_hold = pytest.mark.parametrize("most_unfiled", [FILED_AT_ONCE, NEVER_FILED], ids=["filed", "unfiled"])


def index_of(numbers: Iterable[str], most_unfiled: int = NEVER_FILED) -> NumberIndex:
    index = NumberIndex(most_unfiled=most_unfiled)
    index.add(enumerate(numbers))
    return index


def names(found: Sequence[NumberMatch]) -> list[str]:
    return [match.number for match in found]


@ways_to_hold
def test_what_cannot_be_read_at_all_is_like_nothing(most_unfiled: int) -> None:
    index = index_of(STORED, most_unfiled)
    assert index.like("??", 5) == index.like(" - ", 5) == index.weighed("???", 5) == []
    assert NumberIndex().like("708", 5) == []
    assert index_of(["-", "??", " "], most_unfiled).like("7", 5) == []


@ways_to_hold
def test_a_number_like_none_is_not_forced_on_one(most_unfiled: int) -> None:
    assert index_of(STORED, most_unfiled).like("ZZZZZZZZZZZZ", 5) == []


@pytest.mark.parametrize(
    ("written", "read"),
    [("708-21b", "70821B"), (" 708 21/B.", "70821B"), ("７08", "708"), ("7?8", "7?8"), ("№ 5", "NO5")],
)
def test_separators_and_case_say_nothing(written: str, read: str) -> None:
    assert normalise(written) == read


@ways_to_hold
def test_the_same_number_written_otherwise_is_wholly_like(most_unfiled: int) -> None:
    first = index_of(STORED, most_unfiled).like("q19 42", 3)[0]
    assert (first.number, first.similarity) == ("Q19-42", 1.0)


@ways_to_hold
def test_a_lost_character_fits_every_number_with_any_in_its_place(most_unfiled: int) -> None:
    found = index_of(STORED, most_unfiled).like("7?8-21B", 2)
    assert names(found) == ["708-21B", "718-21B"]
    assert found[0].similarity == found[1].similarity


@ways_to_hold
def test_look_alikes_rank_before_plain_differences(most_unfiled: int) -> None:
    found = index_of(["705-21B", "708-21B"], most_unfiled).like("70B-21B", 2)
    assert names(found) == ["708-21B", "705-21B"]


@ways_to_hold
def test_equal_ones_stand_in_the_order_of_their_bearers_and_the_limit_holds(most_unfiled: int) -> None:
    index = NumberIndex(most_unfiled=most_unfiled)
    index.add([(9, "A1"), (4, "A2"), (7, "A3")])
    assert names(index.like("A?", 2)) == ["A2", "A3"]


@ways_to_hold
def test_all_who_bear_a_number_are_named_and_each_way_of_writing_it(most_unfiled: int) -> None:
    index = NumberIndex(most_unfiled=most_unfiled)
    index.add([(5, "708-21B"), (2, "70821B"), (3, "708-21B"), (5, "708-21B"), (8, "388-60")])
    found = index.like("70821B", 5)
    assert [(match.number, match.bearers) for match in found[:2]] == [("70821B", (2,)), ("708-21B", (3, 5))]
    assert names(index.like("7????B", 2)) == ["70821B", "708-21B"]
    index.remove([5])
    assert [match.bearers for match in index.like("70821B", 2)] == [(2,), (3,)]


@ways_to_hold
@pytest.mark.parametrize(
    ("read", "stored"),
    [
        ("20814", "HBK-20814"),
        ("2O814", "HBK-20814"),
        ("2?814", "HBK-20814"),
        ("2084", "HBK-20814"),
        ("28014", "HBK-20814"),
        ("19421", "19421-AC"),
        ("1?421", "19421-AC"),
        ("1942", "AB-1942-CD"),
        ("7?821X", "708-21B"),
        ("7?82B", "708-21B"),
        ("708?1BX", "708-21B"),
        ("?0?1B", "708-21B"),
        ("?????B", "708-21B"),
        ("７?8-Д1Б", "708-Д1Б"),
    ],
)
def test_a_number_is_found_although(read: str, stored: str, most_unfiled: int) -> None:
    others = ["999-99Z", "3333333", "XY-77-44", "B4", "66666"]
    assert stored in names(index_of([*others, stored], most_unfiled).like(read, 3))


@ways_to_hold
def test_a_number_that_very_many_bear_hides_neither_them_nor_others(most_unfiled: int) -> None:
    index = NumberIndex(most_unfiled=most_unfiled)
    index.add([*((bearer, "708-21B") for bearer in range(500)), (500, "718-21B")])
    first, second = index.like("7?8-21B", 5)
    assert (first.number, first.bearers) == ("708-21B", tuple(range(500)))
    assert (second.number, second.bearers) == ("718-21B", (500,))


def test_a_long_reading_is_looked_up_too() -> None:
    long = "7081" * 30
    found = index_of([long, "708"], FILED_AT_ONCE).like(f"{long[:50]}?{long[52:]}", 3)
    assert names(found) == [long]
    assert names(index_of([long * 3], FILED_AT_ONCE).like(long * 3, 1)) == [long * 3]


texts = st.text("0123458BSGOILZA-", min_size=1, max_size=10).filter(lambda text: bool(normalise(text)))


@given(texts, st.data())
def test_one_look_alike_never_hides_the_number(stored: str, data: st.DataObject) -> None:
    place = data.draw(st.integers(0, len(stored) - 1))
    group = next((group for group in LOOKALIKES if stored[place] in group), stored[place])
    read = stored[:place] + data.draw(st.sampled_from(group)) + stored[place + 1 :]
    for most_unfiled in (FILED_AT_ONCE, NEVER_FILED):
        found = index_of(["QQQQQQQQQQQQ", stored], most_unfiled).like(read, 1)
        assert names(found) == [stored]


def invent(count: int, rng: np.random.Generator) -> list[str]:
    """Return different numbers, some with letters before or behind, in a dense and in a thin range."""
    kinds = [("", 4, ""), ("", 6, ""), ("AB", 4, ""), ("Q", 4, "T"), ("", 5, "B")]
    found: dict[str, None] = {}
    while len(found) < count:
        before, length, behind = kinds[int(rng.integers(len(kinds)))]
        found[before + "".join(map(str, rng.integers(10, size=length))) + behind] = None
    return list(found)


def damage(plain: str, kinds: Sequence[str], rng: np.random.Generator) -> str:
    """Return a number damaged in some ways, one after the other."""
    text = list(plain)
    for kind in kinds:
        places = [i for i, one in enumerate(text) if one != UNREADABLE]
        if kind == "confused":
            places = [i for i in places if any(text[i] in group for group in LOOKALIKES)]
        if kind == "swapped":
            places = [i for i in places if i + 1 < len(text) and UNREADABLE != text[i + 1] != text[i]]
        if not places:
            continue
        i = places[int(rng.integers(len(places)))]
        if kind == "unreadable":
            text[i] = UNREADABLE
        elif kind == "dropped":
            del text[i]
        elif kind == "swapped":
            text[i], text[i + 1] = text[i + 1], text[i]
        else:
            group = next(group for group in LOOKALIKES if text[i] in group)
            text[i] = str(rng.choice([one for one in group if one != text[i]]))
    return "".join(text)


@pytest.fixture(scope="module")
def shelf() -> list[str]:
    return invent(1_200, np.random.default_rng(20))


@pytest.fixture(scope="module")
def scored(shelf: list[str]) -> dict[str, list[float]]:
    """Distances of the ten nearest numbers by damaged reading, all scored."""
    rng = np.random.default_rng(7)
    reads = [damage(one, rng.choice(KINDS, size=2).tolist(), rng) for one in rng.choice(shelf, 25).tolist()]
    return {read: sorted(DAMAGE.distance(read, number) for number in shelf)[:10] for read in reads}


@pytest.mark.parametrize("kinds", list(product(KINDS, KINDS)), ids="-".join)
def test_two_damages_hide_no_number_from_the_keys(kinds: tuple[str, str], shelf: list[str]) -> None:
    rng = np.random.default_rng(len(kinds[0]) * 10 + len(kinds[1]))
    index = index_of(shelf, FILED_AT_ONCE)
    for stored in rng.choice(shelf, size=12).tolist():
        read = damage(stored, kinds, rng)
        found = index.like(read, 10)
        true = DAMAGE.distance(read, stored)
        if stored not in names(found):
            assert len(found) == 10, (read, stored)
            assert DAMAGE.distance(read, found[-1].number) <= true + 1e-9, (read, stored)


@ways_to_hold
def test_the_ten_nearest_are_those_of_all_numbers_scored(
    shelf: list[str], scored: dict[str, list[float]], most_unfiled: int
) -> None:
    # Of what lies within two damages at least 0.99 are to be found; one as near counts.
    index = index_of(shelf, most_unfiled)
    asked, got = 0, 0
    for read, nearest in scored.items():
        ours = [DAMAGE.distance(read, match.number) for match in index.like(read, 10)]
        within = [distance for distance in nearest if distance <= 2 * DAMAGE.dropped]
        asked += len(within)
        got += sum(abs(one - other) < 1e-9 for one, other in zip(within, ours, strict=False))
    assert asked > 25
    assert got / asked >= 0.99


changes = st.lists(
    st.one_of(
        st.tuples(st.just("add"), st.integers(0, 9), st.text("0718", min_size=1, max_size=4)),
        st.tuples(st.just("remove"), st.integers(0, 12), st.just("")),
    ),
    max_size=40,
)


@settings(max_examples=60)
@given(changes, st.integers(1, 12), st.text("0718?", min_size=1, max_size=4))
def test_after_any_changes_the_answer_is_that_of_a_new_index(
    steps: list[tuple[str, int, str]], most_unfiled: int, read: str
) -> None:
    index, kept = NumberIndex(most_unfiled=most_unfiled), list[tuple[int, str]]()
    for step, bearer, number in steps:
        if step == "add":
            index.add([(bearer, number)])
            kept.append((bearer, number))
        else:
            index.remove([bearer, 99])
            kept = [one for one in kept if one[0] != bearer]
    fresh = NumberIndex(most_unfiled=NEVER_FILED)
    fresh.add(kept)
    near = 2 * DAMAGE.dropped / (DAMAGE.different * len(normalise(read)))

    def within_two(found: list[NumberMatch]) -> set[NumberMatch]:
        return {one for one in found if one.similarity > 1.0 - near - 1e-9}

    assert within_two(index.like(read, 100)) == within_two(fresh.like(read, 100))
    for ours, new in zip(index.weighed(read, 1), fresh.weighed(read, 1), strict=False):
        assert (ours.log_ratio is None) == (new.log_ratio is None)
        if ours.number == new.number:
            assert ours.log_ratio == pytest.approx(new.log_ratio)


def test_a_change_of_one_number_files_nothing_anew(shelf: list[str]) -> None:
    index = index_of(shelf, 200)
    filed = index.filed_bytes
    index.remove([5])
    index.add([(5, "999-99Z")])
    assert index.filed_bytes == filed
    assert index.like("999-99Z", 1)[0].similarity == 1.0
    assert shelf[5] not in names(index.like(shelf[5], 1))


def test_what_is_mostly_gone_is_filed_anew(shelf: list[str]) -> None:
    index = index_of(shelf, 200)
    filed = index.filed_bytes
    index.remove(range(800))
    assert index.filed_bytes < 0.5 * filed
    assert names(index.like(shelf[1_000], 1)) == [shelf[1_000]]
    index.remove(range(1_200))
    assert index.filed_bytes == 0


def test_a_number_takes_less_than_a_hundred_bytes() -> None:
    rng = np.random.default_rng(1)
    numbers = [f"{one // 1000:03d}-{one % 1000:03d}B" for one in rng.permutation(1_000_000)[:20_000].tolist()]
    assert index_of(numbers, FILED_AT_ONCE).filed_bytes < 100 * len(numbers)


Weigh = Callable[[str], dict[str, float]]


@pytest.fixture
def weigh(shelf: list[str]) -> Weigh:
    index = index_of([*shelf, *STORED])

    def weigh_one(read: str) -> dict[str, float]:
        found = index.weighed(read, 10)
        return {match.number: match.log_ratio for match in found if match.log_ratio is not None}

    return weigh_one


def test_a_number_read_in_full_is_far_likelier_its_own_than_one_on_no_file(weigh: Weigh) -> None:
    assert weigh("708-21B")["708-21B"] > 8.0
    assert weigh("708-21B")["708-21B"] > weigh("7?8-21B")["708-21B"] > weigh("7??-21B")["708-21B"] > 0.0


def test_a_longer_number_says_more_than_a_short_one() -> None:
    index = index_of(["70821538", "708"])
    long, short = index.weighed("70821538", 1)[0], index.weighed("708", 1)[0]
    assert long.log_ratio is not None
    assert short.log_ratio is not None
    assert long.log_ratio > short.log_ratio + 5.0


def test_a_plainly_different_number_speaks_for_one_on_no_file(weigh: Weigh) -> None:
    found = weigh("999-21B")
    assert all(
        ratio < 0.0 for number, ratio in found.items() if DAMAGE.distance("99921B", normalise(number)) > 16
    )
