"""How candidates agree with designs, and what that says of the holes."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitworth.families.model import Family
from fitworth.matching.allowances import rules_of
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.kinship import counting_rules, fits_given, learn_kinship, product, usual_agreement
from fitworth.matching.pairs import Pairs, Seats, compare_pairs
from fitworth.matching.parameters import FitModel
from fitworth.quantities.quantity import Quantity, Value

MODEL = FitModel()
Filled = Callable[..., Catalogue]
Mm = Callable[..., Quantity]


def compare(catalogue: Catalogue, maker: str | None = None, **measured: Value) -> tuple[Pairs, list[str]]:
    rules, _ = rules_of(catalogue.family, measured, MODEL)
    counting = counting_rules(catalogue, rules)
    rows = np.arange(len(catalogue))
    pairs = compare_pairs(catalogue, counting, Seats(rows, len(rows), maker), MODEL)
    return pairs, [rule.dimension.key for rule in counting]


def test_what_either_side_lacks_is_not_compared(filled: Filled, mm: Mm) -> None:
    pairs, keys = compare(filled({"throttle_bore": mm(19.0)}, {"choke_type": "none"}))
    assert pairs.compared[keys.index("throttle_bore")].tolist() == [[1, 0], [0, 0]]
    assert pairs.agrees[keys.index("throttle_bore")].tolist() == [[pytest.approx(1.0), 0], [0, 0]]
    assert pairs.compared[keys.index("choke_type")].tolist() == [[0, 0], [0, 1]]


def test_a_measurement_stands_in_for_what_a_design_does_not_list(filled: Filled, mm: Mm) -> None:
    catalogue = filled({"throttle_bore": mm(19.0), "choke_type": "none"}, {})
    pairs, keys = compare(catalogue, throttle_bore=mm(24.0), choke_type="none")
    bore, choke = keys.index("throttle_bore"), keys.index("choke_type")
    assert pairs.compared[bore].tolist() == [[1, 1], [0, 0]]
    assert (
        pairs.agrees[bore, 0].max() < 0.01
    )  # against the design's own 19.0 the part in the hand is believed
    assert pairs.agrees[choke, 0].tolist() == [1.0, 1.0]


def test_two_readings_of_one_size_are_better_than_one(filled: Filled, mm: Mm) -> None:
    catalogue = filled({"body_length": mm(62.0)}, {})
    pairs, keys = compare(catalogue, body_length=mm(62.4, 0.3))
    backed, alone = pairs.agrees[keys.index("body_length"), 0]
    assert backed > 0.99
    assert alone < 0.7


@pytest.mark.parametrize(
    ("key", "old", "new", "agrees", "mends"),
    [
        ("body_length", 62.0, 57.0, 0.0, 1.0),
        ("body_length", 62.0, 50.0, 0.0, 0.0),
        ("fuel_inlet_hour", 12.0, 1.0, 0.5, 1.0),
        ("pole_radius", 80.0, 81.0, 1.0, 1.0),
        ("pole_radius", 80.0, 89.0, 0.0, 0.0),
        ("choke_type", "none", "manual_lever", 0.0, 1.0),
        ("resistor", "plain", "resistor", 1.0, 1.0),
        ("resistor", "resistor", "plain", 0.0, 0.0),
        ("vented", True, False, 0.0, 0.0),
        ("ports", frozenset({"vent"}), frozenset({"vent"}), 1.0, 1.0),
        ("pattern", "a", "b", 0.0, 0.0),
    ],
)
def test_a_pair_agrees_or_can_be_mended(
    filled: Filled, family: Family, key: str, old: object, new: object, agrees: float, mends: float
) -> None:
    unit = family.by_key[key].unit
    row = [{key: Quantity(x, unit, 0.03, "") if isinstance(x, float) else x} for x in (old, new)]
    pairs, keys = compare(filled(*row))
    place = keys.index(key)
    assert pairs.agrees[place, 1, 0] == pytest.approx(agrees, abs=1e-3)
    assert pairs.mends[place, 1, 0] == pytest.approx(mends, abs=1e-3)


def test_scales_of_two_makers_are_not_compared(filled: Filled) -> None:
    five = Quantity(5.0, "1", 0.0, "5")
    catalogue = filled(*[{"heat_range": five}] * 3, makers=["Quillon", "Quillon", "Vennor"])
    pairs, keys = compare(catalogue)
    place = keys.index("heat_range")
    assert pairs.compared[place].tolist() == [[1, 1, 0], [1, 1, 0], [0, 0, 1]]
    pairs, _ = compare(catalogue, maker="Vennor", heat_range=five)
    assert pairs.compared[place].tolist() == [[0, 0, 0], [0, 0, 0], [1, 1, 1]]
    pairs, _ = compare(catalogue, heat_range=five)
    assert not pairs.compared[place].any()


BODY: dict[str, float] = {
    "throttle_bore": 19.0,
    "bolt_spacing": 42.0,
    "bowl_depth": 47.0,
    "pole_radius": 80.0,
}
WORDS: dict[str, Value] = {"choke_type": "none", "vented": True, "resistor": "plain", "pattern": "a"}


def design(mm: Mm, **changes: float | None) -> dict[str, Value]:
    sizes = {key: mm(value) for key, value in (BODY | changes).items() if value is not None}
    return {**sizes, **WORDS}


def run(catalogue: Catalogue) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    pairs, _ = compare(catalogue)
    weights = np.full(len(catalogue), 0.9 / len(catalogue))
    kinship = learn_kinship(pairs, weights, usual_agreement(catalogue, MODEL), MODEL)
    fits = fits_given(pairs, kinship)
    assert (fits.as_it_comes <= fits.in_all + 1e-12).all()
    return fits.in_all


def strangers(mm: Mm, count: int) -> list[dict[str, Value]]:
    rng = np.random.default_rng(5)
    return [
        {key: mm(float(value * rng.choice([0.8, 0.9, 1.1, 1.25]))) for key, value in BODY.items()}
        for _ in range(count)
    ]


def test_agreeing_in_all_that_both_list_fills_the_holes(filled: Filled, mm: Mm) -> None:
    full, holed = design(mm, throttle_link_hole_radius=21.0), design(mm)
    table = run(filled(full, holed, full, holed, *strangers(mm, 12)))
    assert table[1, 0] > 0.8  # holed stands in for full: what agrees everywhere else agrees there too
    assert table[1, 4] < 0.05


def test_one_listed_difference_that_matters_is_believed_over_all_agreement(filled: Filled, mm: Mm) -> None:
    same, other = design(mm), design(mm, throttle_bore=22.0)
    table = run(filled(same, same, other, other, *strangers(mm, 12)))
    assert table[1, 0] > 0.8
    assert table[2, 0] < 0.35


def test_a_lone_part_has_no_pairs_to_learn_from(filled: Filled, mm: Mm) -> None:
    assert run(filled(design(mm))).shape == (1, 1)


def test_pairs_that_differ_in_everything_do_not_fit_and_do_not_divide_by_zero(filled: Filled, mm: Mm) -> None:
    table = run(filled(design(mm), *strangers(mm, 3)))
    assert np.isfinite(table).all()
    assert table[0, 1:].max() < 0.05


def test_usual_agreement_is_counted_anew_after_a_change(filled: Filled, mm: Mm) -> None:
    catalogue = filled(*[design(mm)] * 4)
    before = usual_agreement(catalogue, MODEL)[0]
    rows = [catalogue.layout.pack({"throttle_bore": mm(10.0 * place)}) for place in range(3, 9)]
    catalogue.upsert(range(20, 26), rows, ["Vennor"] * 6, [()] * 6)
    assert usual_agreement(catalogue, MODEL)[0] < before
    assert (
        usual_agreement(catalogue, replace(MODEL, unrelated_agrees=0.1))[0]
        < usual_agreement(catalogue, MODEL)[0]
    )


@given(st.lists(st.floats(1e-12, 1.0), max_size=11))
def test_a_product_of_very_many_small_factors_is_kept(factors: list[float]) -> None:
    table = np.array(factors, np.float32).reshape(-1, 1)
    assert product(table)[0] == pytest.approx(np.prod(table, dtype=np.float64), rel=1e-5)
