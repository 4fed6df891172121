"""The candidates of a query, with what they may be and how they stand."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitworth.matching.allowances import rules_of
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.groups.candidates import Lineup, Question, line_up, runs_of, shorten
from fitworth.matching.groups.evidence import group_prior
from fitworth.matching.groups.membership import Groups
from fitworth.matching.groups.query import Weights, readings_of, tell, weigh_designs
from fitworth.matching.parameters import FitModel
from fitworth.quantities.quantity import Quantity, Value

MODEL = FitModel()
NOBODY = np.zeros(0, np.int64)
Shelf = tuple[Catalogue, Groups]
Length = Callable[..., Quantity]
Ask = Callable[..., Question]


@pytest.fixture
def ask(shelf: Shelf) -> Ask:
    """Return the question about a removed part of which some dimensions were measured."""
    catalogue, groups = shelf

    def put(model: FitModel = MODEL, **measured: Value) -> Question:
        by_key = {rule.dimension.key: rule for rule in rules_of(catalogue.family, measured, model)[0]}
        rules = tuple(by_key[rule.dimension.key] for rule in groups.rules)
        codes = [
            None
            if rule.measured is None or rule.number
            else float(catalogue.code_of(rule.dimension, rule.measured))
            for rule in rules
        ]
        readings = readings_of(rules, codes, model)
        told = tell(groups, readings)
        weights = weigh_designs(group_prior(groups, ()), told, groups.partition.learned, model.not_on_file)
        return Question(groups, rules, readings, told, weights, shorten(weights, model), model)

    return put


def weights_of(*own: float, relative: float = 0.05) -> Weights:
    return Weights(np.array(own), np.full(len(own), relative / len(own)), 1.0 - sum(own) - relative, 0.0)


def test_few_hypotheses_are_all_kept_heaviest_first() -> None:
    kept = shorten(weights_of(0.1, 0.5, 0.2), MODEL)
    assert kept.groups.tolist() == [1, 2, 0]
    assert kept.weights.tolist() == [0.5, 0.2, 0.1]
    assert kept.away == pytest.approx(0.2)


@settings(max_examples=50)
@given(st.integers(65, 300), st.integers(0, 1000), st.floats(0.1, 6.0))
def test_many_are_shortened_and_keep_their_total_weight(count: int, seed: int, uneven: float) -> None:
    own = np.random.default_rng(seed).random(count) ** uneven
    own *= 0.9 / own.sum()
    kept = shorten(weights_of(*own.tolist()), MODEL)
    assert kept.weights.sum() + kept.away == pytest.approx(1.0)
    assert (
        len(kept.groups)
        == len(set(kept.groups.tolist()))
        <= MODEL.likely_hypotheses + MODEL.sampled_hypotheses
    )
    assert (np.diff(kept.weights) <= 0.0).all()
    order = np.argsort(-own, kind="stable")
    passed_over = own[~np.isin(np.arange(count), kept.groups)].sum()
    for group in order[: min(MODEL.likely_hypotheses, len(kept.groups))].tolist():
        # What may go unheeded is spread over the others.
        assert group in kept.groups
        assert kept.weights[kept.groups == group] == pytest.approx(own[group], rel=2.0 * MODEL.least_weight)
    assert len(kept.groups) >= MODEL.likely_hypotheses or passed_over <= MODEL.least_weight


def test_a_group_of_no_weight_is_not_sampled() -> None:
    kept = shorten(weights_of(*[0.9 / 48] * 48, *[0.0] * 40), MODEL)
    assert sorted(kept.groups.tolist()) == list(range(48))
    assert kept.weights.sum() == pytest.approx(0.9)


def runs_in_all(question: Question, lineup: Lineup) -> np.ndarray:
    """Return how likely each candidate runs, over all hypotheses."""
    runs, away = runs_of(lineup.standings, question.kin)
    table = np.concatenate(((lineup.designs @ away.in_all)[:, None], lineup.designs @ runs.in_all), axis=1)
    return np.asarray(table @ np.concatenate(([question.hypotheses.away], question.hypotheses.weights)))


def test_every_candidate_is_of_some_design(ask: Ask, mm: Length) -> None:
    lineup = line_up(ask(throttle_bore=mm(16.0)), NOBODY)
    whole = lineup.designs.sum(axis=1)  # what is hardly likely is left out
    assert whole.max() <= 1.0 + 1e-6
    assert whole.min() > 0.95
    assert lineup.designs.shape[1] == len(lineup.sizes) == len(lineup.own) == len(lineup.centres.value)


def test_members_of_the_measured_design_run_and_others_do_not(ask: Ask, mm: Length) -> None:
    question = ask(
        throttle_bore=mm(16.0), body_length=mm(56.5), bowl_depth=mm(40.0), choke_type="manual_lever"
    )
    lineup = line_up(question, NOBODY)
    chances = dict(zip(lineup.rows.tolist(), runs_in_all(question, lineup).tolist(), strict=True))
    assert min(chances[row] for row in range(6)) > 0.75
    assert max(chances[row] for row in range(6, 15)) < 0.1


def test_a_design_runs_for_certain_in_place_of_itself(ask: Ask, mm: Length) -> None:
    question = ask(throttle_bore=mm(16.0), body_length=mm(56.5))
    lineup = line_up(question, NOBODY)
    runs, away = runs_of(lineup.standings, question.kin)
    assert lineup.standings.certain.any(axis=0).all()
    assert (runs.as_it_comes[lineup.standings.certain] == 1.0).all()
    assert (runs.in_all[lineup.standings.certain] == 1.0).all()
    for table in (runs.as_it_comes, runs.in_all, away.as_it_comes, away.in_all):
        assert table.min() >= 0.0
        assert table.max() <= 1.0
    assert (runs.in_all >= runs.as_it_comes - 1e-9).all()


def test_a_design_is_as_likely_the_removed_parts_relative_as_the_weights_say(ask: Ask, mm: Length) -> None:
    question = ask(throttle_bore=mm(16.0))
    lineup = line_up(question, NOBODY)
    expected = question.weights.relative[lineup.own] / question.weights.away
    assert lineup.standings.away_kin == pytest.approx(expected)


def test_the_makers_scatter_takes_little_from_a_wide_allowance_and_more_from_a_narrow_one(
    ask: Ask, mm: Length
) -> None:
    for key, value, most in (("throttle_bore", 16.0, 0.15), ("throttle_link_hole_radius", 18.0, 0.15)):
        question = ask(**{key: mm(value, 0.02)})
        lineup = line_up(question, NOBODY)
        assert lineup.scattered.as_it_comes.min() >= 0.0
        assert lineup.scattered.as_it_comes.max() < most
        assert (lineup.scattered.in_all <= lineup.scattered.as_it_comes + 1e-12).all()
    uncertain = line_up(ask(throttle_link_hole_radius=mm(18.0, 0.5)), NOBODY)
    assert uncertain.scattered.as_it_comes.max() >= lineup.scattered.as_it_comes.max()


def test_whoever_is_asked_for_is_among_the_candidates(ask: Ask, mm: Length, shelf: Shelf) -> None:
    few = replace(MODEL, most_candidates=3, likely_hypotheses=1, sampled_hypotheses=0, likely_relatives=1)
    question = ask(few, throttle_bore=mm(16.0), body_length=mm(56.5))
    assert len(question.hypotheses.groups) == 1
    plain = line_up(question, NOBODY)
    assert len(plain.rows) == 3
    assert set(plain.rows.tolist()) <= set(range(6))
    wanted = line_up(question, np.array([14, 8]))
    assert {8, 14} <= set(wanted.rows.tolist())
    assert shelf[1].partition.labels[8] in wanted.own


def test_two_designs_are_relatives_with_less_probability_the_more_there_are(ask: Ask, shelf: Shelf) -> None:
    question = ask()
    n_groups = len(question.weights.group)
    assert question.kin == pytest.approx(2.0 * shelf[1].partition.learned.related / n_groups)
    alone = replace(question, weights=weights_of(0.9))
    assert alone.kin == pytest.approx(shelf[1].partition.learned.related)
