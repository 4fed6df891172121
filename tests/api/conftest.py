"""The application on a migrated database, and records made through HTTP; all names are invented."""

import csv
import io
import os
import shutil
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import text
from typer.testing import CliRunner, Result

from api.cli import app
from api.database import Database, open_call, open_database
from api.main import create_app
from api.schemas.context import reading_with
from api.services import demonstration, exports, resource
from api.services.import_report import ImportReport
from api.services.imports import import_csv
from api.services.knowledge import Knowledge, load_knowledge
from api.settings import Settings
from api.tabular import to_csv

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
WIDTH = 80
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


@pytest.fixture(scope="session")
def knowledge() -> Knowledge:
    """The built-in families and the workshop's own one."""
    return load_knowledge(demonstration.FAMILIES)


def write_rows(rows: Sequence[Mapping[str, str]], delimiter: str = ",") -> str:
    """Return rows as a CSV file with the columns that any of them has."""
    out = io.StringIO()
    names = list(dict.fromkeys(name for row in rows for name in row))
    writer = csv.DictWriter(out, names, restval="", delimiter=delimiter)
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


@pytest.fixture
def sheet() -> Callable[..., str]:
    """A function that returns rows as a CSV file."""
    return write_rows


@dataclass(frozen=True)
class Store:
    """A database of its own with the files that go in and come out."""

    database: Database
    knowledge: Knowledge

    def load(self, content: bytes | str, **options: Any) -> ImportReport:
        raw = content.encode() if isinstance(content, str) else content
        return import_csv(self.database.writers, self.knowledge, raw, now=NOW, actor="local", **options)

    def load_rows(self, *rows: Mapping[str, str], delimiter: str = ",", **options: Any) -> ImportReport:
        return self.load(write_rows(rows, delimiter), **options)

    def export(self, name: str, *, decimal_comma: bool = False, family: str | None = None) -> str:
        spec = exports.get_resource(name)
        with open_call(self.database.readers, self.knowledge) as call, reading_with(self.knowledge.families):
            wanted = exports.filters_of(call, spec, family)
            return to_csv(exports.table(call, spec, wanted), decimal_comma=decimal_comma)

    def create(self, name: str, body: Body) -> str:
        spec = exports.get_resource(name)
        with open_call(self.database.writers, self.knowledge) as call, reading_with(self.knowledge.families):
            return str(resource.create(call, spec, spec.schema.model_validate(body)).body["id"])

    def delete(self, name: str, record: str) -> None:
        with open_call(self.database.writers, self.knowledge) as call:
            resource.delete(call, exports.get_resource(name), record, None)

    def items(self, name: str) -> list[Body]:
        with open_call(self.database.readers, self.knowledge) as call:
            return list(exports.items(call, exports.get_resource(name), {}))

    def history(self, name: str, record: str) -> list[Body]:
        with open_call(self.database.readers, self.knowledge) as call:
            return resource.history(call, exports.get_resource(name), record)

    def revision(self) -> int:
        with self.database.readers() as session:
            return int(session.scalars(text("SELECT revision FROM catalogue_revision")).one())

    def demonstrate(self) -> None:
        with open_call(self.database.writers, self.knowledge) as call:
            demonstration.load(call)


@pytest.fixture
def open_store(knowledge: Knowledge) -> Iterator[Callable[[str], Store]]:
    """A function that opens a database as a store and closes it after the test."""
    with ExitStack() as stack:
        yield lambda url: Store(stack.enter_context(open_database(Settings(database_url=url))), knowledge)


@pytest.fixture
def store(sqlite_url: str, open_store: Callable[[str], Store]) -> Store:
    return open_store(sqlite_url)


@pytest.fixture
def shop(store: Store) -> Store:
    """A store with one supplier and one part."""
    part = {"family": "carburetor", "maker": "Quillon", "number": "Q19-42", "grade": "aftermarket_unbranded"}
    store.create("suppliers", {"name": "Millrace Spares", "country": "US", "currency": "USD"})
    assert store.load_rows(part | {"throttle_bore": "19.0 mm"}).created == 1
    return store


@pytest.fixture
def either_store(database_url: str, open_store: Callable[[str], Store]) -> Store:
    """A store on each kind of database in turn."""
    return open_store(database_url)


@pytest.fixture(scope="session")
def demonstrated(knowledge: Knowledge, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A SQLite file with the demonstration, closed, to be copied."""
    file = tmp_path_factory.mktemp("demonstration") / "template.sqlite"
    settings = Settings(database_url=f"sqlite:///{file}")
    with open_database(settings) as database, open_call(database.writers, knowledge) as call:
        demonstration.load(call)
    return file


@pytest.fixture
def file(demonstrated: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(demonstrated, tmp_path / "own.sqlite"))


@pytest.fixture
def run(file: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Result]:
    """A function that runs a command on a demonstration of the test's own."""
    for name in [name for name in os.environ if name.startswith("FITWORTH_")]:
        monkeypatch.delenv(name)
    monkeypatch.setenv("FITWORTH_DATABASE_URL", f"sqlite:///{file}")
    monkeypatch.setenv("FITWORTH_FAMILIES_DIR", str(demonstration.FAMILIES))
    monkeypatch.setenv("COLUMNS", str(WIDTH))

    def run_one(*arguments: str, code: int = 0, **env: str) -> Result:
        result = CliRunner().invoke(app, list(arguments), env=env, prog_name="fitworth")
        assert result.exit_code == code, result.output
        assert "Traceback" not in result.output
        assert all(len(line.rstrip("\r\n")) <= WIDTH for line in lines_for_people(result, arguments))
        return result

    return run_one


def lines_for_people(result: Result, arguments: tuple[str, ...]) -> list[str]:
    """Return the lines that must fit a terminal: not those that other programs read."""
    if {"json", "csv"} & set(arguments) or "export" in arguments:
        return result.stderr.splitlines()
    return result.output.splitlines()
