"""The cautions stand where they belong."""

from collections.abc import Mapping
from importlib.resources import files

import pytest

from fitworth.advice.cautions import Caution, list_for, list_for_symptom, list_unknown, parse_cautions
from fitworth.errors import FamilyFileError
from fitworth.families.model import Family
from fitworth.families.parse import parse_family
from fitworth.vocabulary import OptionKind

EVERYWHERE = ("first_of_all", "estimate", "blade", "exhaust", "oil_before_start", "lending")


@pytest.fixture(scope="module")
def cautions() -> tuple[Caution, ...]:
    return parse_cautions((files("fitworth.advice") / "cautions.toml").read_bytes())


@pytest.fixture(scope="module")
def families() -> Mapping[str, Family]:
    found = [
        parse_family(file.read_bytes(), file.name)
        for file in files("fitworth.families").iterdir()
        if file.name.endswith(".toml")
    ]
    return {family.key: family for family in found}


def test_faults_of_the_file_are_told_at_once_with_their_lines() -> None:
    text = """[[caution]]
key = "one"
where = "here"
danger = "harm"
text = "Take care."
everywhere = "yes"

[[caution]]
key = "one"
where = "here"
danger = "harm"
options = ["sell"]
"""
    with pytest.raises(FamilyFileError) as refused:
        parse_cautions(text.encode())
    assert [(fault.where, fault.says) for fault in refused.value.faults] == [
        ("line 6", "cautions.toml: “everywhere” is true or false."),
        ("line 8", "cautions.toml: “text” is missing; a caution must say it."),
        ("line 9", "cautions.toml: “one” stands twice; each caution has a key of its own."),
        (
            "line 12",
            "cautions.toml: “sell” is no option. Known are: clean, rebuild, replace, stop.",
        ),
    ]


def test_every_caution_that_a_built_in_family_names_is_there(
    cautions: tuple[Caution, ...], families: Mapping[str, Family]
) -> None:
    assert len(families) == 6
    assert {key: list_unknown(cautions, family) for key, family in families.items()} == dict.fromkeys(
        families, ()
    )


def test_a_caution_that_no_file_has_is_found(
    cautions: tuple[Caution, ...], families: Mapping[str, Family]
) -> None:
    assert list_unknown(cautions[:1], families["flywheel_key"]) == families["flywheel_key"].cautions


def test_every_caution_belongs_somewhere(
    cautions: tuple[Caution, ...], families: Mapping[str, Family]
) -> None:
    named = {key for family in families.values() for key in family.cautions}
    for caution in cautions:
        # Generators have no part of their own here; a user's family for one can name theirs.
        assert caution.everywhere or caution.key in named or caution.symptoms or caution.key == "generator"
        assert caution.text.endswith(".")


def test_a_carburetor_shows_fuel_and_governor_and_nothing_of_coils(
    cautions: tuple[Caution, ...], families: Mapping[str, Family]
) -> None:
    shown = [
        caution.key
        for caution in list_for(cautions, [families["carburetor"]], [OptionKind.CLEAN, OptionKind.STOP])
    ]
    assert shown == [
        *EVERYWHERE,
        *("overspeed", "leaks_after_fitting", "fuel_in_oil", "fuel", "cleaner", "limiter_caps"),
        "starting_fluid",
    ]


def test_cleaner_is_no_matter_of_replacing(
    cautions: tuple[Caution, ...], families: Mapping[str, Family]
) -> None:
    shown = {caution.key for caution in list_for(cautions, [families["carburetor"]], [OptionKind.REPLACE])}
    assert "cleaner" not in shown
    assert "overspeed" in shown


def test_who_stops_is_still_told_that_an_estimate_is_an_estimate(
    cautions: tuple[Caution, ...], families: Mapping[str, Family]
) -> None:
    shown = list_for(cautions, [families["carburetor"]], [OptionKind.STOP])
    assert [caution.key for caution in shown] == ["first_of_all", "estimate"]


@pytest.mark.parametrize(
    ("family", "caution"),
    [("flywheel_key", "key_material"), ("spark_plug", "plug_reach"), ("ignition_coil", "stop_lead")],
)
def test_what_is_dangerous_in_a_part_stands_beside_it(
    family: str, caution: str, cautions: tuple[Caution, ...], families: Mapping[str, Family]
) -> None:
    shown = {one.key for one in list_for(cautions, [families[family]], [OptionKind.REPLACE])}
    assert caution in shown


@pytest.mark.parametrize(
    ("symptom", "own"),
    [
        ("no_spark", {"stop_lead", "spark_test"}),
        ("floods", {"leaks_after_fitting", "fuel_in_oil", "fuel"}),
        ("no_start", {"fuel", "starting_fluid", "spark_test", "flywheel"}),
        ("smokes", set()),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_the_search_for_a_fault_shows_its_own_cautions_after_those_for_everything(
    symptom: str, own: set[str], cautions: tuple[Caution, ...]
) -> None:
    shown = [caution.key for caution in list_for_symptom(cautions, symptom)]
    assert tuple(shown[: len(EVERYWHERE)]) == EVERYWHERE
    assert set(shown[len(EVERYWHERE) :]) == own
