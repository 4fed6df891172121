"""A running application on a migrated SQLite file with a few parts; makers and numbers are invented."""

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from bs4 import BeautifulSoup, Tag
from fastapi import FastAPI
from fastapi.testclient import TestClient

from api.main import create_app
from api.settings import Settings

TILLER = {
    "throttle_bore": 19.0,
    "venturi_diameter": 15.4,
    "bolt_spacing": 42.0,
    "bolt_hole_diameter": 6.5,
    "air_inlet_diameter": 30.0,
    "fuel_inlet_diameter": 6.2,
    "body_length": 62.0,
    "flange_thickness": 9.0,
    "throttle_shaft_distance": 12.5,
    "throttle_link_hole_radius": 21.0,
    "bowl_depth": 47,
    "choke_type": "manual_lever",
}
MARKUP = "<b>Q19</b>&\"'<script>alert(1)</script>"
PARTS: tuple[tuple[str, str, str, dict[str, Any]], ...] = (
    ("Harrowmere", "708-21B", "oem", {}),
    ("Brackwell", "BK-208", "aftermarket_branded", {"bowl_depth": 46}),
    ("Quillon", "Q19-42T", "aftermarket_unbranded", {"throttle_link_hole_radius": 27.0}),
    ("Vennor", "V206S", "aftermarket_branded", {"body_length": 56.5, "fuel_inlet_diameter": 7.9}),
    ("Quillon", MARKUP, "used", {"throttle_bore": 22.0, "venturi_diameter": 17.8, "body_length": 66.0}),
    ("Ostler", "O-540", "oem", {"throttle_bore": 25.0, "bolt_spacing": 54.0, "choke_type": "none"}),
)


@dataclass(frozen=True)
class Page:
    """An answer, parsed."""

    status: int
    text: str
    soup: BeautifulSoup

    def one(self, selector: str) -> Tag:
        found = self.soup.select(selector)
        assert len(found) == 1, f"{selector}: {len(found)} on the page"
        return found[0]

    def words(self, selector: str) -> str:
        return " ".join(self.one(selector).get_text().split())


@dataclass(frozen=True)
class Site:
    """The application behind its test client."""

    client: TestClient
    app: FastAPI

    def page(self, path: str, **params: Any) -> Page:
        answer = self.client.get(path, params=params or None)
        assert answer.headers["content-type"] == "text/html; charset=utf-8", answer.text[:300]
        return Page(answer.status_code, answer.text, BeautifulSoup(answer.text, "html.parser"))

    def add_part(self, maker: str, number: str, grade: str, dimensions: dict[str, Any]) -> None:
        part = {
            "family": "carburetor",
            "maker": maker,
            "number": number,
            "grade": grade,
            "title": f"as {number}",
            "dimensions": dimensions,
        }
        answer = self.client.post("/v1/parts", json=part)
        assert answer.status_code == 201, answer.text


Opener = Callable[..., Site]


@pytest.fixture(scope="module")
def open_site(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Opener]:
    """A function that opens a site on a database of its own."""
    clients: list[TestClient] = []

    def open_one(families_dir: Path | None = None) -> Site:
        file = tmp_path_factory.mktemp("site") / "own.sqlite"
        shutil.copy(sqlite_template, file)
        app = create_app(Settings(database_url=f"sqlite:///{file}", families_dir=families_dir))
        client = TestClient(app, base_url="http://127.0.0.1")
        clients.append(client)
        client.__enter__()
        return Site(client, app)

    yield open_one
    for client in clients:
        client.__exit__(None, None, None)


@pytest.fixture(scope="module")
def bare_site(open_site: Opener) -> Site:
    """A site with nothing on file: read it only."""
    return open_site()


@pytest.fixture(scope="module")
def site(open_site: Opener) -> Site:
    """A site with some carburetors on file: read it only."""
    site = open_site()
    for maker, number, grade, differing in PARTS:
        site.add_part(maker, number, grade, TILLER | differing)
    return site
