"""Shares and designs written down by hand, for tests of what is made of them."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np
import pytest

from fitworth.families.model import Family
from fitworth.matching.allowances import Rule, rules_of
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.groups.cells import Cells, cells_of, grouping_rules
from fitworth.matching.groups.centres import KEPT, Centres
from fitworth.matching.groups.estimate import groups_of
from fitworth.matching.groups.learned import Learned
from fitworth.matching.groups.membership import Groups
from fitworth.matching.groups.sizes import Sizes, Words, sizes_of, words_of
from fitworth.matching.parameters import FitModel
from fitworth.quantities.quantity import Quantity, Value

MODEL = FitModel()
Filled = Callable[..., Catalogue]
Figure = tuple[float, float, float]  # value, variance, share
BORES_MM = (15.0, 16.0, 16.0, 16.0, 19.0, 22.0, 22.0, 24.0)


@pytest.fixture(scope="session")
def rules(family: Family) -> Callable[..., tuple[Rule, ...]]:
    """Return the rules of some dimensions by their keys, as they are when nothing was measured."""
    by_key = {rule.dimension.key: rule for rule in rules_of(family, {}, MODEL)[0]}
    return lambda *keys: tuple(by_key[key] for key in keys)


@pytest.fixture(scope="session")
def taught(rules: Callable[..., tuple[Rule, ...]]) -> Callable[..., Learned]:
    """Return what a catalogue is said to have taught of some dimensions: round figures, or those given."""

    def teach(*keys: str, spreads: Mapping[str, Sizes | Words] | None = None, **changes: object) -> Learned:
        some = rules(*keys)
        numeric = np.array([rule.dimension.kind.is_numeric for rule in some], np.bool_)
        plain: dict[bool, Sizes | Words] = {
            True: sizes_of(np.array(BORES_MM), 0.25, 0.06),
            False: words_of(np.array([0.0, 0.0, 1.0, 2.0]), 3),
        }
        learned = Learned(
            rules=some,
            numeric=numeric,
            scatter=np.where(numeric, 0.05, 0.0),
            usual_u=np.where(numeric, 0.03, 0.0),
            reach=np.where(numeric, 0.8, 1.0),
            spreads=tuple(
                (spreads or {}).get(rule.dimension.key, plain[bool(number)])
                for rule, number in zip(some, numeric, strict=True)
            ),
            gross=0.02,
            wrong=0.03,
            concentration=2.0,
            related=0.2,
            changes=0.25,
            proneness=np.ones(len(some)),
            near=0.75,
        )
        return replace(learned, **changes)  # type: ignore[arg-type]

    return teach


@pytest.fixture(scope="session")
def designs() -> Callable[..., Centres]:
    """Return designs, each a list of dimensions, each a list of at most two figures."""

    def write(*some: Sequence[Sequence[Figure]]) -> Centres:
        shape = (len(some), len(some[0]), KEPT)
        centres = Centres(np.zeros(shape), np.ones(shape), np.zeros(shape))
        for at, design in enumerate(some):
            for dim, figures in enumerate(design):
                for kept, (value, variance, share) in enumerate(figures):
                    centres.value[at, dim, kept] = value
                    centres.variance[at, dim, kept] = variance
                    centres.share[at, dim, kept] = share
        return centres

    return write


@pytest.fixture(scope="session")
def tabled() -> Callable[[Catalogue], tuple[tuple[Rule, ...], Cells]]:
    """Return the grouping rules of a catalogue with its cells."""

    def table(catalogue: Catalogue) -> tuple[tuple[Rule, ...], Cells]:
        some = grouping_rules(catalogue, MODEL)
        return some, cells_of(catalogue, some)

    return table


DESIGNS: tuple[Mapping[str, float | str], ...] = (
    {
        "throttle_bore": 16.0,
        "bolt_spacing": 42.0,
        "bolt_hole_diameter": 6.5,
        "body_length": 56.5,
        "fuel_inlet_diameter": 4.8,
        "throttle_link_hole_radius": 18.0,
        "bowl_depth": 40.0,
        "pole_radius": 80.0,
        "choke_type": "manual_lever",
        "resistor": "plain",
    },
    {
        "throttle_bore": 22.0,
        "bolt_spacing": 48.0,
        "bolt_hole_diameter": 8.5,
        "body_length": 66.0,
        "fuel_inlet_diameter": 6.2,
        "throttle_link_hole_radius": 24.0,
        "bowl_depth": 47.0,
        "pole_radius": 95.0,
        "choke_type": "manual_cable",
        "resistor": "resistor",
    },
    {
        "throttle_bore": 26.0,
        "bolt_spacing": 52.0,
        "bolt_hole_diameter": 7.1,
        "body_length": 72.0,
        "fuel_inlet_diameter": 7.9,
        "throttle_link_hole_radius": 27.0,
        "bowl_depth": 52.0,
        "pole_radius": 89.0,
        "choke_type": "none",
        "resistor": "plain",
    },
)
Sheet = dict[str, Value]


@pytest.fixture(scope="session")
def sheets() -> Callable[..., list[Sheet]]:
    """Return sheets of one of the designs above, with holes and the makers' scatter, the same each time."""

    def write(
        design: int, count: int, *, holes: float = 0.35, seed: int = 0, **changed: float | str
    ) -> list[Sheet]:
        rng = np.random.default_rng([seed, design])
        whole = {**DESIGNS[design], **changed}
        found: list[Sheet] = []
        for _ in range(count):
            sheet: Sheet = {}
            for key, value in whole.items():
                read = value if isinstance(value, str) else round(float(value + rng.normal(0.0, 0.05)), 2)
                if rng.random() >= holes or key in changed:
                    sheet[key] = read if isinstance(read, str) else Quantity(read, "mm", 0.03, f"{read:g}")
            found.append(sheet)
        return found

    return write


@pytest.fixture(scope="session")
def catalogue_of(family: Family) -> Callable[[Sequence[Sheet]], Catalogue]:
    """Return a catalogue of some sheets, with ids from 1."""

    def fill(parts: Sequence[Sheet]) -> Catalogue:
        catalogue = Catalogue(family)
        packed = [catalogue.layout.pack(part) for part in parts]
        count = len(packed)
        catalogue.upsert(range(1, count + 1), packed, ["Quillon"] * count, [()] * count)
        return catalogue

    return fill


@pytest.fixture(scope="session")
def shelf(
    catalogue_of: Callable[[Sequence[Sheet]], Catalogue], sheets: Callable[..., list[Sheet]]
) -> tuple[Catalogue, Groups]:
    """Return a catalogue with its groups: six parts of one design, five and four of others, one odd part."""
    odd: Sheet = {"throttle_bore": Quantity(19.0, "mm", 0.03, "19"), "choke_type": "none"}
    catalogue = catalogue_of([*sheets(0, 6), *sheets(1, 5), *sheets(2, 4), odd])
    return catalogue, groups_of(catalogue, MODEL)
