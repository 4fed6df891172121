"""How long the main job takes: a fits query and a comparison, on the demonstration and on 100,000 parts.

Run: `python -P tests/benchmarks/main_job.py`. Through the application itself, without a network: each time
stands beside that of the trivial request `/healthz` of the same run, and their ratio. Medians, warm.
"""

import statistics
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
from fastapi import FastAPI
from fastapi.testclient import TestClient

from api.main import create_app
from api.services.call import Call
from api.services.demonstration import FAMILIES, load
from api.settings import Settings
from db import parts as stored_parts
from db import records
from db.parts import NewPart, Number
from fitworth.families.model import Family
from fitworth.matching.layout import RowLayout
from fitworth.matching.measurements import write_value
from fitworth.quantities.quantity import Quantity, Value
from fitworth.vocabulary import Kind

ROUNDS = 30
GENERATED = 100_000
BATCH = 5_000
PARTS_PER_DESIGN = 20
LISTED = 0.65
POPULAR = 12  # sizes of a dimension that designs share


def main() -> None:
    """Print the table."""
    print(f"{'catalogue':<16} {'request':<12} {'ms':>8} {'trivial ms':>11} {'ratio':>7}")  # noqa: T201
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'main_job.sqlite'}"
        app = create_app(Settings(database_url=url, families_dir=FAMILIES))
        with TestClient(app, base_url="http://127.0.0.1") as client:
            with app.state.writers.begin() as session:
                jobs = load(Call(session, datetime.now(UTC), "benchmark", app.state.knowledge))
            measure(client, jobs[0], "demonstration")
            start = time.perf_counter()
            add_parts(app)
            print(f"{GENERATED:,} parts stored in {time.perf_counter() - start:.1f} s")  # noqa: T201
            start = time.perf_counter()
            ask(client, jobs[0])
            print(f"first query, index caught up: {time.perf_counter() - start:.1f} s")  # noqa: T201
            measure(client, jobs[0], f"{GENERATED:,} more")


def measure(client: TestClient, job: str, catalogue: str) -> None:
    """Print the medians of a fits query and a comparison beside the trivial request's."""
    trivial = median_ms(lambda: client.get("/healthz"))
    for request, call in (
        ("fits", lambda: ask(client, job)),
        ("comparison", lambda: client.get(f"/v1/jobs/{job}/comparison")),
    ):
        spent = median_ms(call)
        print(f"{catalogue:<16} {request:<12} {spent:>8.1f} {trivial:>11.2f} {spent / trivial:>7.1f}")  # noqa: T201


def ask(client: TestClient, job: str) -> Any:
    """Ask for the fits of a job's removed part."""
    removed = client.get(f"/v1/jobs/{job}").json()["removed_part"]
    removed.pop("condition")
    return client.post("/v1/fits", json=removed)


def median_ms(call: Callable[[], Any]) -> float:
    """Return the median time of a request [ms]; every answer must be good."""
    spent = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        response = call()
        spent.append(1000 * (time.perf_counter() - start))
        if response.is_error:
            raise SystemExit(response.text)
    return statistics.median(spent)


def add_parts(app: FastAPI) -> None:
    """Store generated carburetors: designs under twenty numbers each, a third of the cells empty."""
    rng = np.random.default_rng(7)
    family: Family = app.state.knowledge.families["carburetor"]
    layout = RowLayout(family)
    designs = [design(family, rng) for _ in range(GENERATED // PARTS_PER_DESIGN)]
    for first in range(0, GENERATED, BATCH):
        batch = []
        for place in range(first, first + BATCH):
            values = {
                key: value for key, value in designs[place % len(designs)].items() if rng.random() < LISTED
            }
            number = f"GN-{place:06}"
            columns = {
                "family": "carburetor",
                "maker": "Quillon",
                "grade": "aftermarket_unbranded",
                "number": number,
                "number_key": number.replace("-", ""),
                "dimensions": {key: write_value(family.by_key[key], value) for key, value in values.items()},
                "packed": layout.pack(values),
            }
            batch.append(NewPart(columns, [Number(number, number.replace("-", ""))]))
        with app.state.writers.begin() as session:
            revision = records.next_revision(session)
            stored_parts.bulk_insert(session, batch, now=datetime.now(UTC), revision=revision)


def design(family: Family, rng: np.random.Generator) -> dict[str, Value]:
    """Return the values of one generated design."""
    values: dict[str, Value] = {}
    for dimension in family.fit_dimensions:
        if dimension.kind.is_numeric:
            low, high = dimension.plausible or (1.0, 50.0)
            step = int(rng.integers(POPULAR)) / (POPULAR - 1)
            size = round(low + (high - low) * (0.1 + 0.6 * step), 1)
            values[dimension.key] = Quantity(size, dimension.unit, 0.03, f"{size} {dimension.unit}")
        elif dimension.kind is Kind.CHOICE:
            values[dimension.key] = str(rng.choice(dimension.choices))
    return values


if __name__ == "__main__":
    main()
