"""The worlds' truth and oracle, each against a second way to the same answer."""

import sys

import numpy as np
import pytest

from fitworth.families.model import Accepts, BoltPlay, Interval, Percent
from tests.benchmarks.fit_quality import report
from tests.benchmarks.fit_quality.advice import AT_RANDOM, FOLLOWED, GIVEN, compare_courses
from tests.benchmarks.fit_quality.baselines import NO_HIDDEN_MISFIT, Exact, Independent, Program
from tests.benchmarks.fit_quality.metrics import (
    Asked,
    area_under_curve,
    brier,
    calibration_error,
    log_loss,
    score,
)
from tests.benchmarks.fit_quality.oracle import Oracle
from tests.benchmarks.fit_quality.recipes import RECIPES
from tests.benchmarks.fit_quality.record_linkage import SplinkMethod
from tests.benchmarks.fit_quality.windows import Floats, Mask
from tests.benchmarks.fit_quality.worlds import NOT_ON_FILE, Question, World, make_world

DRAWS = 200_000


def fits_plainly(world: World, part: int, question: Question) -> bool:
    """Work out whether a part fits, dimension by dimension, from the family's own words."""
    for place, one in enumerate(world.palette.lengths):
        removed = float(question.sizes_mm[place])
        differs = float(world.sizes_mm[part, place]) - removed
        match one.allowance:
            case Interval(low, high):
                allowed = low <= differs <= high
            case Percent(low, high):
                allowed = low <= 100.0 * differs / removed <= high
            case BoltPlay():
                allowed = abs(differs) <= 0.5
            case _:
                raise AssertionError(one.key)
        bridged = one.cure is not None and one.cure.low <= differs <= one.cure.high
        if not (allowed or bridged):
            return False
    for place, one in enumerate(world.palette.words):
        listed = world.palette.values[place][world.words[world.group[part], place]]
        removed_word = world.palette.values[place][question.codes[place]]
        assert not isinstance(one.allowance, Accepts)
        if listed != removed_word and one.cure is None:
            return False
    return True


@pytest.mark.parametrize("flavour", sorted(RECIPES))
def test_the_truth_is_what_the_familys_own_words_say(flavour: str) -> None:
    world = make_world(flavour, 60, 3)
    questions = world.ask(20)
    for question in questions:
        assert question.truth.tolist() == [fits_plainly(world, part, question) for part in range(60)]
        assert not (question.as_it_comes & ~question.truth).any()
    assert any(question.truth.any() for question in questions)


def test_the_same_seed_makes_the_same_world_and_another_one_another() -> None:
    first, again, other = make_world("bench", 60, 1), make_world("bench", 60, 1), make_world("bench", 60, 2)
    assert first.ask(3)[2].query == again.ask(3)[2].query
    assert np.array_equal(first.sizes_mm, again.sizes_mm)
    assert not np.array_equal(first.sizes_mm, other.sizes_mm)


def test_sheets_have_the_holes_and_the_errors_of_their_recipe() -> None:
    world = make_world("bench", 3000, 1)
    for place, one in enumerate(world.palette.lengths):
        listed, u = world.catalogue.numbers(one.key)
        known = ~np.isnan(listed)
        off = np.abs(listed[known] - world.sizes_mm[known, place])
        assert 0.31 < 1.0 - known.mean() < 0.39
        assert 0.005 < (off > 0.3).mean() < 0.03
        assert np.abs(np.sqrt((off[off < 0.3] ** 2).mean()) - u[known].mean()) < 0.005


class Crowd:
    """Removed parts drawn from a world without any reading; readings weigh them afterwards."""

    def __init__(self, world: World, rng: np.random.Generator) -> None:
        self.world = world
        self.groups = world._draw_groups(DRAWS, by_group=False, rng=rng)
        centres, self.codes = world.centres_mm[self.groups], world.words[self.groups]
        new = np.flatnonzero(self.groups == NOT_ON_FILE)
        centres[new], self.codes[new] = world._draw_new(len(new), rng)
        self.sizes = world.palette.scatter(rng, centres)

    def weights(self, question: Question) -> Floats:
        """Return how likely the readings are for each, from its true sizes."""
        recipe = self.world.recipe
        weights = np.ones(DRAWS)
        for place, read in enumerate(question.read_mm):
            if not np.isnan(read):
                low, high = self.world.palette.ends_mm[place]
                z = (read - self.sizes[:, place]) / recipe.measured_u_mm
                sound = np.exp(-0.5 * z * z) / (np.sqrt(2.0 * np.pi) * recipe.measured_u_mm)
                gross = 1.0 / (high - low) if low <= read <= high else 0.0
                weights *= (1.0 - recipe.gross_measured) * sound + recipe.gross_measured * gross
        for place, code in enumerate(question.read_codes):
            if code >= 0:
                wrong = recipe.word_wrong_measured / (len(self.world.palette.values[place]) - 1)
                right = 1.0 - recipe.word_wrong_measured
                weights *= np.where(self.codes[:, place] == code, right, wrong)
        return np.asarray(weights / weights.sum())

    def fits(self, part: int) -> Mask:
        """Return which removed parts a part on file fits."""
        world = self.world
        inside = (self.sizes >= world.least_mm[part]) & (self.sizes <= world.greatest_mm[part])
        fits = np.asarray(inside.all(axis=1))
        for place, table in enumerate(world.does):
            fits &= table[world.words[world.group[part], place], self.codes[:, place]]
        return fits


@pytest.mark.parametrize("flavour", ["bench", "coil", "scattered"])
def test_the_oracle_agrees_with_removed_parts_drawn_by_the_hundred_thousand(flavour: str) -> None:
    world = make_world(flavour, 60, 5)
    crowd = Crowd(world, np.random.default_rng(1))
    fits = np.array([crowd.fits(part) for part in range(60)])
    exact = Oracle(world)
    compared = 0
    for question in world.ask(30):
        weights = crowd.weights(question)
        error = np.sqrt((weights**2).sum())
        if error > 0.025:  # too few of the crowd could have been read so
            continue
        known = exact.answer(question)
        tolerance = 4.0 * error
        assert np.abs(fits @ weights - known.fits).max() < tolerance
        assert (
            abs(weights[~fits.any(axis=0)].sum() - known.none_fits) < tolerance + 4.0 * known.none_fits_error
        )
        assert abs(weights[crowd.groups == NOT_ON_FILE].sum() - known.not_on_file) < tolerance
        compared += 1
    assert compared > 8


def test_of_a_hundred_parts_that_the_oracle_gives_0_8_eighty_fit() -> None:
    said, so, none, none_so = [], [], [], []
    for seed in range(15):
        world = make_world("bench", 60, seed)
        exact = Oracle(world, draws=100)
        for question in world.ask(40):
            known = exact.answer(question)
            said.append(known.fits)
            so.append(question.truth)
            none.append(known.none_fits)
            none_so.append(question.none_fits)
    sure, true = np.concatenate(said), np.concatenate(so).astype(np.float64)
    assert calibration_error(sure, true) < 0.015
    assert calibration_error(np.array(none), np.array(none_so, np.float64)) < 0.025
    middle = (sure > 0.2) & (sure < 0.8)
    assert abs((sure - true)[middle].mean()) < 0.05


def test_removed_parts_drawn_by_groups_are_answered_by_groups() -> None:
    world = make_world("bench", 60, 2)
    counts = np.bincount(world.group)
    asked = np.array([question.group for question in world.ask(2000, by_group=True)])
    shares = np.bincount(asked[asked >= 0], minlength=len(counts)) / (asked >= 0).sum()
    assert np.abs(shares - 1.0 / len(counts)).max() < 0.03
    question = world.ask(1, by_group=True)[0]
    by_part, by_group = (Oracle(world, by_group=flag).answer(question).groups for flag in (False, True))
    likely = np.flatnonzero(by_part > 1e-12)
    ratio = by_part[likely] / by_group[likely] / counts[likely]
    assert np.allclose(ratio, ratio[0])


def test_no_method_beats_the_oracle_on_its_own_candidates() -> None:
    world = make_world("bench", 400, 4)
    questions, exact = world.ask(60), Oracle(world)
    known = [exact.answer(question) for question in questions]
    asked = [
        Asked(question.truth, question.as_it_comes, question.not_on_file, one.fits)
        for question, one in zip(questions, known, strict=True)
    ]
    for method in (Program(), Independent()):
        assert score(method.answer(world, questions), asked).ratio > 1.0
    assert score(Exact(known).answer(world, questions), asked).ratio == pytest.approx(1.0)


def test_following_the_advice_takes_no_more_measurements_than_chance() -> None:
    world = make_world("clean", 60, 1)
    courses = {course.way: course for course in compare_courses(world, world.ask(12), NO_HIDDEN_MISFIT)}
    assert courses[FOLLOWED].measurements <= courses[AT_RANDOM].measurements
    for course in courses.values():
        assert GIVEN <= course.measurements <= 12
        assert 0.0 < course.certain <= 1.0
        assert course.right > 0.8


def test_without_the_record_linkage_its_rows_are_left_out_loudly(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(SplinkMethod, "missing", staticmethod(lambda: True))
    monkeypatch.setattr(sys, "argv", ["fit_quality", "--quick", "--sizes", "60", "--queries", "12"])
    report.main()
    printed = capsys.readouterr().out
    rows = [line.split()[2] for line in printed.splitlines() if line.startswith("bench")]
    assert rows == ["oracle", "fitworth", "independent"]
    assert "SPLINK IS NOT INSTALLED" in printed


def test_scores_are_those_that_hand_calculation_gives() -> None:
    said, true = np.array([0.1, 0.9, 0.8, 0.3]), np.array([0.0, 1.0, 1.0, 0.0])
    assert brier(said, true) == pytest.approx(0.0375)
    assert log_loss(said, true) == pytest.approx(-np.log([0.9, 0.9, 0.8, 0.7]).mean())
    assert log_loss(np.array([0.0]), np.array([1.0])) == pytest.approx(-np.log(1e-4))
    assert calibration_error(said, true) == pytest.approx((0.1 + 0.1 + 0.2 + 0.3) / 4)
    assert area_under_curve(np.array([0.1, 0.4, 0.35, 0.8]), np.array([0.0, 0.0, 1.0, 1.0])) == 0.75
    assert np.isnan(area_under_curve(said, np.zeros(4)))
