"""What a number on no file looks like."""

import math
from itertools import product

import pytest

from fitworth.matching.numbers.characters import LENGTH_FALLS, LONGEST, USUAL_LENGTH, WEIGHT, Characters

UNREADABLE_SHARE = 0.05


def log_probability(read: str, *plains: str) -> float:
    characters = Characters()
    characters.count(plains)
    return characters.log_probability(read, UNREADABLE_SHARE)


def test_without_any_number_on_file_the_usual_one_has_seven_digits() -> None:
    usual = log_probability("7082115")
    assert usual > log_probability("70821153")
    assert usual > log_probability("XKYZWQV")
    assert log_probability("708Ж") < log_probability("7081")


def test_what_is_common_on_file_says_less() -> None:
    shelf = [f"{place}B" for place in range(100, 400)]
    assert log_probability("555B", *shelf) > log_probability("555X", *shelf)
    assert log_probability("555B", *shelf) > log_probability("B555", *shelf)
    assert log_probability("555B", *shelf) > log_probability("5555B", *shelf)


def test_what_was_counted_out_again_counts_no_more() -> None:
    characters = Characters()
    characters.count(["7081", "XK2"])
    characters.count(["XK2"], -1)
    characters.count([])
    assert characters.log_probability("XK2", UNREADABLE_SHARE) == log_probability("XK2", "7081")


def test_an_unreadable_character_counts_as_often_as_there_are_such() -> None:
    share = UNREADABLE_SHARE / (1 + UNREADABLE_SHARE)
    seen = [log_probability(f"7{x}8", "708", "718") for x in "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZЖ"]
    whole = math.log(sum(math.exp(one) for one in seen))
    assert log_probability("7?8", "708", "718") == pytest.approx(
        whole + math.log(share) + math.log1p(UNREADABLE_SHARE), abs=1e-9
    )


@pytest.mark.parametrize(("length", "on_file"), [(1, 1), (2, 2)])
def test_all_readings_of_a_length_add_up_to_the_share_of_that_length(length: int, on_file: int) -> None:
    symbols = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZЖ?"
    every = ("".join(some) for some in product(symbols, repeat=length))
    total = sum(math.exp(log_probability(read, "08", "7", "11", "123")) for read in every)
    falling = [LENGTH_FALLS ** abs(n - USUAL_LENGTH) for n in range(1, LONGEST + 1)]
    usual = falling[length - 1] / sum(falling)
    assert total == pytest.approx((on_file + WEIGHT * usual) / (4 + WEIGHT))


def test_a_number_longer_than_any_is_still_possible() -> None:
    assert math.isfinite(log_probability("7" * (LONGEST + 30), "9" * (LONGEST + 5)))
