"""Numbers and engines as evidence."""

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
import pytest

from fitworth.matching.catalogue import Catalogue
from fitworth.matching.evidence import INTERCHANGE, NumberEvidence, engine_ratio, number_ratio
from fitworth.matching.numbers import DAMAGE, NumberIndex, NumberMatch
from fitworth.matching.parameters import FitModel

MODEL = FitModel()
Filled = Callable[..., Catalogue]


def read(**similarities: float) -> NumberEvidence:
    return NumberEvidence("marking", {int(k[1:]): NumberMatch("708", s) for k, s in similarities.items()})


def test_a_match_that_is_not_on_file_is_passed_over(filled: Filled) -> None:
    found = number_ratio(filled(*[{}] * 3), read(p9=1.0), MODEL)
    assert found.ratio.tolist() == [0.5, 0.5, 0.5]


def test_a_number_read_in_full_speaks_louder_on_a_long_file(filled: Filled) -> None:
    short, long = (number_ratio(filled(*[{}] * n), read(p1=1.0), MODEL) for n in (4, 400))
    assert long.ratio[0] > short.ratio[0] > 1.0 > short.ratio[1]
    # Half of such parts bear the number on file; 3 % of the others bear one that is not theirs.
    assert long.ratio[0] == pytest.approx(0.5 + 0.5 * 400 / 0.03, rel=2e-2)


def test_two_numbers_as_like_share_what_one_says(filled: Filled) -> None:
    catalogue = filled(*[{}] * 10)
    alone = number_ratio(catalogue, read(p1=0.9), MODEL).ratio[0]
    shared = number_ratio(catalogue, read(p1=0.9, p2=0.9), MODEL).ratio
    assert alone > shared[0] == shared[1] > shared[2]


def test_a_number_without_any_likeness_speaks_for_none_on_file(filled: Filled) -> None:
    unlike = NumberEvidence("marking", {1: NumberMatch("708", 0.2, -9.0), 2: NumberMatch("711", 0.0)})
    found = number_ratio(filled(*[{}] * 3), unlike, MODEL)
    assert found.ratio.tolist() == pytest.approx([0.5, 0.5, 0.5], abs=1e-3)
    assert found.silent.tolist() == [False, True, True]


def test_the_rarest_number_that_can_be_read_stays_finite(filled: Filled) -> None:
    found = number_ratio(
        filled(*[{}] * 3), NumberEvidence("marking", {1: NumberMatch("7" * 200, 1.0, 900.0)}), MODEL
    )
    assert found.ratio[0] == pytest.approx(0.5 + 0.5 * 3 / 0.03)


def wear(number: str, rng: np.random.Generator) -> str:
    """Return what is read of a number under the damage model."""
    model, read, place = DAMAGE.model, "", 0
    pairs = dict(model.confused)
    while place < len(number):
        here = number[place]
        others = [other for pair in pairs if here in pair for other in pair.replace(here, "")]
        shares = [pairs.get(here + other) or pairs[other + here] for other in others]
        ways = ["", *others, "?", "dropped", "swapped", str(rng.choice(list("2347XK")))]
        odds = [1.0, *shares, model.unreadable, model.dropped, model.swapped, model.different]
        way = str(rng.choice(ways, p=np.array(odds) / sum(odds)))
        if way == "swapped":
            read += number[place : place + 2][::-1]
            place += 1
        else:
            read += here if way == "" else "" if way == "dropped" else way
        place += 1
    return read


def test_of_a_hundred_numbers_believed_as_much_so_many_are_right(filled: Filled) -> None:
    # A hundred parts with numbers as like as those of one maker are; one removed part in ten is on no file.
    rng = np.random.default_rng(3)
    count, questions = 100, 700
    every = [f"7{one:04d}" for one in rng.permutation(10_000)[: 2 * count].tolist()]
    index = NumberIndex()
    index.add(enumerate(every[:count], start=1))
    catalogue, believed, right = filled(*[{}] * count), np.zeros(questions), np.zeros(questions, np.bool_)
    for question in range(questions):
        true = int(rng.integers(count)) if rng.random() > MODEL.not_on_file else None
        misled = int(rng.integers(count)) if rng.random() < MODEL.number_misleads else count
        bears = misled + int(rng.integers(count)) * (misled == count)
        if true is not None and rng.random() < MODEL.number_carried:
            bears = true
        matches = {match.bearers[0]: match for match in index.weighed(wear(every[bears], rng), 25)}
        ratio = number_ratio(catalogue, NumberEvidence("marking", matches), MODEL).ratio.astype(np.float64)
        weights = ratio * (1.0 - MODEL.not_on_file) / count
        best = int(weights.argmax())
        believed[question] = weights[best] / (weights.sum() + MODEL.not_on_file)
        right[question] = best == true
    sure = believed > 0.5
    assert 200 < sure.sum() < 500
    assert believed[sure].mean() == pytest.approx(right[sure].mean(), abs=0.03)
    assert believed[~sure].mean() == pytest.approx(right[~sure].mean(), abs=0.03)
    assert np.mean((believed - right) ** 2) < 0.06


def test_nothing_stated_says_nothing(filled: Filled) -> None:
    found = engine_ratio(filled({}, {}), "Harrowmere H206", MODEL)
    assert found.ratio.tolist() == [1.0, 1.0]
    assert found.silent.all()


def test_a_listing_that_names_the_engine_speaks_for_its_part(filled: Filled) -> None:
    stated = [["Harrowmere H206", "Ostler 163"], ["Harrowmere H389"], [], ["Vennor V88"], ["H 206"]]
    found = engine_ratio(filled(*[{}] * 5, stated=stated), "harrowmere h206", MODEL)
    named, other, silent, stranger, spaced = found.ratio
    assert named > silent == 1.0 > other >= stranger
    assert found.similarity[0] == 1.0
    assert found.silent.tolist() == [False, False, True, False, False]
    assert spaced < named


def test_an_engine_that_every_listing_names_tells_nothing_against_them(filled: Filled) -> None:
    found = engine_ratio(filled(*[{}] * 9, stated=[["H206"]] * 9), "H206", MODEL)
    assert np.all(found.ratio == 1.0)


def linked(strengths: Mapping[int, float], *bearers: int) -> NumberEvidence:
    return NumberEvidence(INTERCHANGE, {part: NumberMatch("708", 1.0) for part in bearers}, strengths)


def test_a_statement_about_parts_that_are_not_on_file_says_nothing(filled: Filled) -> None:
    for strengths in ({}, {9: 0.8}, {1: 0.0}):
        found = number_ratio(filled({}, {}), linked(strengths), MODEL)
        assert found.ratio.tolist() == [1.0, 1.0]
        assert found.silent.all()


def test_a_statement_alone_weighs_what_its_probability_says(filled: Filled) -> None:
    found = number_ratio(filled(*[{}] * 100), linked({3: 0.8}), MODEL)
    prior = np.full(100, (1.0 - MODEL.not_on_file) / 100)
    posterior = prior * found.ratio
    posterior /= posterior.sum() + MODEL.not_on_file
    # 0.8 of strength times 0.9 of truth, and what little the part had before.
    right = 0.8 * MODEL.interchange_truth
    assert posterior[2] == pytest.approx(right + (1.0 - right) * prior[0], abs=1e-6)
    assert (found.kind, found.similarity[2]) == (INTERCHANGE, np.float32(0.8))
    assert found.silent.tolist() == [place != 2 for place in range(100)]


def test_several_stand_ins_share_what_the_surest_statement_says(filled: Filled) -> None:
    found = number_ratio(filled(*[{}] * 100), linked({1: 0.8, 2: 0.4, 9: 0.4}), MODEL)
    alone = number_ratio(filled(*[{}] * 100), linked({1: 0.8}), MODEL)
    gained = found.ratio - 1.0
    assert gained.sum() == pytest.approx(alone.ratio[0] - 1.0, rel=1e-6)
    assert gained[0] == pytest.approx(2 * gained[1], rel=1e-6)


def test_beside_a_part_of_the_known_number_a_stand_in_counts_as_far_as_its_statement(filled: Filled) -> None:
    catalogue = filled(*[{}] * 100)
    number = number_ratio(
        catalogue, NumberEvidence("known_number", {1: NumberMatch("708", 1.0)}), MODEL
    ).ratio
    found = number_ratio(catalogue, linked({2: 0.5, 3: 1.0}, 1), MODEL).ratio
    assert found[0] == found[4] == 1.0
    both = number * found
    truth = MODEL.interchange_truth
    assert both[2] == pytest.approx(truth * both[0] + (1.0 - truth) * both[4], rel=1e-6)
    assert both[0] > both[2] > both[1] > both[4]


def test_a_statement_that_cannot_be_wrong_stays_finite(filled: Filled) -> None:
    sure = replace(MODEL, interchange_truth=1.0)
    found = number_ratio(filled({}, {}), linked({1: 1.0}), sure)
    assert np.isfinite(found.ratio).all()
    assert found.ratio[0] > 10_000
