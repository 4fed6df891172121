"""The built-in family files: sound, complete, and with the roles and units of the trade."""

from collections.abc import Mapping
from importlib.resources import files

import pytest

from fitworth.families.model import Accepts, BoltPlay, Family, Interval, Percent, Repair
from fitworth.families.parse import check_families, parse_family
from fitworth.vocabulary import Grade, LifeClock, Role

# Each family's dimensions by role; behind a colon the unit where it is not mm, "-" where there is no number.
# Common practice of the trade, no source.
EXPECTED = {
    "carburetor": {
        "safe": "throttle_shaft_distance throttle_lever_side:- throttle_link_hole_radius "
        "throttle_link_hole_diameter throttle_lever_height throttle_lever_angle:deg governor_spring_hole:-",
        "mount": "bolt_spacing bolt_hole_diameter bolt_axis:deg mounting_style:- draft:- "
        "filter_bolt_spacing bowl_depth bowl_width",
        "seal": "air_inlet_diameter spacer_stack",
        "connect": "flange_thickness body_length fuel_inlet_diameter fuel_inlet_side:- choke_type:- primer:- "
        "choke_link_hole fuel_shutoff:- main_jet_diameter purge_ports:1",
        "run": "throttle_bore venturi_diameter fuel_metering:- fuel_feed:- pulse_passage:-",
        "note": "stud_diameter air_connection:- gasket_set:- seat_replaceable:-",
    },
    "ignition_coil": {
        "safe": "stop_diode:-",
        "mount": "mounting_hole_spacing mounting_hole_diameter hole_to_pole_face coil_position:-",
        "connect": "core_thickness lead_length plug_boot:- stop_terminal:-",
        "run": "pole_face_radius winding_leg:- leg_count:1 leg_spacing leg_width trigger:-",
        "note": "primary_resistance:ohm secondary_resistance:ohm air_gap",
    },
    "spark_plug": {
        "safe": "thread:- reach seat:- projected_tip heat_range:1",
        "connect": "installed_height hexagon terminal:-",
        "run": "resistor:-",
        "note": "gap",
    },
    "flywheel_key": {"safe": "width offset material:-", "mount": "kind:- height length"},
    "contact_set": {
        "mount": "mounting_hole_spacing pivot_diameter can_diameter",
        "connect": "lead_length",
        "run": "capacitance:uF arm_length plunger_length",
        "note": "gap",
    },
    "rebuild_kit": {
        "seal": "seat_outside_diameter bowl_gasket_diameter bowl_gasket_section",
        "run": "needle_length diaphragm_pattern:-",
    },
}

# Allowances of the trade: candidate minus removed, in the unit. Common practice, no source.
INTERVALS = {
    "carburetor": {
        "throttle_bore": (-1, 1),
        "venturi_diameter": (-0.5, 0.5),
        "bolt_hole_diameter": (-0.3, 1),
        "bolt_axis": (-5, 5),
        "flange_thickness": (-1, 1),
        "throttle_shaft_distance": (-1, 1),
        "body_length": (-0.5, 0.5),
        "air_inlet_diameter": (-0.3, 0.3),
        "filter_bolt_spacing": (-0.5, 0.5),
        "fuel_inlet_diameter": (-0.3, 0.8),
        "choke_link_hole": (-1.5, 1.5),
        "throttle_link_hole_radius": (-0.5, 0.5),
        "throttle_link_hole_diameter": (-0.1, 0.2),
        "throttle_lever_height": (-1.5, 1.5),
        "throttle_lever_angle": (-5, 5),
        "bowl_depth": (float("-inf"), 2),
        "bowl_width": (float("-inf"), 2),
        "main_jet_diameter": (-0.02, 0.02),
        "spacer_stack": (-0.5, 0.5),
    },
    "ignition_coil": {
        "mounting_hole_spacing": (-0.5, 0.5),
        "mounting_hole_diameter": (-0.3, 1),
        "hole_to_pole_face": (-1, 1),
        "leg_spacing": (-1, 1),
        "leg_width": (-1, 1),
        "core_thickness": (-1, 2),
        "lead_length": (-10, 150),
    },
    "spark_plug": {
        "reach": (-0.5, 0.5),
        "projected_tip": (float("-inf"), 0.5),
        "heat_range": (-1, 1),
        "installed_height": (-5, 5),
        "hexagon": (-0.3, 0.3),
    },
    "flywheel_key": {"width": (-0.03, 0.03), "height": (-0.1, 0), "length": (-1, 0), "offset": (-0.05, 0.05)},
    "contact_set": {
        "mounting_hole_spacing": (-0.5, 0.5),
        "pivot_diameter": (-0.1, 0.1),
        "arm_length": (-0.5, 0.5),
        "plunger_length": (-0.1, 0.1),
        "can_diameter": (-0.3, 0.3),
        "lead_length": (-10, 100),
    },
    "rebuild_kit": {
        "needle_length": (-0.2, 0.2),
        "seat_outside_diameter": (-0.02, 0.03),
        "bowl_gasket_diameter": (-0.5, 0.5),
        "bowl_gasket_section": (-0.2, 0.2),
    },
}


@pytest.fixture(scope="module")
def built_in() -> Mapping[str, Family]:
    found = [
        parse_family(file.read_bytes(), file.name)
        for file in files("fitworth.families").iterdir()
        if file.name.endswith(".toml")
    ]
    check_families(found)
    return {family.key: family for family in found}


def test_the_six_families_are_there(built_in: Mapping[str, Family]) -> None:
    assert set(built_in) == set(EXPECTED)


@pytest.mark.parametrize("key", EXPECTED)
def test_a_family_has_the_trades_dimensions_with_role_and_unit(
    key: str, built_in: Mapping[str, Family]
) -> None:
    expected = {}
    for role, names in EXPECTED[key].items():
        for name in names.split():
            dimension, _, unit = name.partition(":")
            expected[dimension] = (role, "" if unit == "-" else unit or "mm")
    found = {name: (str(one.role), one.unit) for name, one in built_in[key].by_key.items()}
    assert found == expected


@pytest.mark.parametrize("key", INTERVALS)
def test_the_intervals_are_the_trades(key: str, built_in: Mapping[str, Family]) -> None:
    found = {
        name: (one.allowance.low, one.allowance.high)
        for name, one in built_in[key].by_key.items()
        if isinstance(one.allowance, Interval)
    }
    assert found == INTERVALS[key]


def test_the_rules_that_are_no_interval_are_the_trades(built_in: Mapping[str, Family]) -> None:
    carburetor, coil = built_in["carburetor"].by_key, built_in["ignition_coil"].by_key
    assert carburetor["bolt_spacing"].allowance == BoltPlay("bolt_hole_diameter", "stud_diameter")
    assert coil["pole_face_radius"].allowance == Percent(-2, 2)
    assert coil["secondary_resistance"].allowance == Percent(-25, 25)
    assert built_in["contact_set"].by_key["capacitance"].allowance == Percent(-20, 20)
    resistor = built_in["spark_plug"].by_key["resistor"].allowance
    assert isinstance(resistor, Accepts)
    assert "resistor" in resistor.table["plain"]
    assert "plain" not in resistor.table["resistor"]


def test_a_rubber_elbow_forgives_what_a_rigid_base_does_not(built_in: Mapping[str, Family]) -> None:
    carburetor = built_in["carburetor"].by_key
    forgiving = {
        name: when.allowance
        for name in ("body_length", "air_inlet_diameter")
        for when in carburetor[name].allowance_when
        if (when.dimension, when.value) == ("air_connection", "rubber_elbow")
    }
    assert forgiving == {"body_length": Interval(-2, 2), "air_inlet_diameter": Interval(-0.5, 1)}


def test_cures_carry_the_trades_minutes_and_costs(built_in: Mapping[str, Family]) -> None:
    found = {
        f"{family.key}.{one.key}": (one.cure.minutes, one.cure.cost)
        for family in built_in.values()
        for one in family.dimensions
        if one.cure
    }
    assert found == {
        "carburetor.flange_thickness": (10, 2),
        "carburetor.body_length": (20, 4),
        "carburetor.fuel_inlet_diameter": (10, 3),
        "carburetor.fuel_inlet_side": (10, 3),
        "carburetor.choke_type": (30, 5),
        "carburetor.primer": (10, 3),
        "carburetor.choke_link_hole": (15, 0),
        "carburetor.fuel_shutoff": (10, 5),
        "carburetor.main_jet_diameter": (15, 0),
        "carburetor.purge_ports": (10, 2),
        "ignition_coil.core_thickness": (5, 0),
        "ignition_coil.lead_length": (5, 1),
        "ignition_coil.plug_boot": (10, 4),
        "ignition_coil.stop_terminal": (10, 1),
        "spark_plug.installed_height": (5, 4),
        "spark_plug.hexagon": (0, 0),
        "spark_plug.terminal": (1, 0),
        "contact_set.lead_length": (10, 0),
    }


def test_life_repair_and_what_clears_a_coil(built_in: Mapping[str, Family]) -> None:
    assert {key: (family.life.clock, family.life.shape) for key, family in built_in.items()} == {
        "carburetor": (LifeClock.CALENDAR, 1.2),
        "ignition_coil": (LifeClock.HOURS, 1.0),
        "spark_plug": (LifeClock.HOURS, 2.0),
        "flywheel_key": (LifeClock.CALENDAR, 1.0),
        "contact_set": (LifeClock.HOURS, 1.5),
        "rebuild_kit": (LifeClock.CALENDAR, 1.2),
    }
    assert {key: family.repair for key, family in built_in.items() if family.repair} == {
        "carburetor": Repair("rebuild_kit", "carburetor", ("needle_and_seat", "needle", "diaphragm"))
    }
    [clears] = built_in["ignition_coil"].clears
    assert (clears.check, clears.result) == ("stop_lead_off_at_coil", "spark")
    assert clears.says.startswith("The coil is good")


def test_nobody_trades_in_remanufactured_coils_or_used_plugs(built_in: Mapping[str, Family]) -> None:
    assert Grade.REMANUFACTURED not in built_in["ignition_coil"].grades
    assert Grade.USED not in built_in["spark_plug"].grades


def test_every_dimension_that_counts_says_how_it_is_measured_and_what_a_mismatch_does(
    built_in: Mapping[str, Family],
) -> None:
    for family in built_in.values():
        for one in family.dimensions:
            assert one.how.endswith((".", "?"))
            assert one.role is Role.NOTE or one.consequence
            assert not one.kind.is_numeric or one.plausible
