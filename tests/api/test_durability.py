"""What the service keeps when it is killed, crowded, or asked the same thing twice: real server processes.

The same measurements at full size: tests/benchmarks/durability.py.
"""

import sys
from collections.abc import Callable, Iterator
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import Engine, event

Problem = Callable[..., list[str]]
SCRIPT = Path(__file__).parents[1] / "benchmarks" / "durability.py"


@pytest.fixture(scope="module")
def durability() -> Iterator[Any]:
    """The measurements, which stand in a script of their own."""
    spec = spec_from_file_location("durability", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = sys.modules["durability"] = module_from_spec(spec)
    spec.loader.exec_module(module)
    yield module
    del sys.modules["durability"]


def test_kills_lose_nothing_acknowledged_double_nothing_and_tear_nothing(
    durability: Any, tmp_path: Path
) -> None:
    kept = durability.measure_kills(tmp_path, kills=6, writes=100)
    assert kept.acknowledged >= 100
    assert kept.unheard >= 1
    assert (kept.lost, kept.doubled, kept.torn, dict(kept.unexpected)) == ([], [], [], {})


def test_writers_at_once_lose_no_edit_and_the_late_one_is_told(
    durability: Any, database_url: str, tmp_path: Path
) -> None:
    edits = 50 if database_url.startswith("sqlite") else 20
    crowd = durability.measure_crowd(database_url, tmp_path, writers=8, edits=edits)
    assert (crowd.counted, crowd.version, crowd.changes) == (8 * edits, 8 * edits + 1, 8 * edits + 1)
    assert crowd.answers.keys() == {200, 412}
    assert crowd.answers[200] == 8 * edits


def test_the_same_create_sent_at_once_is_done_once(
    durability: Any, database_url: str, tmp_path: Path
) -> None:
    assert durability.measure_twins(database_url, tmp_path, senders=8, keys=10) == []


def limit_pages(engine: Engine, pages: int) -> None:
    """Let the database's file grow no further than so many pages: to SQLite that is a full disk."""

    def limit(connection: Any, record: Any, proxy: Any) -> None:
        connection.execute(f"PRAGMA max_page_count = {pages}").close()

    event.listen(engine, "checkout", limit)


def test_a_full_disk_stores_nothing_keeps_reads_going_and_needs_no_restart(
    client: TestClient, problem_of: Problem
) -> None:
    part = {"family": "carburetor", "maker": "Quillon", "grade": "oem", "notes": "x" * 5000}
    assert client.post("/v1/parts", json=part).status_code == 201
    engine: Engine = client.app.state.engine  # type: ignore[attr-defined]
    limit_pages(engine, 1)  # SQLite takes the present size where that is larger
    stored = 1
    while (response := client.post("/v1/parts", json=part)).status_code == 201:
        stored += 1
    problem_of(response, 507, "disk-full")
    assert len(client.get("/v1/parts").json()["items"]) == stored
    assert client.get("/readyz").json()["revision"] == stored
    assert client.get("/").status_code == 200
    limit_pages(engine, 100_000)
    assert client.post("/v1/parts", json=part).status_code == 201
    assert client.get("/readyz").json()["revision"] == stored + 1
