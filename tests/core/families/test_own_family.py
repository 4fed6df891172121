"""A family of one's own is read in full, and lines are found however its file is laid out."""

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitworth.errors import FamilyFileError
from fitworth.families.lines import get_line, locate
from fitworth.families.model import (
    Accepts,
    AllowanceWhen,
    Around,
    BoltPlay,
    Clears,
    Cure,
    Equal,
    Interval,
    Life,
    Percent,
    Ratio,
    Repair,
)
from fitworth.families.parse import check_families, parse_family
from fitworth.vocabulary import Grade, Instrument, Kind, LifeClock, Role

Faults = Callable[[str | bytes], list[tuple[int, str]]]


def test_a_family_of_ones_own_is_read_in_full(recoil_starter: str) -> None:
    family = parse_family(recoil_starter.encode(), "recoil_starter.toml")
    assert (family.key, family.label, family.view) == (
        "recoil_starter",
        "Recoil starter",
        "seen from outside, handle down",
    )
    assert family.grades == (Grade.OEM, Grade.AFTERMARKET_UNBRANDED, Grade.USED)
    assert (family.needs, family.needs_from, family.cautions) == (("rope",), "comes_with", ("blade",))
    assert family.life == Life(LifeClock.HOURS, 1.5)
    assert family.repair == Repair("rebuild_kit", "carburetor", ("rope",))
    assert family.clears == (
        Clears("rope_pulled_by_hand", "turns", "The starter is good: the engine is stuck."),
    )
    assert family.ratios == (Ratio("drum_diameter", "bolt_circle", 0.2, 0.9),)
    allowances = {key: dimension.allowance for key, dimension in family.by_key.items()}
    turns = {"left": {"left", "either"}, "right": {"right", "either"}, "either": {"either"}}
    assert allowances == {
        "bolt_circle": BoltPlay("hole_diameter", "bolt_diameter"),
        "hole_diameter": Interval(-0.3, 1.0),
        "bolt_diameter": None,
        "pawls": Equal(),
        "turning": Accepts({choice: frozenset(others) for choice, others in turns.items()}),
        "handle_at": Around(-1.0, 1.0, 12.0),
        "drum_diameter": Percent(-10.0, math.inf),
        "has_brake": Equal(),
        "comes_with": None,
    }


def test_a_dimension_of_ones_own_is_read_in_full(recoil_starter: str) -> None:
    by_key = parse_family(recoil_starter.encode(), "recoil_starter.toml").by_key
    circle = by_key["bolt_circle"]
    assert (circle.kind, circle.unit, circle.role) == (Kind.LENGTH, "mm", Role.MOUNT)
    assert (circle.instrument, circle.plausible) == (Instrument.CALIPER_OUTSIDE, (50.0, 300.0))
    assert (circle.how, circle.consequence) == ("Across two opposite bolt holes.", "It cannot be bolted on.")
    handle = by_key["handle_at"]
    assert (handle.unit, handle.cure) == ("1", Cure(("rope_guide",), 15.0, 2.5, -3.0, 3.0))
    assert handle.allowance_when == (AllowanceWhen("turning", "either", Around(-2.0, 2.0, 12.0)),)
    drum = by_key["drum_diameter"]
    assert (drum.cure, drum.scale_of, drum.workshop_note) == (
        Cure((), 5.0, 0.0),
        "maker",
        "Shorten the rope.",
    )
    turning = by_key["turning"]
    assert (turning.unit, turning.instrument) == ("", Instrument.LOOK)
    assert turning.choices == ("left", "right", "either")


def test_notes_do_not_count_for_fit_and_named_values_do_not_scatter(recoil_starter: str) -> None:
    family = parse_family(recoil_starter.encode(), "recoil_starter.toml")
    assert {one.key for one in family.dimensions} - {one.key for one in family.fit_dimensions} == {
        "bolt_diameter",
        "comes_with",
    }
    named = [one.key for one in family.dimensions if not one.kind.is_numeric]
    assert named == ["turning", "has_brake", "comes_with"]


def test_bolt_play_by_its_bare_name_means_the_usual_hole_and_stud(recoil_starter: str) -> None:
    text = recoil_starter.replace('{ hole = "hole_diameter", stud = "bolt_diameter" }', '"bolt_play"')
    text = text.replace('"hole_diameter"', '"bolt_hole_diameter"').replace(
        '"bolt_diameter"', '"stud_diameter"'
    )
    family = parse_family(text.encode(), "own.toml")
    assert family.by_key["bolt_circle"].allowance == BoltPlay("bolt_hole_diameter", "stud_diameter")


def test_a_byte_order_mark_and_the_line_ends_of_another_system_do_no_harm(recoil_starter: str) -> None:
    plain = parse_family(recoil_starter.encode(), "own.toml")
    other = parse_family(b"\xef\xbb\xbf" + recoil_starter.replace("\n", "\r\n").encode(), "own.toml")
    assert other.by_key["bolt_circle"] == plain.by_key["bolt_circle"]


def test_families_that_go_together_pass(recoil_starter: str) -> None:
    own = parse_family(recoil_starter.encode(), "own.toml")
    kit_text = recoil_starter.replace('key = "recoil_starter"', 'key = "rebuild_kit"').split("[repair]")
    kit = parse_family((kit_text[0] + kit_text[1].split("\n", 4)[4]).encode(), "kit.toml")
    assert kit.repair is None
    check_families([own, kit])


def test_lines_are_found_through_every_way_of_writing_a_table() -> None:
    text = '''# first
a = 1
b.c = """
[[x]]
y = 2 \\""" more
"""
"d e" = [
  { f = "]" }, # a bracket ] in a comment
  '[[x]]',
]
[t]
u = \'\'\'
v = 1
\'\'\'
[[x]]
y = 1
[x.z]
w = 1
[[x]]
[[x.many]]
[[x.many]]
k = "\\"="
[[ "q" . r ]]
'''
    lines = locate(text)
    assert lines == {
        ("a",): 2,
        ("b",): 3,
        ("b", "c"): 3,
        ("d e",): 7,
        ("t",): 11,
        ("t", "u"): 12,
        ("x",): 15,
        ("x", 0): 15,
        ("x", 0, "y"): 16,
        ("x", 0, "z"): 17,
        ("x", 0, "z", "w"): 18,
        ("x", 1): 19,
        ("x", 1, "many"): 20,
        ("x", 1, "many", 0): 20,
        ("x", 1, "many", 1): 21,
        ("x", 1, "many", 1, "k"): 22,
        ("q", "r"): 23,
        ("q", "r", 0): 23,
    }
    assert get_line(lines, ("x", 0, "y", "deeper")) == 16
    assert get_line(lines, ("nowhere",)) == 1


@given(
    st.lists(
        st.sampled_from(["", "# note", 'workshop_note = "one"', "consequence = '[[dimension]]'"]), max_size=6
    )
)
def test_a_fault_stays_on_its_line_whatever_stands_above_it(above: list[str]) -> None:
    lines = [
        'key = "own"',
        'label = "Own"',
        'view = "above"',
        'grades = ["oem"]',
        'life = {clock = "hours", shape = 1}',
        "[[dimension]]",
        *dict.fromkeys(line for line in above if "=" in line),
        *(line for line in above if "=" not in line),
        'kind = "bore"',
        'key = "one"',
        'label = "One"',
        'how = "Look."',
        'role = "run"',
    ]
    with pytest.raises(FamilyFileError, match="“bore” is no kind") as refused:
        parse_family("\n".join(lines).encode(), "own.toml")
    line = lines.index('kind = "bore"') + 1
    assert [fault.where for fault in refused.value.faults] == [f"line {line}"]


@given(st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
def test_bytes_that_are_no_family_are_refused_with_lines(content: bytes) -> None:
    with pytest.raises(FamilyFileError, match=r"own\.toml") as refused:
        parse_family(content, "own.toml")
    assert all(fault.where.startswith("line ") for fault in refused.value.faults)


def test_any_one_line_left_out_is_read_or_refused_but_never_breaks(
    recoil_starter: str, list_faults: Faults
) -> None:
    lines = recoil_starter.split("\n")
    for position in range(len(lines)):
        for line, says in list_faults("\n".join(lines[:position] + lines[position + 1 :])):
            assert 1 <= line <= len(lines)
            assert says.endswith((".", "?")) or "may say" in says
