"""Condition of the removed part: refused words, the finding that decides."""

import pytest

from fitworth.advice.assumptions import Asked, Assumptions
from fitworth.advice.condition import CURE_TABLES, find_cures
from fitworth.errors import InvalidValueError

TABLE = CURE_TABLES["carburetor"]


def test_unknown_words_are_refused_all_at_once_with_the_known_ones(assumptions: Assumptions) -> None:
    with pytest.raises(InvalidValueError) as refusal:
        find_cures(TABLE, {"colour": "red", "body": "rusty", "shaft": "worn"}, None, Asked(assumptions))
    known = "fuel_deposit, needle_and_seat, body, shaft, flange"
    assert [(fault.where, fault.says) for fault in refusal.value.faults] == [
        ("/colour", f'"colour" is nothing to look at here; known are {known}.'),
        ("/body", '"body" can be clean, light, pitted.'),
    ]


@pytest.mark.parametrize(
    ("condition", "seat_replaceable", "clean", "kit", "relapse"),
    [
        ({}, None, 0.45, 0.55, 0.15),
        ({"body": "light", "needle_and_seat": "good"}, None, 0.45, 0.55, 0.15),
        ({"fuel_deposit": "dirty"}, None, 0.80, 0.88, 0.08),
        ({"needle_and_seat": "worn"}, None, 0.12, 0.85, 0.06),
        ({"needle_and_seat": "corroded"}, True, 0.08, 0.60, 0.12),
        ({"needle_and_seat": "corroded"}, False, 0.05, 0.15, 0.20),
        ({"needle_and_seat": "corroded"}, None, 0.05, 0.15, 0.20),
        ({"fuel_deposit": "varnish_hard", "flange": "warped"}, None, 0.40, 0.55, 0.18),
    ],
)
def test_the_worst_finding_decides(
    assumptions: Assumptions,
    condition: dict[str, str],
    seat_replaceable: bool | None,
    clean: float,
    kit: float,
    relapse: float,
) -> None:
    by_cleaning, by_kit = find_cures(TABLE, condition, seat_replaceable, Asked(assumptions))
    assert (by_cleaning.chance, by_kit.chance, by_cleaning.relapse_a_season) == (clean, kit, relapse)


def test_cleaning_and_kit_may_fail_for_different_findings(assumptions: Assumptions) -> None:
    condition = {"needle_and_seat": "worn", "body": "pitted"}
    by_cleaning, by_kit = find_cures(TABLE, condition, None, Asked(assumptions))
    # Both findings leave cleaning 0.12; the one that comes back sooner decides.
    assert (by_cleaning.row, by_cleaning.chance, by_cleaning.relapse_a_season) == (
        "body_corroded",
        0.12,
        0.30,
    )
    assert (by_kit.row, by_kit.chance) == ("body_corroded", 0.15)


def test_every_row_of_the_table_has_its_figures(assumptions: Assumptions) -> None:
    for row in (*TABLE.rows.values(), *TABLE.seat_rows.values()):
        assert assumptions.value(f"cure_chance.{row}.clean") <= assumptions.value(f"cure_chance.{row}.kit")
        assert 0 < assumptions.value(f"relapse_a_season.{row}") < 1
    for aspect, state in TABLE.rows:
        assert state in TABLE.words[aspect]
