"""The flavours of invented worlds: which family, and every figure by which its parts come about.

All figures are own choices unless a comment says otherwise. Nothing here is taken from the match.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType

import fitworth.families
from fitworth.families.model import Allowance, Cure, Dimension, Equal, Family, Interval, Life
from fitworth.families.parse import parse_family
from fitworth.vocabulary import Grade, Instrument, Kind, LifeClock, Role

MM_PER_INCH = 25.4


@dataclass(frozen=True, slots=True)
class Recipe:
    """How a world comes about.

    Attributes:
        family: "bench" for the family below, else the key of a built-in one.
        missing: [share] of a sheet's cells that are empty.
        gross_listed: [share] of listed lengths that are gross errors.
        gross_measured: [share] of measured lengths that are.
        word_wrong_listed: [share] of listed choices, counts and flags that are wrong.
        word_wrong_measured: [share] of those seen on the removed part that are.
        twin_share: [share] of designs that are another design changed in one dimension.
        twin_factors: [allowances] by how much the changed dimension differs, each as likely, either way.
        new_share: [share] of removed parts whose design is not on file.
        scatter: makers' scatter about the design: shares and standard deviations [mm] of a normal mixture.
        popular_share: [share] of a design's lengths that are a popular size.
        popular_sizes: how many popular sizes a length has.
        popular_steepness: [1] exponent by which the popularity of sizes falls with their rank.
        size_classes: how many sizes of engine there are; all dimensions follow them.
        follows: [share of a length's range] standard deviation about what the size of engine suggests.
        listing_sd_mm: [mm] error of a listed length before it is rounded.
        steps_mm: [mm] to which a maker's sheet rounds, each as likely.
        read_u_mm: [mm] standard uncertainty that the program reads from such a sheet, by step; empty: the
            error above and the rounding in quadrature.
        measured_u_mm: [mm] standard deviation, and stated uncertainty, of a measured length.
        slip_mm: [mm] how far off a listed gross error of any size may be.
    """

    family: str = "bench"
    missing: float = 0.35
    gross_listed: float = 0.02
    gross_measured: float = 0.02
    word_wrong_listed: float = 0.015
    word_wrong_measured: float = 0.015
    twin_share: float = 0.2
    twin_factors: tuple[float, ...] = tuple(round(0.5 + 0.1 * step, 1) for step in range(16))
    new_share: float = 0.10
    scatter: tuple[tuple[float, float], ...] = ((1.0, 0.05),)
    popular_share: float = 0.75
    popular_sizes: int = 12
    popular_steepness: float = 1.0
    size_classes: int = 15
    follows: float = 0.15
    listing_sd_mm: float = 0.03
    steps_mm: tuple[float, ...] = (0.1, 0.01)
    read_u_mm: tuple[float, ...] = ()
    measured_u_mm: float = 0.1
    slip_mm: float = 8.0


_PLAIN = Recipe()
RECIPES: Mapping[str, Recipe] = MappingProxyType(
    {
        "bench": _PLAIN,
        "carburetor": replace(_PLAIN, family="carburetor"),
        "coil": replace(_PLAIN, family="ignition_coil"),
        # The program reads a mixed fraction as good to half of 1/64 in, which is too good for sixteenths.
        "inch": replace(
            _PLAIN,
            steps_mm=(MM_PER_INCH / 64, MM_PER_INCH / 16),
            read_u_mm=(0.1146, 0.1146),
            listing_sd_mm=0.0,
        ),
        "sparse": replace(_PLAIN, missing=0.60, gross_listed=0.05, gross_measured=0.05),
        "clean": replace(_PLAIN, missing=0.10, gross_listed=0.005, gross_measured=0.005, twin_share=0.0),
        # Heavy tails: a tenth of the parts' dimensions scatter three times as far.
        "scattered": replace(_PLAIN, scatter=((0.9, 0.1), (0.1, 0.3))),
    }
)

Range = tuple[float, float]
RANGES: Mapping[str, Mapping[str, Range | tuple[()]]] = MappingProxyType(
    {
        "bench": {
            "bore": (14.0, 32.0),
            "stud_spacing": (36.0, 60.0),
            "hole_diameter": (5.5, 9.5),
            "seal_diameter": (24.0, 50.0),
            "body_length": (45.0, 80.0),
            "inlet_diameter": (4.0, 9.0),
            "outlet_offset": (18.0, 40.0),
            "link_radius": (14.0, 30.0),
            "style": (),
            "feed": (),
            "inlet_side": (),
            "bracket": (),
        },
        "carburetor": {
            "throttle_bore": (14.0, 32.0),
            "bolt_spacing": (36.0, 60.0),
            "bolt_hole_diameter": (5.5, 9.5),
            "flange_thickness": (4.0, 14.0),
            "body_length": (45.0, 80.0),
            "air_inlet_diameter": (26.0, 52.0),
            "filter_bolt_spacing": (36.0, 70.0),
            "fuel_inlet_diameter": (4.0, 9.0),
            "bowl_depth": (35.0, 62.0),
            "throttle_link_hole_radius": (14.0, 30.0),
            "mounting_style": (),
            "fuel_inlet_side": (),
            "choke_type": (),
            "throttle_lever_side": (),
        },
        "ignition_coil": {
            "mounting_hole_spacing": (30.0, 90.0),
            "mounting_hole_diameter": (4.0, 8.0),
            "hole_to_pole_face": (20.0, 60.0),
            "pole_face_radius": (60.0, 120.0),
            "leg_spacing": (20.0, 70.0),
            "leg_width": (6.0, 18.0),
            "core_thickness": (8.0, 20.0),
            "leg_count": (),
            "winding_leg": (),
            "trigger": (),
            "plug_boot": (),
            "stop_terminal": (),
            "stop_diode": (),
        },
    }
)
"""Which dimensions of a family the world fills: the range of a length [mm], nothing for the others."""

UNMEASURED = frozenset({"bolt_hole_diameter"})
"""Left unmeasured: the program would settle the play of the bolts by it, which is 0.5 mm in truth."""

COUNTS: Mapping[str, tuple[int, ...]] = MappingProxyType({"leg_count": (2, 3)})


def load_family(key: str) -> Family:
    """Return the family of the worlds' own, or a built-in one."""
    if key == "bench":
        return BENCH
    path = Path(fitworth.families.__file__).with_name(f"{key}.toml")
    return parse_family(path.read_bytes(), path.name)


def _length(key: str, role: Role, low: float, high: float, cure: Cure | None = None) -> Dimension:
    return _dimension(key, Kind.LENGTH, role, Interval(low, high), cure=cure)


def _choice(key: str, role: Role, *choices: str, cure: Cure | None = None) -> Dimension:
    return _dimension(key, Kind.CHOICE, role, Equal(), choices, cure)


def _dimension(
    key: str,
    kind: Kind,
    role: Role,
    allowance: Allowance,
    choices: tuple[str, ...] = (),
    cure: Cure | None = None,
) -> Dimension:
    words = key.replace("_", " ")
    return Dimension(
        key=key,
        label=words.capitalize(),
        kind=kind,
        unit="mm" if kind is Kind.LENGTH else "",
        role=role,
        how=f"Measure the {words}.",
        allowance=allowance,
        instrument=Instrument.CALIPER_OUTSIDE if kind is Kind.LENGTH else Instrument.LOOK,
        choices=choices,
        consequence=f"Wrong {words}.",
        cure=cure,
    )


BENCH = Family(
    key="bench",
    label="Bench part",
    view="seen into the inlet",
    grades=tuple(Grade),
    life=Life(LifeClock.CALENDAR, 1.2),
    dimensions=(
        _length("bore", Role.RUN, -1.0, 1.0),
        _length("stud_spacing", Role.MOUNT, -0.5, 0.5),
        _length("hole_diameter", Role.MOUNT, -0.3, 1.0),
        _length("seal_diameter", Role.SEAL, -0.3, 0.3),
        _length("body_length", Role.CONNECT, -0.5, 0.5, Cure(("spacer",), 20.0, 4.0, -6.0, 10.0)),
        _length("inlet_diameter", Role.CONNECT, -0.3, 0.8, Cure(("fuel_hose",), 10.0, 3.0)),
        _length("outlet_offset", Role.CONNECT, -0.6, 0.6),
        _length("link_radius", Role.SAFE, -0.5, 0.5),
        _choice("style", Role.MOUNT, "through_bolts", "flange_bolts", "clamp", "stub"),
        _choice("feed", Role.RUN, "gravity", "pump", "suction"),
        _choice(
            "inlet_side",
            Role.CONNECT,
            "left",
            "right",
            "front",
            "rear",
            cure=Cure(("fuel_hose",), 10.0, 3.0),
        ),
        _choice("bracket", Role.CONNECT, "none", "short", "long", "cranked"),
    ),
)
