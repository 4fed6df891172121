"""What of a catalogue the groups are made from, and what is taken for granted before any is known."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from fitworth.matching.allowances import Rule
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.groups.cells import Cells, cells_of, grouping_rules
from fitworth.matching.groups.learned import Learned, first_guess, spreads_of
from fitworth.matching.groups.sizes import Sizes, Words
from fitworth.matching.parameters import FitModel
from fitworth.quantities.quantity import Quantity

MODEL = FitModel()
Filled = Callable[..., Catalogue]
Length = Callable[..., Quantity]
Tabled = Callable[[Catalogue], tuple[tuple[Rule, ...], Cells]]


def test_notes_and_scales_of_one_maker_and_what_nobody_lists_make_no_groups(
    filled: Filled, mm: Length
) -> None:
    catalogue = filled(
        {"throttle_bore": mm(19.0), "stud_diameter": mm(6.0), "heat_range": Quantity(5.0, "1", 0.0, "5")},
        {"choke_type": "none", "air_connection": "rigid_base"},
    )
    assert [rule.dimension.key for rule in grouping_rules(catalogue, MODEL)] == [
        "throttle_bore",
        "choke_type",
    ]


def test_where_nothing_that_counts_is_listed_nothing_makes_groups(filled: Filled, mm: Length) -> None:
    catalogue = filled({"stud_diameter": mm(6.0)}, {})
    assert grouping_rules(catalogue, MODEL) == ()
    table = cells_of(catalogue, ())
    assert (len(table), table.value.shape) == (2, (2, 0))
    learned = first_guess(table, (), MODEL)
    assert (len(learned.spreads), learned.concentration) == (0, 1.0)


def test_cells_hold_numbers_with_their_uncertainty_and_words_as_codes(
    filled: Filled, mm: Length, tabled: Tabled
) -> None:
    rules, cells = tabled(
        filled(
            {"throttle_bore": mm(19.0, 0.1), "vented": True},
            {"choke_type": "manual_cable", "vented": False},
            {},
        )
    )
    assert [rule.dimension.key for rule in rules] == ["throttle_bore", "choke_type", "vented"]
    assert cells.listed.tolist() == [[True, False, True], [False, True, True], [False, False, False]]
    assert cells.value[cells.listed].tolist() == [19.0, 1.0, 1.0, 0.0]
    assert cells.u.ravel().tolist() == pytest.approx([0.1, *[0.0] * 8])


def test_some_cells_are_those_of_some_parts_without_what_is_said_of_them(
    filled: Filled, mm: Length, tabled: Tabled
) -> None:
    catalogue = filled({"throttle_bore": mm(19.0)}, {"throttle_bore": mm(22.0)})
    catalogue.tie([(1, 2, 0.9)])
    _, cells = tabled(catalogue)
    assert cells.ties.any
    some = cells.of(np.array([1]))
    assert (some.value.tolist(), len(some), some.ties.any) == ([[22.0]], 1, False)


@pytest.fixture
def guessed(filled: Filled, mm: Length, tabled: Tabled) -> Learned:
    parts = [
        {
            "throttle_bore": mm(bore),
            "bowl_depth": mm(2.0 * bore),
            "pole_radius": mm(5.0 * bore),
            "choke_type": choke,
        }
        for bore, choke in zip(
            (16.0, 19.0, 19.0, 22.0, 26.0), ("none", "none", "none", "none", "manual_lever"), strict=True
        )
    ]
    rules, cells = tabled(filled(*parts))
    return first_guess(cells, rules, replace(MODEL, relative_changes=1.0))


def test_the_first_guess_of_a_length_is_the_usual_scatter_and_the_middle_of_its_allowance(
    guessed: Learned,
) -> None:
    # Percent(-2, 2) of a radius of 95 mm; the allowance of the bowl's depth has no end below.
    depth = guessed.spreads[2]
    assert isinstance(depth, Sizes)
    assert guessed.reach == pytest.approx([1.0, 1.0, 0.1 * depth.wide.spread, 1.9])
    assert guessed.scatter == pytest.approx([0.05, 0.0, 0.05, 0.05])
    assert guessed.usual_u == pytest.approx([0.03, 0.0, 0.03, 0.03])
    assert guessed.reading_u(0) == pytest.approx(np.hypot(0.05, 0.03))


def test_words_have_their_own_share_of_errors(guessed: Learned) -> None:
    model = replace(MODEL, gross_error_share=0.07, choice_error_share=0.01)
    assert [guessed.error(place) for place in (0, 1)] == [MODEL.gross_error_share, MODEL.choice_error_share]
    assert guessed.numeric.tolist() == [True, False, True, True]
    again = first_guess(Cells(np.array([[0.0]]), np.zeros((1, 1))), guessed.rules[1:2], model)
    assert (again.error(0), again.gross) == (0.01, 0.07)


def test_relatives_differ_in_one_dimension_of_all_at_first_but_never_in_more_than_half(
    guessed: Learned,
) -> None:
    # All four are listed; the choke, which a bracket cures, differs more often than the others.
    assert guessed.rates.sum() == pytest.approx(1.0)
    assert guessed.rates[1] == pytest.approx(MODEL.curable_changes * guessed.changes)
    assert guessed.rates[[0, 2, 3]] == pytest.approx(np.full(3, guessed.changes))
    assert replace(guessed, changes=0.4).rates.max() == 0.5
    model = replace(MODEL, relative_changes=0.8)
    one = first_guess(Cells(np.array([[19.0]]), np.array([[0.03]])), guessed.rules[:1], model)
    assert one.changes == 0.5


def test_a_stated_uncertainty_of_nothing_is_never_quite_nothing(
    rules: Callable[..., tuple[Rule, ...]],
) -> None:
    nothing = Cells(np.array([[0.0], [0.0]]), np.zeros((2, 1)))
    learned = first_guess(nothing, rules("pole_radius"), MODEL)  # 2 percent of nothing is nothing, too
    assert learned.scatter[0] > 0.0
    assert learned.usual_u[0] > 0.0


def test_spreads_are_learned_anew_where_designs_show_them_and_else_stay(guessed: Learned) -> None:
    found = [np.array([30.0, 30.0, 34.0]), np.array([0.0, 0.0]), np.zeros(0), np.zeros(0)]
    bore, choke, depth, radius = spreads_of(found, guessed, MODEL)
    assert isinstance(bore, Sizes)
    assert isinstance(choke, Words)
    assert bore.wide.centre == 30.0
    assert depth is guessed.spreads[2]
    assert radius is guessed.spreads[3]
    assert choke.shares == pytest.approx(np.array([2.5, 0.5, 0.5, 0.5]) / 4.0)
