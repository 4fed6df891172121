"""A small carburetor-like family, and an invented world of parts whose true designs are known."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pytest

from fitworth.families.model import (
    Accepts,
    AllowanceWhen,
    Around,
    BoltPlay,
    Cure,
    Dimension,
    Equal,
    Family,
    Interval,
    Life,
    Percent,
    Ratio,
)
from fitworth.matching.answer import FitQuery
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.layout import RowLayout
from fitworth.quantities.quantity import Quantity, Value
from fitworth.vocabulary import Grade, Instrument, Kind, LifeClock, Role


def dimension(key: str, kind: Kind, role: Role, **more: object) -> Dimension:
    units = {Kind.LENGTH: "mm", Kind.ANGLE: "deg", Kind.RESISTANCE: "ohm", Kind.COUNT: "1"}
    plain = Dimension(
        key=key,
        label=key.replace("_", " ").capitalize(),
        kind=kind,
        unit=units.get(kind, ""),
        role=role,
        how=f"measure the {key.replace('_', ' ')}",
        allowance=None if role is Role.NOTE else Equal(),
        instrument=Instrument.CALIPER_OUTSIDE if kind.is_numeric else Instrument.LOOK,
        consequence=f"wrong {key.replace('_', ' ')}",
    )
    return replace(plain, **more)  # type: ignore[arg-type]


DIMENSIONS = (
    dimension("throttle_bore", Kind.LENGTH, Role.RUN, allowance=Interval(-1.0, 1.0)),
    dimension(
        "bolt_spacing", Kind.LENGTH, Role.MOUNT, allowance=BoltPlay("bolt_hole_diameter", "stud_diameter")
    ),
    dimension("bolt_hole_diameter", Kind.LENGTH, Role.MOUNT, allowance=Interval(-0.3, 1.0)),
    dimension("stud_diameter", Kind.LENGTH, Role.NOTE),
    dimension(
        "body_length",
        Kind.LENGTH,
        Role.CONNECT,
        allowance=Interval(-0.5, 0.5),
        allowance_when=(AllowanceWhen("air_connection", "rubber_elbow", Interval(-2.0, 2.0)),),
        cure=Cure(("spacer",), 20.0, 4.0, -6.0, 10.0),
    ),
    dimension("air_connection", Kind.CHOICE, Role.NOTE, choices=("rigid_base", "rubber_elbow")),
    dimension(
        "fuel_inlet_diameter",
        Kind.LENGTH,
        Role.CONNECT,
        allowance=Interval(-0.3, 0.8),
        cure=Cure(("fuel_hose",), 10.0, 3.0),
    ),
    dimension(
        "fuel_inlet_hour",
        Kind.COUNT,
        Role.CONNECT,
        allowance=Around(-1.0, 1.0, 12.0),
        cure=Cure((), 10.0, 0.0),
    ),
    dimension(
        "choke_type",
        Kind.CHOICE,
        Role.CONNECT,
        choices=("manual_lever", "manual_cable", "none"),
        cure=Cure(("choke_bracket",), 30.0, 5.0),
    ),
    dimension("throttle_link_hole_radius", Kind.LENGTH, Role.SAFE, allowance=Interval(-0.5, 0.5)),
    dimension("bowl_depth", Kind.LENGTH, Role.MOUNT, allowance=Interval(-math.inf, 2.0)),
    dimension("pole_radius", Kind.LENGTH, Role.RUN, allowance=Percent(-2.0, 2.0)),
    dimension("leg_count", Kind.COUNT, Role.RUN),
    dimension(
        "resistor",
        Kind.CHOICE,
        Role.RUN,
        choices=("plain", "resistor"),
        allowance=Accepts({"plain": frozenset({"plain", "resistor"}), "resistor": frozenset({"resistor"})}),
    ),
    dimension("vented", Kind.FLAG, Role.SEAL),
    dimension("ports", Kind.SET, Role.SEAL, choices=("vent", "canister", "pulse")),
    dimension("pattern", Kind.TEXT, Role.RUN),
    dimension("labels", Kind.SET, Role.NOTE),
    dimension("coil_resistance", Kind.RESISTANCE, Role.NOTE, allowance=Percent(-25.0, 25.0)),
    dimension("heat_range", Kind.COUNT, Role.RUN, allowance=Interval(-1.0, 1.0), scale_of="maker"),
)


@pytest.fixture(scope="session")
def family() -> Family:
    return Family(
        key="carburetor",
        label="Carburetor",
        view="into the air inlet, bowl down",
        grades=(Grade.OEM,),
        life=Life(LifeClock.CALENDAR, 1.3),
        dimensions=DIMENSIONS,
        ratios=(Ratio("body_length", "throttle_bore", 2.5, 3.7),),
    )


@pytest.fixture(scope="session")
def mm() -> Callable[..., Quantity]:
    def quantity(value: float, u: float = 0.03, unit: str = "mm") -> Quantity:
        return Quantity(value, unit, u, f"{value:g}")

    return quantity


Filled = Callable[..., Catalogue]


@pytest.fixture
def filled(family: Family) -> Filled:
    """Return a catalogue of the parts given, with ids from 1."""

    def fill(
        *parts: Mapping[str, Value], makers: Sequence[str] = (), stated: Sequence[Sequence[str]] = ()
    ) -> Catalogue:
        catalogue = Catalogue(family)
        packed = [catalogue.layout.pack(part) for part in parts]
        catalogue.upsert(
            range(1, len(parts) + 1),
            packed,
            makers or ["Quillon"] * len(parts),
            stated or [()] * len(parts),
        )
        return catalogue

    return fill


SIZES: Mapping[str, tuple[float, ...]] = {
    "throttle_bore": (15.0, 16.0, 19.0, 22.0, 24.0, 26.0),
    "bolt_spacing": (38.0, 42.0, 44.5, 48.0, 52.0),
    "bolt_hole_diameter": (6.5, 7.1, 8.5),
    "body_length": (52.0, 56.5, 62.0, 66.0, 72.0),
    "fuel_inlet_diameter": (4.8, 6.2, 7.9),
    "throttle_link_hole_radius": (18.0, 21.0, 24.0, 27.0),
    "bowl_depth": (40.0, 44.0, 47.0, 52.0),
    "pole_radius": (80.0, 89.0, 95.0),
}
WORDS: Mapping[str, tuple[str, ...]] = {
    "choke_type": ("manual_lever", "manual_cable", "none"),
    "resistor": ("plain", "resistor"),
}
Design = dict[str, float | str]


@dataclass
class World:
    """Invented parts in groups of one design; a tenth of the removed parts are of a design on no file."""

    family: Family
    rng: np.random.Generator
    designs: list[Design] = field(default_factory=list)
    design_of: dict[int, int] = field(default_factory=dict)
    missing: float = 0.35
    gross: float = 0.02

    def invent(self) -> Design:
        """Return a new design; a third are an older design with one or two changes."""
        rng = self.rng
        if self.designs and rng.random() < 0.33:
            changed = dict(self.designs[int(rng.integers(len(self.designs)))])
            for key in rng.choice([*SIZES, *WORDS], size=int(rng.integers(1, 3)), replace=False):
                changed[str(key)] = self._pick(str(key))
            return changed
        return {key: self._pick(key) for key in (*SIZES, *WORDS)}

    def _pick(self, key: str) -> float | str:
        if key in WORDS:
            return str(self.rng.choice(WORDS[key]))
        sizes = SIZES[key]
        popular = sizes[int(self.rng.integers(len(sizes)) * self.rng.random())]
        return float(popular + (self.rng.normal(0.0, 1.0) if self.rng.random() < 0.3 else 0.0))

    def seen(self, key: str, value: float | str, u: float) -> Value:
        """Return what somebody reads of a true value, gross errors included."""
        if isinstance(value, str):
            return str(self.rng.choice(WORDS[key])) if self.rng.random() < self.gross else value
        true = self._pick(key) if self.rng.random() < self.gross else value
        read = round(float(true) + float(self.rng.normal(0.0, math.hypot(0.05, u))), 2)
        return Quantity(read, "mm", u, f"{read:g}")

    def fill(self, n_designs: int, parts_each: int) -> Catalogue:
        """Return a catalogue of parts that list two thirds of their dimensions."""
        layout = RowLayout(self.family)
        packed: list[bytes] = []
        for _ in range(n_designs):
            self.designs.append(self.invent())
            for _ in range(1 + int(self.rng.geometric(1.0 / parts_each)) if parts_each > 1 else 1):
                self.design_of[len(packed) + 1] = len(self.designs) - 1
                design = self.designs[-1]
                listed = {
                    k: self.seen(k, v, 0.03) for k, v in design.items() if self.rng.random() > self.missing
                }
                packed.append(layout.pack(listed))
        catalogue = Catalogue(self.family)
        catalogue.upsert(range(1, len(packed) + 1), packed, ["Quillon"] * len(packed), [()] * len(packed))
        return catalogue

    def ask(self, measured: Sequence[str]) -> tuple[FitQuery, Design]:
        """Return a query for a removed part and its true design."""
        if self.rng.random() < 0.1:
            design = self.invent()
        else:
            design = self.designs[self.design_of[int(self.rng.integers(len(self.design_of))) + 1]]
        return FitQuery({key: self.seen(key, design[key], 0.05) for key in measured}), design

    def runs(self, candidate: Design, removed: Design) -> bool:
        """Return whether a candidate of one design truly runs in place of another, cures counted."""
        return all(self._does(key, candidate[key], removed[key]) for key in candidate)

    def _does(self, key: str, new: float | str, old: float | str) -> bool:
        rule = self.family.by_key[key]
        if isinstance(new, str) or isinstance(old, str):
            return new == old or rule.cure is not None or (key == "resistor" and new == "resistor")
        allowance = Interval(-0.5, 0.5) if key == "bolt_spacing" else rule.allowance
        if isinstance(allowance, Percent):
            allowance = Interval(allowance.low * old / 100.0, allowance.high * old / 100.0)
        assert isinstance(allowance, Interval)
        low, high = allowance.low, allowance.high
        if rule.cure:
            low, high = min(low, rule.cure.low), max(high, rule.cure.high)
        return low <= new - old <= high


@pytest.fixture
def new_world(family: Family) -> Callable[[int], World]:
    return lambda seed: World(family, np.random.default_rng(seed))
