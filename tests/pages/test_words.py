"""Keys and figures as people read them."""

import pytest

from api.pages.words import (
    CHANCES,
    EVIDENCE,
    GRADES,
    INSTRUMENTS,
    ROLES,
    STATUSES,
    VERDICTS,
    decimals_for,
    say_allowance,
    say_difference,
    say_inches,
    say_key,
    say_level,
    say_number,
    say_percent,
    say_value,
)
from fitworth.families.model import Dimension
from fitworth.vocabulary import Grade, Instrument, Kind, Role, Status, Verdict

THIN = "\N{NARROW NO-BREAK SPACE}"
MINUS = "\N{MINUS SIGN}"


def dimension(kind: Kind, unit: str = "", choices: tuple[str, ...] = ()) -> Dimension:
    return Dimension("key", "Label", kind, unit, Role.RUN, "how", None, Instrument.LOOK, choices=choices)


def test_every_word_of_the_vocabulary_has_words_on_the_page() -> None:
    assert set(GRADES) == set(Grade)
    assert set(INSTRUMENTS) == set(Instrument)
    assert set(ROLES) == set(Role)
    assert set(STATUSES) == set(Status)
    assert set(VERDICTS) == set(Verdict)
    assert set(EVIDENCE) == {"marking", "known_number", "engine"}


@pytest.mark.parametrize(
    ("chance", "says"),
    [
        (0.0, f"under 1{THIN}%"),
        (0.009, f"under 1{THIN}%"),
        (0.01, f"1{THIN}%"),
        (0.906, f"91{THIN}%"),
        (0.99, f"99{THIN}%"),
        (0.9999, f"over 99{THIN}%"),
        (1.0, f"over 99{THIN}%"),
    ],
)
def test_no_chance_is_said_to_be_certain(chance: float, says: str) -> None:
    assert say_percent(chance) == says


def test_chances_have_words_from_end_to_end() -> None:
    assert say_level(1.0, CHANCES) == "as good as certain"
    assert say_level(0.8, CHANCES) == "likely"
    assert say_level(0.0, CHANCES) == "next to no chance"


@pytest.mark.parametrize(
    ("key", "says"), [("manual_lever", "manual lever"), ("blade_6_3", "blade 6.3"), ("m14x1.25", "m14x1.25")]
)
def test_keys_become_words(key: str, says: str) -> None:
    assert say_key(key) == says


@pytest.mark.parametrize(
    ("number", "says"),
    [
        (0.0, "0"),
        (-0.0, "0"),
        (-0.0001, "0"),
        (0.069, "+0.069"),
        (-5.5, f"{MINUS}5.5"),
        (27.0, "+27"),
        (100.0, "+100"),
    ],
)
def test_differences_have_a_sign_and_no_idle_zeros(number: float, says: str) -> None:
    assert say_difference(number) == says


@pytest.mark.parametrize(
    ("plus_minus", "decimals"), [(0.2, 2), (0.054, 3), (5.0, 1), (120.0, 0), (0.0, 2), (1e-9, 4)]
)
def test_an_uncertainty_is_shown_with_two_figures(plus_minus: float, decimals: int) -> None:
    assert decimals_for(plus_minus) == decimals


def test_numbers_have_a_true_minus_and_no_minus_zero() -> None:
    assert say_number(-1.25, 1) == f"{MINUS}1.2"
    assert say_number(-0.01, 1) == "0.0"


def test_values_are_said_by_their_kind() -> None:
    length = {"value": 42.06875, "unit": "mm", "plus_minus": 0.2, "as_entered": "1 21/32 in"}
    assert say_value(dimension(Kind.LENGTH, "mm"), length) == f"42.07{THIN}mm ±{THIN}0.20"
    assert say_value(dimension(Kind.COUNT, "1"), {"value": 2, "unit": "1", "plus_minus": 0}) == "2"
    assert say_value(dimension(Kind.FLAG), raw=True) == "yes"
    assert say_value(dimension(Kind.FLAG), raw=False) == "no"
    assert say_value(dimension(Kind.CHOICE, choices=("on_body",)), "on_body") == "on body"
    assert say_value(dimension(Kind.TEXT), "as_it_is") == "as_it_is"
    assert say_value(dimension(Kind.SET, choices=("a_b", "c")), ["a_b", "c"]) == "a b, c"
    assert say_value(dimension(Kind.SET), ["a_b"]) == "a_b"
    assert say_value(dimension(Kind.SET), []) == "none"
    assert say_value(dimension(Kind.LENGTH, "mm"), None) == "\N{EN DASH}"


def test_only_lengths_are_said_in_inches() -> None:
    inch = {"value": 25.4, "unit": "mm", "plus_minus": 0.2}
    assert say_inches(dimension(Kind.LENGTH, "mm"), inch) == f"1.0000{THIN}in"
    assert say_inches(dimension(Kind.ANGLE, "deg"), {"value": 25.4, "unit": "deg", "plus_minus": 1}) == ""
    assert say_inches(dimension(Kind.LENGTH, "mm"), None) == ""


@pytest.mark.parametrize(
    ("ends", "says"),
    [
        (None, "\N{EN DASH}"),
        ((None, None), "any"),
        ((None, 2.0), f"up to +2{THIN}mm"),
        ((-0.3, None), f"from {MINUS}0.3{THIN}mm up"),
        ((-0.5, 1.0), f"{MINUS}0.5 to +1{THIN}mm"),
    ],
)
def test_allowances_say_how_far_off_is_allowed(
    ends: tuple[float | None, float | None] | None, says: str
) -> None:
    assert say_allowance("mm", ends) == says
