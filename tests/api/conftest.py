"""The application on a migrated database, and records made through HTTP; all names are invented."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.main import create_app
from api.settings import Settings

HOME = "http://127.0.0.1"
CARBURETOR = {
    "throttle_bore": "19.0 mm",
    "bolt_spacing": "42.0 mm",
    "bolt_hole_diameter": "6.5 mm",
    "body_length": "62.0 mm",
    "choke_type": "manual_lever",
}

Body = dict[str, Any]


@pytest.fixture
def open_client() -> Iterator[Callable[..., TestClient]]:
    """A function that starts the application on a database and closes it after the test."""
    with ExitStack() as stack:

        def open_one(url: str, **settings: Any) -> TestClient:
            app = create_app(Settings(database_url=url, **settings))
            return stack.enter_context(TestClient(app, base_url=HOME, raise_server_exceptions=True))

        yield open_one


@pytest.fixture
def client(sqlite_url: str, open_client: Callable[..., TestClient]) -> TestClient:
    """The application on an empty SQLite file."""
    return open_client(sqlite_url)


@pytest.fixture
def either_client(database_url: str, open_client: Callable[..., TestClient]) -> TestClient:
    """The application on an empty database of each kind in turn."""
    return open_client(database_url)


@dataclass(frozen=True)
class Bench:
    """Makes records through HTTP and returns their bodies."""

    client: TestClient

    def post(self, resource: str, body: Body) -> Body:
        response = self.client.post(f"/v1/{resource}", json=body)
        assert response.status_code == 201, response.text
        made: Body = response.json()
        return made

    def part(self, number: str | None = "Q19-42", **changed: Any) -> Body:
        body = {
            "family": "carburetor",
            "maker": "Quillon",
            "number": number,
            "grade": "aftermarket_unbranded",
            "dimensions": CARBURETOR,
            "includes": ["mounting_gasket", "air_filter_gasket"],
        }
        return self.post("parts", body | changed)

    def supplier(self, name: str = "Millrace Spares", **changed: Any) -> Body:
        delivery = {"method": "post", "schedule": {"kind": "flat", "amount": "4.57"}, "days": 4}
        body = {"name": name, "country": "US", "currency": "USD", "delivery": [delivery]}
        return self.post("suppliers", body | changed)

    def quote(self, part: Body, supplier: Body, amount: str = "9.80", **changed: Any) -> Body:
        price = {"amount": amount, "currency": supplier["currency"]}
        body = {"part_id": part["id"], "supplier_id": supplier["id"], "price": price, "seen_on": "2026-11-01"}
        return self.post("quotes", body | changed)

    def destination(self, **changed: Any) -> Body:
        body = {"name": "the tool library", "country": "US", "currency": "USD", "sales_tax": "0"}
        return self.post("destinations", body | changed)

    def machine(self, **changed: Any) -> Body:
        return self.post("machines", machine_body(**changed))

    def job(self, machine: Body, **changed: Any) -> Body:
        body = {
            "machine_id": machine["id"],
            "currency": "USD",
            "removed_part": {"family": "carburetor", "measured": CARBURETOR},
        }
        return self.post("jobs", body | changed)


def machine_body(**changed: Any) -> Body:
    body = {
        "name": "TL-07 tiller",
        "worth_running": {"amount": "190.00", "currency": "USD"},
        "worth_as_is": {"amount": "35.00", "currency": "USD"},
        "hours_per_season": 17,
        "seasons": 4,
    }
    return body | changed


@pytest.fixture
def bench(client: TestClient) -> Bench:
    return Bench(client)


@pytest.fixture
def new_machine() -> Callable[..., Body]:
    """A function that returns a machine's body, for comparisons with inline content."""
    return machine_body


Problem = Callable[..., list[str]]


@pytest.fixture
def problem_of() -> Problem:
    """A function that holds a refusal to the shape of all refusals and returns the places of its faults."""

    def check(response: Any, status: int, slug: str) -> list[str]:
        assert response.status_code == status, response.text
        assert response.headers["content-type"] == "application/problem+json"
        body = response.json()
        assert set(body) <= {"type", "title", "status", "detail", "errors"}
        assert body["type"] == f"/problems#{slug}"
        assert body["status"] == status
        assert body["title"]
        assert body["detail"].endswith((".", "?"))
        places = []
        for entry in body.get("errors", []):
            assert entry["detail"]
            assert "Traceback" not in entry["detail"]
            place = [entry[name] for name in ("pointer", "parameter", "header", "path") if name in entry]
            places += place or [""]
        return places

    return check
