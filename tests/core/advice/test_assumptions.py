"""Assumptions: refused files, names and values; layers; the rows that answer for others."""

import math
from typing import Any

import pytest

from fitworth.advice.assumptions import Asked, Assumptions, read_assumptions
from fitworth.errors import InvalidValueError
from fitworth.vocabulary import Grade, Origin

SMALL = b"""
[share]
unit = "share"
low = 0.0
high = 1.0
meaning = "Share of {0}."
value = { good = 0.5, other = 0.25 }
"""


@pytest.mark.parametrize("data", [b"\xff", b"[share"], ids=["bytes", "toml"])
def test_a_file_that_is_no_toml_is_refused(data: bytes) -> None:
    with pytest.raises(InvalidValueError, match="no readable TOML"):
        read_assumptions(data)


def test_a_file_with_faults_is_refused_with_all_of_them() -> None:
    data = SMALL.replace(b"good = 0.5", b"good = 7") + b"[bare]\nvalue = 1\n"
    with pytest.raises(InvalidValueError) as refusal:
        read_assumptions(data)
    assert [(fault.where, fault.says) for fault in refusal.value.faults] == [
        ("/share.good", '"share.good" must lie from 0 to 1 (share).'),
        ("/bare", "The group lacks unit, low, high, meaning."),
    ]


def test_unknown_names_and_unsound_values_are_refused_all_at_once(assumptions: Assumptions) -> None:
    raw: dict[str, Any] = {
        "dead_on_arrival.carburettor.oem": 0.1,
        "unlisted_misfit": "0.1",
        "not_on_file": True,
        "retired_a_year.history_known": 2,
        "prior_strength.failure_rate": math.nan,
        "reference_hours_a_year": 10**400,
        "zzz": 1,
    }
    with pytest.raises(InvalidValueError) as refusal:
        assumptions.with_overrides(raw, Origin.JOB)
    says = {fault.where: fault.says for fault in refusal.value.faults}
    assert says.keys() == {"/" + name for name in raw}
    assert "dead_on_arrival.carburetor.oem" in says["/dead_on_arrival.carburettor.oem"]
    assert "must be a number" in says["/unlisted_misfit"]
    assert "must be a number" in says["/not_on_file"]
    assert "from 0 to 0.9" in says["/retired_a_year.history_known"]
    assert says["/zzz"] == 'There is no assumption "zzz".'


def test_an_unknown_name_is_refused_when_asked_for(assumptions: Assumptions) -> None:
    with pytest.raises(InvalidValueError, match="unlisted_misfit"):
        assumptions.value("unlisted_misfits")


def test_later_layers_win_and_say_who_they_are(assumptions: Assumptions) -> None:
    name = "dead_on_arrival.carburetor.oem"
    yours = assumptions.with_overrides({name: 0.02, "unlisted_misfit": 0.1}, Origin.YOURS)
    job = yours.with_overrides({name: 0.5}, Origin.JOB)
    assert [(layer.get(name).value, layer.get(name).origin) for layer in (assumptions, yours, job)] == [
        (0.015, Origin.DEFAULT),
        (0.02, Origin.YOURS),
        (0.5, Origin.JOB),
    ]
    assert job.get("unlisted_misfit").origin is Origin.YOURS


def test_a_family_without_figures_is_answered_by_the_row_for_others(
    assumptions: Assumptions,
) -> None:
    asked = Asked(assumptions)
    assert asked.value("failures_a_year.recoil_starter.oem") == 0.021
    assert asked.value("failures_a_year.carburetor.oem") == 0.03
    assert asked.value("failures_a_year.recoil_starter.oem") == 0.021
    assert [found.name for found in asked.list_asked()] == [
        "failures_a_year.carburetor.oem",
        "failures_a_year.other.oem",
    ]


def test_an_own_family_may_be_given_figures_of_its_own(assumptions: Assumptions) -> None:
    name = "minutes.recoil_starter.replace"
    own = assumptions.with_overrides({name: 25}, Origin.YOURS, frozenset({"recoil_starter"}))
    assert (own.value(name), own.get(name).meaning) == (25.0, "Minutes of work (recoil starter): replace.")
    with pytest.raises(InvalidValueError, match="recoil"):
        assumptions.with_overrides({name: 25}, Origin.YOURS)
    with pytest.raises(InvalidValueError, match="no assumption"):
        assumptions.with_overrides({"recoil_starter": 25}, Origin.YOURS, frozenset({"recoil_starter"}))


@pytest.mark.parametrize("grade", list(Grade))
@pytest.mark.parametrize("group", ["dead_on_arrival", "failures_a_year"])
def test_every_grade_of_any_family_has_a_figure(assumptions: Assumptions, group: str, grade: Grade) -> None:
    assert assumptions.get(f"{group}.fuel_pump.{grade.value}").name == f"{group}.other.{grade.value}"


def test_every_default_lies_within_its_bounds_and_says_what_it_means(assumptions: Assumptions) -> None:
    for found in assumptions.by_name.values():
        assert found.low <= found.value <= found.high
        assert found.unit
        assert found.meaning.endswith(".")
        assert "{" not in found.meaning
    assert read_assumptions(SMALL).get("share.good").meaning == "Share of good."
