"""What a family file is refused for, fault by fault and all at once."""

import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from fitworth.errors import FamilyFileError
from fitworth.families.parse import check_families, parse_family

Faults = Callable[[str | bytes], list[tuple[int, str]]]

CASES = tomllib.loads((Path(__file__).parent / "fault_cases.toml").read_text(encoding="utf-8"))["case"]


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_a_fault_is_told_in_words_with_its_line(
    case: dict[str, str], recoil_starter: str, list_faults: Faults
) -> None:
    old, new, says = case["old"], case["new"], case["says"]
    assert recoil_starter.count(old) >= 1
    before, after = recoil_starter.split(old, 1)
    first = before.count("\n") + 1
    faults = list_faults(before + new + after)
    [found] = [(line, sentence) for line, sentence in faults if says in sentence]
    if "\n" not in old + new and "missing" not in says and new:
        assert found[0] == first
    else:  # what is left out is told at its table's header above; what spans lines, on one of them
        header = max(before.rfind("\n["), before.rfind("\n[["))
        assert before.count("\n", 0, header + 1) < found[0] <= first + new.count("\n") + 1


@pytest.mark.parametrize(
    ("missing", "line"),
    [("label", 1), ("view", 1), ("grades", 1), ("[life]", 1), ('[[dimension]]\nkey = "pawls"', 0)],
    ids=["label", "view", "grades", "life", "a key of a dimension"],
)
def test_what_is_missing_is_told_where_its_table_begins(
    missing: str, line: int, recoil_starter: str, list_faults: Faults
) -> None:
    before, after = recoil_starter.split(missing, 1)
    if missing == "[life]":
        after = after.split("shape = 1.5", 1)[1]
    elif line == 0:
        line = before.count("\n") + 1
        after = "[[dimension]]" + after
    else:
        after = after.split("\n", 1)[1]
    assert any(found == line and "is missing" in says for found, says in list_faults(before + after))


def test_every_fault_is_told_at_once_in_the_order_of_lines(list_faults: Faults) -> None:
    text = """key = "Own"
view = "from above"
grades = ["oem", "gold"]
colour = "red"

[life]
clock = "hours"
shape = 99

[[dimension]]
key = "limit"
label = "Limit"
kind = "length"
role = "mount"
how = "Rule."
instrument = "ruler"
allowance = [
  3,  # the wrong way round
  1,
]

[[dimension]]
key = "bore"
label = "Bore"
kind = "bore"
role = "runs"
how = "Rule."

[[ratio]]
numerator = "bore"
denominator = "bores"
low = 1
high = 2
"""
    faults = list_faults(text)
    told = [
        (1, "“label” is missing"),
        (1, "“key” is “Own”"),
        (3, "“gold” is no grade"),
        (4, "“colour” is nothing"),
        (8, "“shape” should be"),
        (11, "“limit” is a name that queries use"),
        (16, "“ruler” is no instrument; did you mean “rule”?"),
        (17, "“allowance” goes from 3 to 1"),
        (25, "“bore” is no kind"),
        (26, "“runs” is no role; did you mean “run”?"),
        (31, "“bores” is no dimension of this file; did you mean “bore”?"),
    ]
    assert [line for line, _ in faults] == [line for line, _ in told]
    for (_, says), (_, expected) in zip(faults, told, strict=True):
        assert says.startswith(expected)


def test_a_family_of_notes_alone_counts_for_nothing(list_faults: Faults) -> None:
    text = _small('role = "note"')
    assert list_faults(text) == [
        (7, "every dimension is a note, so nothing here counts for fit; give at least one another role.")
    ]


@pytest.mark.parametrize(
    ("dimensions", "line", "says"),
    [
        ("dimension = []", 4, "a family without dimensions matches nothing"),
        ("dimension = 3", 4, "each “dimension” should stand under its own line [[dimension]]"),
        ("dimension = [1, 2]", 4, "each “dimension” should stand under its own line [[dimension]]"),
        ("", 1, "“dimension” is missing"),
    ],
    ids=["an empty list", "a number", "a list of numbers", "not a word of them"],
)
def test_a_family_needs_dimensions(dimensions: str, line: int, says: str, list_faults: Faults) -> None:
    head = 'key = "own"\nlabel = "Own"\nview = "from above"\n'
    text = f'{head}{dimensions}\ngrades = ["oem"]\nlife = {{clock = "hours", shape = 1}}\n'
    [fault] = list_faults(text)
    assert fault[0] == line
    assert says in fault[1]


def test_life_must_be_a_table(list_faults: Faults) -> None:
    text = _small('role = "run"\nallowance = "equal"').replace(
        'life = {clock = "hours", shape = 1}', "life = 3"
    )
    assert list_faults(text) == [(5, "“life” should be one table with clock, shape, but is 3.")]


@pytest.mark.parametrize("kind", ["text", "set", "flag"])
def test_what_is_named_can_only_be_equal(kind: str, list_faults: Faults) -> None:
    text = _small('role = "run"\nallowance = [-1, 1]').replace(
        'kind = "choice"\nchoices = ["a"]', f'kind = "{kind}"'
    )
    [(_, says)] = list_faults(text)
    assert says == f"this allowance does not suit the kind {kind}; write “equal”."


def test_a_faulty_key_is_not_said_to_be_unknown_as_well(list_faults: Faults) -> None:
    text = (
        _small('role = "none"\nallowance = "equal"')
        + '[[ratio]]\nnumerator = "one"\ndenominator = 3\nlow = 1\nhigh = 2\n'
    )
    assert [says.split(";")[0].split(",")[0] for _, says in list_faults(text)] == [
        "“none” is no role",
        "“denominator” should be text in quotes",
    ]


def test_a_dimension_without_a_usable_key_is_no_second_fault(list_faults: Faults) -> None:
    text = _small('role = "run"\nallowance = "equal"').replace('key = "one"', "key = 1")
    assert list_faults(text) == [(8, "“key” should be text in quotes, but is 1.")]


@pytest.mark.parametrize(
    ("content", "line", "says"),
    [
        (b"key = 1\nlabel = '\xff'\n", 2, "this line is not UTF-8 text; save the file as UTF-8."),
        (b"# " + b"x" * 256 * 1024, 1, "the file has 256 kB; a family file has 256 kB at most."),
        (b"a = " + b"[" * 100_000, 1, "brackets are nested too deep for a family file."),
        (b"a = " + b"1" * 5000, 1, "this is not TOML: a number has too many digits."),
        (b"a = 1\nb = [1,\n2", 3, "this is not TOML: Unclosed array."),
        (b"\n\n\xc3\x28", 3, "this line is not UTF-8 text; save the file as UTF-8."),
        (b"a = 1\n= 2\n", 2, "this is not TOML: Invalid statement."),
    ],
    ids=["not UTF-8", "too large", "nested", "digits", "end of file", "UTF-8 broken off", "syntax"],
)
def test_what_cannot_be_read_at_all_is_told_with_its_line(
    content: bytes, line: int, says: str, list_faults: Faults
) -> None:
    assert list_faults(content) == [(line, says)]


def test_two_families_with_one_key_and_a_kit_without_a_file_are_refused(recoil_starter: str) -> None:
    family = parse_family(recoil_starter.encode(), "own.toml")
    with pytest.raises(FamilyFileError) as refused:
        check_families([family, family])
    assert [(fault.where, fault.says) for fault in refused.value.faults] == [
        (
            "family recoil_starter",
            "2 files have the key “recoil_starter”; a family has one file, rename the others.",
        ),
        *[("family recoil_starter", "its repair names the kit family “rebuild_kit”, which no file has.")] * 2,
    ]


def _small(rest: str) -> str:
    """Return a small family file with one choice, its role and allowance as given."""
    return (
        'key = "own"\nlabel = "Own"\nview = "from above"\ngrades = ["oem"]\n'
        'life = {clock = "hours", shape = 1}\n\n'
        '[[dimension]]\nkey = "one"\nlabel = "One"\nkind = "choice"\nchoices = ["a"]\nhow = "Look."\n'
        f"{rest}\n"
    )
