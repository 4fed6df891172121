"""Entries on file that stand against everything else."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from fitworth.families.model import Family
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.doubtful import doubtful_entries_of, list_doubtful_entries
from fitworth.matching.doubtful_entry import DoubtfulEntry, ask_about, say_value
from fitworth.matching.entry_slips import DoubtModel
from fitworth.matching.groups.estimate import groups_of
from fitworth.matching.parameters import FitModel
from fitworth.matching.supposed import list_supposed
from fitworth.quantities.quantity import Quantity, Value
from fitworth.vocabulary import Doubt, EntrySlip

Filled = Callable[..., Catalogue]
Length = Callable[..., Quantity]
Sheet = Callable[..., dict[str, Value]]
Doubted = Callable[..., tuple[DoubtfulEntry, ...]]

SIZES_MM = {
    "throttle_bore": 14.1,
    "bolt_spacing": 42.0,
    "bolt_hole_diameter": 6.5,
    "body_length": 46.0,
    "fuel_inlet_diameter": 6.2,
    "throttle_link_hole_radius": 19.05,
    "bowl_depth": 47.0,
}
STEPS_MM = {
    "throttle_bore": 1.7,
    "bolt_spacing": 2.5,
    "body_length": 5.2,
    "fuel_inlet_diameter": 0.4,
    "throttle_link_hole_radius": 1.3,
    "bowl_depth": 2.3,
}
STRICT = DoubtModel()
EAGER = DoubtModel(least_probability=0.5)


@pytest.fixture
def sheet(mm: Length) -> Sheet:
    """A function that returns a sheet of one design, 0 or another, with changes; None leaves one out."""

    def of(design: int = 0, **changed: float | str | bool | None) -> dict[str, Value]:
        sizes = {key: size + design * STEPS_MM.get(key, 0.0) for key, size in SIZES_MM.items()}
        words = {"choke_type": ("manual_lever", "manual_cable", "none")[design % 3], "pattern": f"P{design}"}
        listed = sizes | words | changed
        return {
            key: mm(value) if isinstance(value, float) else value
            for key, value in listed.items()
            if value is not None
        }

    return of


@pytest.fixture
def shelf(filled: Filled, sheet: Sheet) -> Filled:
    """A function that returns a catalogue of the sheets given, and of eight parts of other designs."""
    return lambda *parts: filled(*parts, *(sheet(design) for design in range(1, 9)))


@pytest.fixture
def doubted(shelf: Filled) -> Doubted:
    return lambda *parts, doubts=STRICT: doubtful_entries_of(shelf(*parts), doubts=doubts)


def test_an_empty_file_and_sheets_that_list_nothing_have_no_doubtful_entries(
    filled: Filled, sheet: Sheet
) -> None:
    assert doubtful_entries_of(filled()) == ()
    assert doubtful_entries_of(filled({}, {})) == ()
    assert doubtful_entries_of(filled(sheet())) == ()


def test_of_two_sheets_that_differ_neither_is_doubted(doubted: Doubted, sheet: Sheet) -> None:
    for changed in ({"throttle_bore": 24.1}, {"throttle_link_hole_radius": 0.75}, {"choke_type": "none"}):
        assert doubted(sheet(), sheet(**changed), doubts=STRICT) == ()


def test_a_relative_with_changes_of_its_own_is_not_doubted(doubted: Doubted, sheet: Sheet) -> None:
    changed = {"throttle_bore": 17.9, "body_length": 52.0, "bowl_depth": 55.0}
    assert doubted(*[sheet()] * 4, sheet(**changed)) == ()
    assert doubted(*[sheet()] * 4, *[sheet(throttle_bore=24.1)] * 3) == ()


def test_a_part_like_no_other_is_not_doubted(doubted: Doubted, sheet: Sheet) -> None:
    assert doubted(*[sheet()] * 5) == ()


def test_a_size_within_the_makers_scatter_is_not_doubted(doubted: Doubted, sheet: Sheet) -> None:
    assert doubted(*[sheet()] * 4, sheet(throttle_bore=14.2), doubts=EAGER) == ()


@pytest.mark.parametrize(
    ("key", "entered_mm", "slip", "says"),
    [
        (
            "throttle_bore",
            24.1,
            EntrySlip.DIGITS,
            "24.1 mm is entered, the group says 14.1 mm: a typing error?",
        ),
        ("bolt_spacing", 24.0, EntrySlip.DIGITS, "24 mm is entered, the group says 42 mm: a typing error?"),
        (
            "throttle_link_hole_radius",
            0.75,
            EntrySlip.INCHES,
            "0.75 mm is entered, the group says 19.05 mm: is it in inches?",
        ),
        (
            "throttle_link_hole_radius",
            483.9,
            EntrySlip.MILLIMETRES,
            "483.9 mm is entered, the group says 19.05 mm: is it in millimetres, and was read as inches?",
        ),
        (
            "bowl_depth",
            470.0,
            EntrySlip.POINT,
            "470 mm is entered, the group says 47 mm: is the decimal point in the right place?",
        ),
    ],
)
def test_one_of_nine_sheets_that_slipped_is_asked_about(
    doubted: Doubted, sheet: Sheet, key: str, entered_mm: float, slip: EntrySlip, says: str
) -> None:
    (found,) = doubted(*[sheet()] * 8, sheet(**{key: entered_mm}))
    assert (found.part_id, found.doubt, found.keys) == (9, Doubt.GROUP, (key,))
    assert (found.slip, found.says, found.say_so) == (slip, says, 8)
    assert found.probability >= 0.9
    (listed,) = found.listed
    assert isinstance(listed, Quantity)
    assert isinstance(found.supposed, Quantity)
    assert listed.value == entered_mm
    assert found.supposed.value == SIZES_MM[key]
    assert 0.0 < found.supposed.standard_uncertainty < 0.1


def test_a_wrong_size_that_is_no_slip_is_doubted_as_such(doubted: Doubted, sheet: Sheet) -> None:
    found = doubted(*[sheet()] * 12, sheet(bolt_spacing=57.3), doubts=EAGER)
    assert [(one.part_id, one.slip) for one in found] == [(13, None)]
    assert found[0].says == "57.3 mm is entered, the group says 42 mm: is that right?"


@pytest.mark.parametrize(
    ("key", "word", "says"),
    [
        ("choke_type", "none", "none is entered, the group says manual lever: is that right?"),
        ("pattern", "P77", "P77 is entered, the group says P0: is that right?"),
    ],
)
def test_a_wrong_word_is_doubted(doubted: Doubted, sheet: Sheet, key: str, word: str, says: str) -> None:
    found = doubted(*[sheet()] * 12, sheet(**{key: word}), doubts=EAGER)
    assert [(one.part_id, one.keys, one.says) for one in found] == [(13, (key,), says)]
    assert found[0].slip is None


def test_an_exact_slip_outweighs_that_a_part_could_be_a_new_design(shelf: Filled, sheet: Sheet) -> None:
    catalogue = shelf(sheet(), sheet(), sheet(bowl_depth=470.0))
    groups = groups_of(catalogue, FitModel())
    assert np.bincount(groups.partition.labels)[groups.partition.labels[2]] == 1, "it stands alone"
    (found,) = list_doubtful_entries(catalogue, groups)
    assert (found.part_id, found.slip, found.say_so) == (3, EntrySlip.POINT, 2)


def test_the_most_doubtful_comes_first(doubted: Doubted, sheet: Sheet) -> None:
    found = doubted(*[sheet()] * 8, sheet(bolt_spacing=24.0), sheet(throttle_link_hole_radius=0.75))
    assert [one.part_id for one in found] == [10, 9]
    assert found[0].probability > found[1].probability


def test_entries_are_looked_for_again_once_parts_changed(shelf: Filled, sheet: Sheet, family: Family) -> None:
    catalogue = shelf(*[sheet()] * 4, sheet(throttle_link_hole_radius=0.75))
    found = doubtful_entries_of(catalogue)
    assert doubtful_entries_of(catalogue) is found
    catalogue.upsert([5], [catalogue.layout.pack(sheet())], ["Quillon"], [()])
    assert doubtful_entries_of(catalogue) == ()


def test_a_proportion_that_no_other_part_has_is_doubted(doubted: Doubted, sheet: Sheet) -> None:
    (found,) = doubted(sheet(), sheet(9, body_length=2.5))
    assert (found.part_id, found.doubt) == (2, Doubt.PROPORTION)
    assert (found.keys, found.supposed, found.say_so) == (("body_length", "throttle_bore"), None, 0)
    assert found.says.startswith("Body length 2.5 mm to Throttle bore 29.4 mm is 0.09; usual is 2.5 to 3.7.")
    assert found.slip is None
    (in_inches,) = doubted(sheet(), sheet(9, throttle_bore=1.16))
    assert in_inches.slip is EntrySlip.INCHES
    assert "inches" in in_inches.says


def test_a_proportion_a_little_out_of_the_usual_is_not_doubted(doubted: Doubted, sheet: Sheet) -> None:
    assert doubted(sheet(9, body_length=115.0)) == ()


def test_a_proportion_that_several_parts_share_is_sound(filled: Filled, mm: Length) -> None:
    long = {"throttle_bore": mm(20.0), "body_length": mm(200.0)}
    usual = [{"throttle_bore": mm(20.0 + n), "body_length": mm(62.0 + 3.1 * n)} for n in range(8)]
    odd = [one for one in doubtful_entries_of(filled(long, *usual)) if one.doubt is Doubt.PROPORTION]
    assert [one.part_id for one in odd] == [1]
    shared = doubtful_entries_of(filled(*[long] * 6, *usual))
    assert [one for one in shared if one.doubt is Doubt.PROPORTION] == []


def test_a_proportion_is_not_named_beside_the_size_that_spoils_it(doubted: Doubted, sheet: Sheet) -> None:
    (found,) = doubted(*[sheet()] * 4, sheet(body_length=1.811))
    assert (found.doubt, found.keys, found.slip) == (Doubt.GROUP, ("body_length",), EntrySlip.INCHES)


def test_proportions_are_doubted_where_nothing_counts_for_fit(family: Family, mm: Length) -> None:
    notes = replace(
        family,
        dimensions=tuple(
            replace(one, role=family.by_key["stud_diameter"].role)
            for one in family.dimensions
            if one.key in {"throttle_bore", "body_length"}
        ),
    )
    catalogue = Catalogue(notes)
    row = catalogue.layout.pack({"throttle_bore": mm(0.75), "body_length": mm(62.0)})
    catalogue.upsert([1], [row], ["Quillon"], [()])
    assert [one.doubt for one in doubtful_entries_of(catalogue)] == [Doubt.PROPORTION]


def test_values_are_said_as_a_sentence_needs_them(mm: Length) -> None:
    assert say_value(True) == "yes"
    assert say_value(False) == "no"
    assert say_value(frozenset({"vent", "pulse"})) == "pulse, vent"
    assert say_value(frozenset()) == "none"
    assert say_value(mm(3.0, 0.0, "1")) == "3"
    assert ask_about(mm(3.0, 0.0, "1"), mm(2.0, 0.0, "1"), None).startswith("3 is entered, the group says 2")


def supposed(catalogue: Catalogue, key: str, *rows: int) -> list[Value | None]:
    return list_supposed(catalogue, groups_of(catalogue, FitModel()), key, np.array(rows))


def test_nothing_is_supposed_of_a_part_without_a_group_or_of_what_nobody_lists(
    shelf: Filled, sheet: Sheet
) -> None:
    catalogue = shelf(*[sheet(body_length=None)] * 3, sheet(9, throttle_bore=None))
    assert supposed(catalogue, "body_length", 0) == [None]
    assert supposed(catalogue, "throttle_bore", 3) == [None]
    assert supposed(catalogue, "stud_diameter", 0) == [None]


def test_what_a_sheet_lists_as_its_group_does_is_not_supposed(shelf: Filled, sheet: Sheet) -> None:
    catalogue = shelf(*[sheet()] * 4)
    for key in SIZES_MM:
        assert supposed(catalogue, key, 0, 1, 2, 3) == [None] * 4


def test_what_a_sheet_leaves_out_or_denies_is_supposed_as_its_group_has_it(
    shelf: Filled, sheet: Sheet
) -> None:
    silent = sheet(bolt_spacing=None, pattern=None, choke_type=None)
    catalogue = shelf(*[sheet()] * 6, silent, sheet(bolt_spacing=24.0), sheet(choke_type="none"))
    left_out, denied = supposed(catalogue, "bolt_spacing", 6, 7)
    assert isinstance(left_out, Quantity)
    assert left_out == denied
    assert (left_out.value, left_out.unit, left_out.as_entered) == (42.0, "mm", "42 mm")
    assert supposed(catalogue, "choke_type", 6, 7, 8) == ["manual_lever", None, "manual_lever"]
    assert supposed(catalogue, "pattern", 6, 7, 8) == ["P0", None, None]
