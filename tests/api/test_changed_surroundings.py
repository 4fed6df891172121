"""Records outlive what they stand on: files of families that change or go, terms, calls that overlap."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.database import open_call
from api.main import create_app
from api.schemas.context import reading_with
from api.schemas.fits import FitsIn
from api.services.fits import fits_body
from api.settings import Settings

Problem = Callable[..., list[str]]
OpenClient = Callable[..., TestClient]
Body = dict[str, Any]

ANY_VERSION = {"If-Match": "*"}
OWN_ASSUMPTION = "dead_on_arrival.fuel_pump.oem"
PUMP: Body = {
    "family": "fuel_pump",
    "maker": "Vennor",
    "number": "P1",
    "grade": "used",
    "dimensions": {"hose_diameter": "6 mm", "drive": "pulse"},
}
FAMILY = """
key = "fuel_pump"
label = "Fuel pump"
view = "hose ends to the left"
grades = ["oem", "used"]
[life]
clock = "calendar"
shape = 1.0
[[dimension]]
key = "hose_diameter"
label = "Hose end"
kind = "length"
how = "over the hose end"
instrument = "caliper_outside"
role = "connect"
allowance = [-0.5, 0.5]
consequence = "leaks"
[[dimension]]
key = "drive"
label = "Drive"
kind = "choice"
how = "look what moves it"
instrument = "look"
role = "mount"
allowance = "equal"
choices = ["pulse", "electric"]
consequence = "does not pump"
"""
OTHER_CHOICES = FAMILY.replace('["pulse", "electric"]', '["lever", "electric"]')
OTHER_KIND = FAMILY.replace('"length"', '"resistance"').replace('"caliper_outside"', '"multimeter"')
OTHER_GRADES = FAMILY.replace('["oem", "used"]', '["oem"]')


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "families"
    made.mkdir()
    (made / "fuel_pump.toml").write_text(FAMILY)
    return made


def change(folder: Path, content: str | None) -> None:
    """Put another family file in place of the own one, or take it away."""
    file = folder / "fuel_pump.toml"
    if content is None:
        file.unlink()
    else:
        file.write_text(content)


@pytest.mark.parametrize("content", [OTHER_CHOICES, OTHER_KIND, OTHER_GRADES, None])
def test_records_of_a_changed_family_are_read_deleted_and_restored_as_they_are(
    sqlite_url: str, open_client: OpenClient, folder: Path, content: str | None
) -> None:
    client = open_client(sqlite_url, families_dir=folder)
    part = client.post("/v1/parts", json=PUMP).json()
    worth = {"worth_running": money("190.00"), "worth_as_is": money("35.00")}
    machine = client.post("/v1/machines", json={"name": "TL-07", **worth}).json()
    removed = {"family": "fuel_pump", "measured": PUMP["dimensions"]}
    job = {"machine_id": machine["id"], "currency": "USD", "removed_part": removed}
    job = client.post("/v1/jobs", json=job).json()
    change(folder, content)
    client = open_client(sqlite_url, families_dir=folder)
    for name, stored in (("parts", part), ("jobs", job)):
        path = f"/v1/{name}/{stored['id']}"
        assert client.get(path).json() == stored
        assert client.get(f"/v1/{name}").json()["items"] == [stored]
        assert client.get(f"/v1/exports/{name}.csv").status_code == 200
        assert client.delete(path, headers=ANY_VERSION).status_code == 204
        restored = client.post(f"{path}/restore")
        assert restored.status_code == 200, restored.text
        moved = {"version", "updated_at"}
        assert without(restored.json(), moved) == without(stored, moved)


def money(amount: str, currency: str = "USD") -> Body:
    return {"amount": amount, "currency": currency}


def without(body: Body, names: set[str]) -> Body:
    return {name: value for name, value in body.items() if name not in names}


def test_parts_of_a_family_that_went_are_no_second_sheet_when_restored(
    sqlite_url: str, open_client: OpenClient, problem_of: Problem, folder: Path
) -> None:
    client = open_client(sqlite_url, families_dir=folder)
    client.post("/v1/parts", json=PUMP)
    client.delete("/v1/parts/1", headers=ANY_VERSION)
    client.post("/v1/parts", json=PUMP)
    change(folder, None)
    client = open_client(sqlite_url, families_dir=folder)
    assert problem_of(client.post("/v1/parts/1/restore"), 409, "conflict") == ["/number"]
    worth = {"worth_running": money("190.00"), "worth_as_is": money("35.00")}
    asked = {"part_ids": ["2"], "machine": {"name": "TL-07", **worth}, "currency": "USD"}
    response = client.post("/v1/comparisons", json=asked)
    assert problem_of(response, 422, "invalid-input") == ["/part_ids/0"]
    assert "fuel_pump" in response.text


def test_an_own_assumption_about_a_family_that_went_stops_nothing(
    sqlite_url: str, open_client: OpenClient, folder: Path
) -> None:
    client = open_client(sqlite_url, families_dir=folder)
    set_so = client.put("/v1/assumptions", json={"values": {OWN_ASSUMPTION: 0.2}}, headers=ANY_VERSION)
    assert set_so.status_code == 200, set_so.text
    client.post("/v1/parts", json=PUMP | {"family": "carburetor", "dimensions": {}})
    change(folder, None)
    client = open_client(sqlite_url, families_dir=folder)
    assert client.get("/v1/assumptions").status_code == 200
    assert client.get("/v1/fits?family=carburetor&throttle_bore=19.0 mm").status_code == 200
    change(folder, FAMILY)
    client = open_client(sqlite_url, families_dir=folder)
    items = client.get("/v1/assumptions").json()["items"]
    assert [item["value"] for item in items if item["name"] == OWN_ASSUMPTION] == [0.2]


def test_a_supplier_does_not_change_its_currency_under_its_quotes(
    client: TestClient, problem_of: Problem
) -> None:
    client.post("/v1/parts", json={"family": "carburetor", "maker": "Quillon", "grade": "oem"})
    client.post("/v1/suppliers", json={"name": "Millrace Spares", "country": "US", "currency": "USD"})
    quote = {"supplier_id": "1", "part_id": "1", "price": money("9.80"), "seen_on": "2026-11-01"}
    assert client.post("/v1/quotes", json=quote).status_code == 201

    def edit() -> Any:
        return client.patch("/v1/suppliers/1", json={"currency": "EUR"}, headers=ANY_VERSION)

    assert problem_of(edit(), 409, "conflict") == ["/currency"]
    client.delete("/v1/quotes/1", headers=ANY_VERSION)
    assert edit().json()["currency"] == "EUR"
    assert problem_of(client.post("/v1/quotes/1/restore"), 422, "invalid-input") == ["/price/currency"]


def test_a_call_that_began_before_a_part_was_stored_is_answered_without_it(database_url: str) -> None:
    app = create_app(Settings(database_url=database_url))
    part = {"family": "carburetor", "maker": "Quillon", "grade": "oem", "dimensions": {"throttle_bore": "19"}}
    with TestClient(app, base_url="http://127.0.0.1") as client:
        client.post("/v1/parts", json=part)
        knowledge = app.state.knowledge
        with open_call(app.state.readers, knowledge) as early, reading_with(knowledge.families):
            asked = FitsIn.model_validate({"family": "carburetor", "measured": {"throttle_bore": "19.0 mm"}})
            assert ids(fits_body(app.state.fits.find(early, asked))) == ["1"]
            client.post("/v1/parts", json=part)
            question = "/v1/fits?family=carburetor&throttle_bore=19.0 mm"
            assert ids(client.get(question).json()) == ["1", "2"]
            assert ids(fits_body(app.state.fits.find(early, asked))) == ["1"]
        assert ids(client.get(question).json()) == ["1", "2"]


def test_two_services_on_one_database_see_each_others_parts(
    database_url: str, open_client: OpenClient
) -> None:
    one, other = open_client(database_url), open_client(database_url)
    part: Body = {"family": "carburetor", "maker": "Quillon", "number": "Q-1", "grade": "oem"}
    part |= {"dimensions": {"throttle_bore": "19.0 mm"}}

    def seen_by(client: TestClient) -> list[str]:
        return ids(client.get("/v1/fits?family=carburetor&throttle_bore=19.0 mm&marking=Q-1").json())

    one.post("/v1/parts", json=part)
    one.post("/v1/parts", json=part | {"number": "Q-2"})
    assert (seen_by(one), seen_by(other)) == (["1", "2"], ["1", "2"])
    one.delete("/v1/parts/1", headers=ANY_VERSION)
    assert (seen_by(one), seen_by(other)) == (["2"], ["2"])
    other.post("/v1/parts/1/restore")
    assert (seen_by(one), seen_by(other)) == (["1", "2"], ["1", "2"])
    other.patch("/v1/parts/1", json={"dimensions": {"throttle_bore": "40.0 mm"}}, headers=ANY_VERSION)
    assert (seen_by(one)[-1], seen_by(other)[-1]) == ("1", "1")


def ids(body: Body) -> list[str]:
    return [fit["part"]["id"] for fit in body["fits"]]
