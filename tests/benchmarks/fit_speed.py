"""How long a fits query takes on generated carburetors, and how that compares with a plain scan.

Run: `python -P tests/benchmarks/fit_speed.py`. It prints, for each size of catalogue, the median time of
`find_fits`, the median time of a brute-force NumPy scan of the same columns (the exact top ten by summed log
probability of the measured dimensions), and their ratio, all in one run.
"""

import statistics
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np

import fitworth.families
from fitworth.families.model import Dimension, Family
from fitworth.families.parse import parse_family
from fitworth.matching.answer import FitQuery
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.fit import find_fits
from fitworth.matching.layout import RowLayout
from fitworth.quantities.quantity import Quantity, Value
from fitworth.vocabulary import Kind

SIZES = (40, 3_000, 100_000)
QUERIES = 15
PARTS_PER_DESIGN = 20
MISSING = 0.35
POPULAR = 12  # sizes of a dimension that designs share
MEASURED = (
    "throttle_bore",
    "bolt_spacing",
    "air_inlet_diameter",
    "body_length",
    "fuel_inlet_diameter",
    "choke_type",
)


def main() -> None:
    """Print the table."""
    path = Path(fitworth.families.__file__).with_name("carburetor.toml")
    family = parse_family(path.read_bytes(), path.name)
    print(f"{'parts':>8} {'load s':>8} {'fit ms':>8} {'p95 ms':>8} {'scan ms':>8} {'ratio':>8}")  # noqa: T201
    for size in SIZES:
        rng = np.random.default_rng(size)
        catalogue, designs, load_s = _load(family, size, rng)
        queries = [_query(family, designs[int(rng.integers(len(designs)))], rng) for _ in range(QUERIES)]
        fit = _times([partial(find_fits, catalogue, query) for query in queries])
        scan = _times([partial(_scan, catalogue, query) for query in queries])
        middle, plain = statistics.median(fit), statistics.median(scan)
        late = sorted(fit)[int(0.95 * len(fit))]
        print(  # noqa: T201
            f"{size:>8} {load_s:>8.2f} {middle:>8.2f} {late:>8.2f} {plain:>8.3f} {middle / plain:>8.1f}"
        )
        sys.stdout.flush()


def _load(
    family: Family, size: int, rng: np.random.Generator
) -> tuple[Catalogue, list[dict[str, Value]], float]:
    palettes = {dimension.key: _palette(dimension, rng) for dimension in family.dimensions}
    designs: list[dict[str, Value]] = [
        {key: palette[int(rng.integers(len(palette)))] for key, palette in palettes.items()}
        for _ in range(max(1, size // PARTS_PER_DESIGN))
    ]
    layout = RowLayout(family)
    packed = []
    for part in range(size):
        design = designs[part % len(designs)]
        listed = {key: _listed(value, rng) for key, value in design.items() if rng.random() > MISSING}
        packed.append(layout.pack(listed))
    catalogue = Catalogue(family)
    start = time.perf_counter()
    catalogue.upsert(range(1, size + 1), packed, ["Quillon"] * size, [()] * size)
    return catalogue, designs, time.perf_counter() - start


def _palette(dimension: Dimension, rng: np.random.Generator) -> list[Value]:
    if dimension.kind.is_numeric:
        low, high = dimension.plausible or (1.0, 50.0)
        sizes = np.round(low + (high - low) * rng.random(POPULAR) ** 2, 1)
        return [Quantity(float(size), dimension.unit, 0.05, "") for size in sizes]
    if dimension.kind is Kind.FLAG:
        return [False, True]
    if dimension.kind is Kind.SET:
        return [frozenset(dimension.choices[:1]), frozenset(dimension.choices[:2])]
    return list(dimension.choices) or ["one", "two"]


def _listed(value: Value, rng: np.random.Generator) -> Value:
    if not isinstance(value, Quantity):
        return value
    return Quantity(round(value.value + float(rng.normal(0.0, 0.05)), 2), value.unit, 0.03, "")


def _query(family: Family, design: dict[str, Value], rng: np.random.Generator) -> FitQuery:
    return FitQuery({key: _listed(design[key], rng) for key in MEASURED if key in family.by_key})


def _scan(catalogue: Catalogue, query: FitQuery) -> object:
    """Find the ten likeliest parts, every cell read once."""
    total = np.zeros(len(catalogue), np.float32)
    for key, value in query.measured.items():
        if isinstance(value, Quantity):
            values, u = catalogue.numbers(key)
            z = (values - np.float32(value.value)) / np.hypot(u, np.float32(0.05))
            total += np.where(
                np.isnan(values), np.float32(-4.0), np.maximum(np.float32(-0.5) * z * z, np.float32(-8.0))
            )
        else:
            codes = catalogue.codes(key)
            total += np.where(codes == catalogue.code_of(catalogue.family.by_key[key], value), 0.0, -4.0)
    return np.argpartition(-total, 10)[:10]


def _times(calls: list[Callable[[], object]]) -> list[float]:
    """Return the milliseconds of each call, the first once more beforehand so that all is warm."""
    calls[0]()
    spent = []
    for call in calls:
        start = time.perf_counter()
        call()
        spent.append((time.perf_counter() - start) * 1000.0)
    return spent


if __name__ == "__main__":
    main()
