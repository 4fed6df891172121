"""How probable it is that a stored number was read as it was."""

import math
from dataclasses import replace
from functools import cache
from itertools import combinations, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitworth.matching.numbers import DAMAGE, LOOKALIKES, Damage, DamageModel
from fitworth.matching.numbers.bounds import LeastDistance
from fitworth.matching.numbers.damage import LEAST
from fitworth.matching.numbers.damage_model import CONFUSED
from fitworth.matching.numbers.text import SHORTEST_STEM, list_stems

MODEL = DAMAGE.model
SYMBOLS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ?"

readings = st.text("0O8B51I27AX?", min_size=1, max_size=7)
stored_ones = st.text("0O8B51I27AX", min_size=1, max_size=7)
digits = st.text("0123", min_size=1, max_size=6)


def test_nothing_is_like_nothing() -> None:
    assert DAMAGE.similarity("", "") == 0.0
    assert DAMAGE.similarity("", "708") == 0.0


def test_what_is_wholly_unlike_has_the_least_similarity_and_probability() -> None:
    assert DAMAGE.similarity("ZZZZZZ", "9") == 0.0
    assert DAMAGE.log_likelihood("Z" * 120, "9" * 120) == pytest.approx(math.log(LEAST))


@pytest.mark.parametrize(
    ("read", "odds"),
    [
        ("?0821B", MODEL.unreadable),
        ("7O821B", dict(CONFUSED)["0O"] + MODEL.different / 35),
        ("70321B", MODEL.different / 35),
        ("07821B", MODEL.swapped),
        ("7081B", MODEL.dropped),
        ("708211B", MODEL.added / 37),
        ("70821", MODEL.suffix_dropped),
        ("7?28B", None),
    ],
    ids=["unreadable", "look-alike", "different", "swapped", "dropped", "added", "suffix", "several"],
)
def test_each_damage_costs_minus_the_logarithm_of_its_share(read: str, odds: float | None) -> None:
    expected = DAMAGE.unreadable + DAMAGE.swapped + DAMAGE.dropped if odds is None else -math.log(odds)
    assert DAMAGE.distance(read, "70821B") == pytest.approx(expected)
    assert DAMAGE.similarity(read, "70821B") == pytest.approx(1 - expected / (DAMAGE.different * len(read)))


def test_a_zero_is_rather_read_as_an_o_than_as_a_d_and_rather_so_than_as_a_seven() -> None:
    assert DAMAGE.exchange("O", "0") < DAMAGE.exchange("D", "0") < DAMAGE.exchange("7", "0")


def test_look_alikes_are_those_that_are_folded_and_no_others() -> None:
    folded = {frozenset(pair) for group in LOOKALIKES for pair in combinations(group, 2)}
    assert {frozenset(pair) for pair, _ in CONFUSED} == folded


@pytest.mark.parametrize(
    ("stored", "stems"),
    [
        ("20814", []),
        ("CARB20814", []),
        ("AB12", []),
        ("BK208C", ["208C", "BK208"]),
        ("BK2081", ["2081"]),
        ("Q1942TX", ["1942TX", "Q1942", "1942"]),
    ],
)
def test_a_stem_is_what_prefix_and_suffix_leave(stored: str, stems: list[str]) -> None:
    assert [stem for stem, *_ in list_stems(stored)] == stems
    assert all(len(stem) >= SHORTEST_STEM for stem in stems)


def test_a_missing_prefix_of_any_length_costs_one_damage() -> None:
    assert DAMAGE.distance("20814", "HBK20814") == pytest.approx(-math.log(MODEL.prefix_dropped))
    both = -math.log(MODEL.prefix_dropped) - math.log(MODEL.suffix_dropped)
    assert DAMAGE.distance("20814", "HBK20814AB") == pytest.approx(both)
    read_in_full = DAMAGE.log_likelihood("20814", "20814")
    share = MODEL.prefix_dropped / (1 + MODEL.prefix_dropped)
    assert DAMAGE.log_likelihood("20814", "HBK20814") == pytest.approx(
        read_in_full + math.log(share), abs=1e-3
    )


@given(readings, stored_ones)
def test_the_distance_is_that_of_the_plain_recursion(read: str, stored: str) -> None:
    ways = [(stored, 0.0)]
    ways += [(stem, p * DAMAGE.prefix + s * DAMAGE.suffix) for stem, p, s in list_stems(stored)]
    # Without prefix or suffix it is not worth while unless something is missing.
    some = ways if len(read) < len(stored) else ways[:1]
    expected = min(cost + plain_distance(read, one) for one, cost in some)
    assert DAMAGE.distance(read, stored) == pytest.approx(expected, abs=1e-9)


@cache
def plain_distance(read: str, stored: str) -> float:
    if not read or not stored:
        return len(read) * DAMAGE.added + len(stored) * DAMAGE.dropped
    ways = [
        plain_distance(read[:-1], stored[:-1]) + DAMAGE.exchange(read[-1], stored[-1]),
        plain_distance(read[:-1], stored) + DAMAGE.added,
        plain_distance(read, stored[:-1]) + DAMAGE.dropped,
    ]
    if len(read) > 1 and len(stored) > 1 and read[-2:] == stored[:-3:-1] and read[-1] != read[-2]:
        ways.append(plain_distance(read[:-2], stored[:-2]) + DAMAGE.swapped)
    return min(ways)


@given(readings, stored_ones)
def test_similarity_is_whole_only_for_the_same(read: str, stored: str) -> None:
    found = DAMAGE.similarity(read, stored)
    assert 0.0 <= found <= 1.0
    assert (found == 1.0) == (read == stored)


@given(st.sampled_from(SYMBOLS[:-1]), st.sampled_from(SYMBOLS[:-1]))
def test_one_character_is_as_likely_taken_for_another_either_way(one: str, other: str) -> None:
    assert DAMAGE.exchange(one, other) == DAMAGE.exchange(other, one)


@given(digits, st.data())
def test_exchanges_and_swaps_cost_the_same_either_way(one: str, data: st.DataObject) -> None:
    other = data.draw(st.text("0123", min_size=len(one), max_size=len(one)))
    if len([place for place in range(len(one)) if one[place] != other[place]]) <= 1:
        assert DAMAGE.distance(one, other) == pytest.approx(DAMAGE.distance(other, one))
    swapped = one[1::-1] + one[2:]
    assert DAMAGE.distance(one, swapped) == DAMAGE.distance(swapped, one)


@given(digits, digits, digits, digits)
def test_two_pieces_read_together_are_no_further_than_apart(a: str, b: str, c: str, d: str) -> None:
    apart = DAMAGE.distance(a, b) + DAMAGE.distance(c, d)
    assert DAMAGE.distance(a + c, b + d) <= apart + 1e-9


@given(digits, digits)
def test_it_is_the_same_from_behind(read: str, stored: str) -> None:
    assert DAMAGE.distance(read[::-1], stored[::-1]) == pytest.approx(DAMAGE.distance(read, stored))


@given(readings, stored_ones)
def test_no_number_is_nearer_than_its_plain_edits_allow(read: str, stored: str) -> None:
    assert LeastDistance(read, DAMAGE).of(stored) <= DAMAGE.distance(read, stored) + 1e-9


@given(readings, stored_ones)
def test_all_damages_together_are_likelier_than_the_likeliest(read: str, stored: str) -> None:
    undamaged = DAMAGE.log_likelihood(stored, stored)
    assert DAMAGE.log_likelihood(read, stored) >= undamaged - DAMAGE.distance(read, stored) - 0.02


@pytest.mark.parametrize("stored", ["7", "08", "BB"])
def test_the_probabilities_of_all_readings_add_up_to_one(stored: str) -> None:
    short = Damage(replace(MODEL, added=1e-9))
    every = ("".join(some) for length in range(3) for some in product(SYMBOLS, repeat=length))
    total = sum(math.exp(short.log_likelihood(read, stored)) for read in every)
    assert total == pytest.approx(1.0, abs=1e-6)


def test_what_may_be_added_anywhere_adds_up_too() -> None:
    every = ("".join(some) for length in range(3) for some in product(SYMBOLS, repeat=length))
    total = sum(math.exp(DAMAGE.log_likelihood(read, "7")) for read in every)
    assert 1.0 - 2e-4 < total < 1.0  # two added ones are left out


def test_a_model_of_more_damage_believes_a_damaged_reading_sooner() -> None:
    worn = Damage(replace(DamageModel(), unreadable=0.3))
    assert worn.log_likelihood("7?8", "708") > DAMAGE.log_likelihood("7?8", "708")
    assert worn.log_likelihood("708", "708") < DAMAGE.log_likelihood("708", "708")
