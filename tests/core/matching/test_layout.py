"""Packed rows: what goes in comes out, and what does not belong is refused."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fitworth.errors import InvalidValueError
from fitworth.families.model import Family
from fitworth.matching.layout import (
    MOST_SET_CHOICES,
    OldLayoutError,
    RowLayout,
    is_mask,
    layout_fingerprint,
    pack,
    unpack,
)
from fitworth.quantities.quantity import Quantity, Value
from fitworth.vocabulary import Role

BAD: dict[str, tuple[Value, str]] = {
    "throttle_bore": ("nineteen", "Throttle bore is a number in mm."),
    "leg_count": (Quantity(2.0, "mm", 0.0, "2"), "Leg count is a number in 1."),
    "choke_type": ("steam", "Choke type is one of manual_lever, manual_cable, none."),
    "vented": ("yes", "Vented is either true or false."),
    "ports": (frozenset({"door"}), "Ports is a list of vent, canister, pulse."),
    "labels": ("one", "Labels is a list of words."),
    "pattern": (True, "Pattern is a text."),
}


def test_every_value_of_the_wrong_kind_is_refused_at_once(family: Family) -> None:
    with pytest.raises(InvalidValueError) as refused:
        pack(family, {key: value for key, (value, _) in BAD.items()} | {"colour": "red"})
    says = {fault.where: fault.says for fault in refused.value.faults}
    assert says.pop("/colour").startswith("Carburetor has no dimension “colour”; it has throttle_bore")
    assert says == {f"/{key}": sentence for key, (_, sentence) in BAD.items()}


def test_a_number_that_is_none_is_refused(family: Family, mm: Callable[..., Quantity]) -> None:
    with pytest.raises(InvalidValueError, match="Throttle bore is a number in mm"):
        pack(family, {"throttle_bore": mm(float("nan"))})


def test_a_row_of_another_layout_is_refused(family: Family) -> None:
    changed = replace(family, dimensions=family.dimensions[:-1])
    with pytest.raises(OldLayoutError, match="pack its dimensions anew"):
        unpack(family, pack(changed, {}))
    renamed = replace(family, key="other")
    with pytest.raises(OldLayoutError):
        RowLayout(family).rows([pack(family, {}), pack(renamed, {})])


def test_the_fingerprint_follows_meaning_and_not_judgement(family: Family) -> None:
    first = family.dimensions[0]
    judged = replace(
        family, dimensions=(replace(first, role=Role.SAFE, label="Bore"), *family.dimensions[1:])
    )
    renamed = replace(family, dimensions=(replace(first, key="bore"), *family.dimensions[1:]))
    assert layout_fingerprint(judged) == layout_fingerprint(family)
    assert layout_fingerprint(renamed) != layout_fingerprint(family)
    assert 0 <= layout_fingerprint(family) < 1 << 63


def test_a_row_without_anything_listed_reads_as_nothing(family: Family) -> None:
    assert unpack(family, pack(family, {})) == {}


def test_a_set_of_too_many_choices_is_kept_as_text(family: Family) -> None:
    ports = family.by_key["ports"]
    many = replace(ports, choices=tuple(f"port_{place}" for place in range(MOST_SET_CHOICES + 1)))
    assert is_mask(ports)
    assert not is_mask(many)
    wide = replace(family, dimensions=(many,))
    listed = {"ports": frozenset({"port_1", "port_63"})}
    assert unpack(wide, pack(wide, listed)) == listed


def test_a_long_text_is_shown_by_its_beginning_and_told_apart_by_its_end(family: Family) -> None:
    layout = RowLayout(family)
    one, other = (layout.pack({"pattern": "x" * 60 + end}) for end in "ab")
    assert unpack(family, one)["pattern"] == "x" * 40
    assert one != other


numbers = st.integers(1, 999_999).map(lambda n: n / 1000)
listed_values = st.fixed_dictionaries(
    {},
    optional={
        "throttle_bore": numbers.map(lambda x: Quantity(x, "mm", 0.03, "")),
        "leg_count": st.integers(0, 9).map(lambda n: Quantity(float(n), "1", 0.0, "")),
        "choke_type": st.sampled_from(["manual_lever", "manual_cable", "none"]),
        "vented": st.booleans(),
        "ports": st.frozensets(st.sampled_from(["vent", "canister", "pulse"])),
        "labels": st.frozensets(st.text("abc", min_size=1, max_size=3), max_size=4),
        "pattern": st.text("abcdef ", max_size=12),
    },
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(values=listed_values)
def test_what_is_packed_is_unpacked(family: Family, values: dict[str, Value]) -> None:
    read = unpack(family, pack(family, values))
    assert read.keys() == values.keys()
    for key, value in values.items():
        found = read[key]
        if isinstance(value, Quantity):
            assert isinstance(found, Quantity)
            assert found.value == pytest.approx(value.value, rel=1e-6)
            assert found.standard_uncertainty == value.standard_uncertainty
            assert (found.as_entered[-3:] == " mm") == (value.unit == "mm")
        else:
            assert found == value
