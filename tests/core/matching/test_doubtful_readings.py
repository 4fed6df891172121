"""Measurements that stand against everything else that is known of the removed part."""

from collections.abc import Callable

import pytest

from fitworth.matching.answer import FitQuery
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.fit import find_fits
from fitworth.quantities.quantity import Quantity, Value

Filled = Callable[..., Catalogue]
Length = Callable[..., Quantity]
Warned = Callable[..., tuple[str, ...]]

SIZES_MM = {
    "throttle_bore": 14.1,
    "bolt_spacing": 42.0,
    "body_length": 46.0,
    "fuel_inlet_diameter": 6.2,
    "throttle_link_hole_radius": 20.3,
    "bowl_depth": 47.0,
}
ASSUMED = "Bolt spacing: the bolt hole was not measured, so a play of 0.5 mm is assumed."


def sheet(mm: Length, design: int) -> dict[str, Value]:
    sizes: dict[str, Value] = {key: mm(size * (1.0 + 0.07 * design)) for key, size in SIZES_MM.items()}
    return sizes | {
        "choke_type": ("manual_lever", "manual_cable", "none")[design % 3],
        "pattern": f"P{design}",
    }


@pytest.fixture
def shelf(filled: Filled, mm: Length) -> Catalogue:
    """Five parts of one design, and two of each of eight others."""
    return filled(*[sheet(mm, 0)] * 5, *(sheet(mm, 1 + place // 2) for place in range(16)))


@pytest.fixture
def warned(shelf: Catalogue, mm: Length) -> Warned:
    """A function that returns what is said of measurements; None leaves one out."""

    def ask(**measured: float | str | None) -> tuple[str, ...]:
        values = {key: mm(size) for key, size in SIZES_MM.items()} | {
            key: mm(value, 0.03) if isinstance(value, float) else value for key, value in measured.items()
        }
        known = {key: value for key, value in values.items() if value is not None}
        said = find_fits(shelf, FitQuery(known)).warnings
        return tuple(sentence for sentence in said if sentence != ASSUMED)

    return ask


def test_measurements_that_go_together_are_not_warned_of(warned: Warned) -> None:
    assert warned(choke_type="manual_lever", pattern="P0") == ()


def test_one_measurement_alone_stands_against_nothing(shelf: Catalogue, mm: Length) -> None:
    assert find_fits(shelf, FitQuery({"throttle_bore": mm(24.1)})).warnings == ()


def test_a_design_on_no_file_is_not_taken_for_so_many_wrong_measurements(warned: Warned) -> None:
    strange = {"bolt_spacing": 51.7, "fuel_inlet_diameter": 5.1, "throttle_link_hole_radius": 33.3}
    assert warned(**strange, bowl_depth=61.3, throttle_bore=33.0, body_length=99.0) == ()


@pytest.mark.parametrize(
    ("key", "read_mm", "says"),
    [
        (
            "bowl_depth",
            74.0,
            "Bowl depth: 74 was measured, but all else says 47 mm. A typing error? Measure it again.",
        ),
        (
            "throttle_link_hole_radius",
            0.8,
            (
                "Throttle link hole radius: 0.8 was measured, but all else says 20.3 mm. "
                "Is it in inches? Measure it again."
            ),
        ),
        (
            "bolt_spacing",
            57.37,
            "Bolt spacing: 57.37 was measured, but all else says 42 mm. Measure it again.",
        ),
    ],
)
def test_a_measurement_that_all_else_denies_is_asked_about(
    warned: Warned, key: str, read_mm: float, says: str
) -> None:
    assert warned(**{key: read_mm}) == (says,)


def test_a_word_that_all_else_denies_is_asked_about(warned: Warned) -> None:
    says = "Choke type: none was seen, but all else says manual lever. Look again."
    assert warned(choke_type="none") == (says,)
    assert warned(pattern="P7") == ("Pattern: P7 was seen, but all else says P0. Look again.",)


def test_a_measurement_that_goes_with_nothing_is_told_without_a_figure(filled: Filled, mm: Length) -> None:
    """Three designs agree in what else was measured, in nothing else, and have three bowls."""
    keys = ("throttle_bore", "bolt_spacing", "body_length", "fuel_inlet_diameter")
    common: dict[str, Value] = {key: mm(SIZES_MM[key]) for key in keys}
    parts = [
        sheet(mm, design)
        | common
        | {"bowl_depth": mm(40.0 + 8.0 * design), "pole_radius": mm(80.0 + 5.0 * design)}
        for design in range(3)
        for _ in range(5)
    ]
    others = [sheet(mm, 3 + place // 2) for place in range(16)]
    measured = common | {"bowl_depth": mm(99.33)}
    said = find_fits(filled(*parts, *others), FitQuery(measured)).warnings
    assert (
        "Bowl depth: 99.33 was measured, which goes with nothing else that is known. Measure it again."
        in said
    )
