"""Doubtful entries against the errors that were planted."""

import pytest

from fitworth.matching.entry_slips import DoubtModel
from tests.benchmarks.fit_quality.doubts import Found, judge, planted
from tests.benchmarks.fit_quality.worlds import make_world


def judged(flavour: str, least_probability: float) -> Found:
    doubts = DoubtModel(least_probability=least_probability)
    first, second = (judge(make_world(flavour, 400, seed), doubts) for seed in (1, 2))
    return first.plus(second)


def test_a_world_has_as_many_errors_as_its_recipe_plants() -> None:
    world = make_world("bench", 3000, 1)
    lengths = {one.key for one in world.palette.lengths}
    errors = planted(world)
    cells = 3000 * (1.0 - world.recipe.missing)
    sizes = sum(key in lengths for _, key in errors)
    assert sizes == pytest.approx(cells * len(lengths) * world.recipe.gross_listed, rel=0.2)
    words = cells * len(world.palette.words) * world.recipe.word_wrong_listed
    assert len(errors) - sizes == pytest.approx(words, rel=0.3)


# Measured over four worlds of 400 parts each: precision 0.96, 0.93, 0.99; recall 0.75, 0.53, 0.53.
@pytest.mark.parametrize(
    ("flavour", "precision", "recall"), [("bench", 0.88, 0.60), ("coil", 0.84, 0.38), ("inch", 0.90, 0.40)]
)
def test_what_is_listed_is_wrong_and_much_of_what_is_wrong_is_listed(
    flavour: str, precision: float, recall: float
) -> None:
    found = judged(flavour, 0.9)
    assert found.precision >= precision
    assert found.recall >= recall
    assert abs(found.precision - found.said / found.listed) < 0.1


# Measured over four worlds: precision 0.89 where 0.93 was said, recall 0.90.
def test_entries_likelier_wrong_than_not_are_about_as_often_wrong_as_is_said() -> None:
    found = judged("bench", 0.5)
    assert found.recall > 0.8
    assert abs(found.precision - found.said / found.listed) < 0.1
