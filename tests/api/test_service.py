"""The service around its resources: assumptions, health, description, faults of our own."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlalchemy.exc import OperationalError
from sqlalchemy.exc import TimeoutError as NoFreeConnectionError

from api.main import create_app
from api.settings import Settings, default_database_url, get_settings
from fitworth.errors import CoreError, FamilyFileError

Problem = Callable[..., list[str]]
NAME = "dead_on_arrival.carburetor.aftermarket_unbranded"


def test_assumptions_say_what_they_mean_and_whose_they_are(either_client: TestClient) -> None:
    listed = either_client.get("/v1/assumptions")
    entry = next(item for item in listed.json()["items"] if item["name"] == NAME)
    assert entry["origin"] == "default"
    assert entry["value"] == entry["default"] == 0.09
    assert entry["meaning"].endswith(".")
    assert either_client.get("/v1/assumptions?format=csv").text.startswith(
        "name,value,default,unit,meaning,origin"
    )


def test_own_assumptions_are_set_changed_and_taken_back(
    either_client: TestClient, problem_of: Problem
) -> None:
    def put(values: dict[str, float], etag: str) -> Any:
        return either_client.put("/v1/assumptions", json={"values": values}, headers={"If-Match": etag})

    def own() -> dict[str, float]:
        items = either_client.get("/v1/assumptions").json()["items"]
        return {item["name"]: item["value"] for item in items if item["origin"] == "yours"}

    start = either_client.get("/v1/assumptions").headers["etag"]
    first = put({NAME: 0.12, "not_on_file": 0.2}, start)
    assert first.status_code == 200, first.text
    assert own() == {NAME: 0.12, "not_on_file": 0.2}
    assert problem_of(put({}, start), 412, "stale-edit") == ["If-Match"]
    second = put({NAME: 0.13}, first.headers["etag"])
    assert own() == {NAME: 0.13}
    again = put({NAME: 0.13}, second.headers["etag"])
    assert again.headers["etag"] == second.headers["etag"]
    put({"not_on_file": 0.3}, "*")
    assert own() == {"not_on_file": 0.3}
    problem_of(either_client.put("/v1/assumptions", json={"values": {}}), 428, "edit-unguarded")


def test_every_wrong_assumption_is_named_and_none_is_set(client: TestClient, problem_of: Problem) -> None:
    values = {NAME: 5, "nothing": 1, "not_on_file": 0.2}
    response = client.put("/v1/assumptions", json={"values": values}, headers={"If-Match": "*"})
    assert sorted(problem_of(response, 422, "invalid-input")) == [f"/values/{NAME}", "/values/nothing"]
    assert all(item["origin"] == "default" for item in client.get("/v1/assumptions").json()["items"])


def test_the_service_says_that_it_is_alive_ready_and_how_it_does(either_client: TestClient) -> None:
    assert either_client.get("/healthz").json()["status"] == "alive"
    assert either_client.get("/readyz").json() == {"status": "ready", "revision": 0}
    assert "http_requests_total" in either_client.get("/metrics").text


def test_every_operation_is_described_with_an_example_and_its_refusals(client: TestClient) -> None:
    spec = client.get("/openapi.json").json()
    assert spec["openapi"] == "3.1.0"
    for path, operations in spec["paths"].items():
        for method, operation in operations.items():
            where = f"{method} {path}"
            assert operation["summary"], where
            assert "application/problem+json" in operation["responses"]["422"]["content"], where
            good = next(code for code in operation["responses"] if code.startswith("2"))
            if good != "204" and not path.startswith("/v1/exports"):
                assert "example" in operation["responses"][good]["content"]["application/json"], where
            if "requestBody" in operation:
                body = operation["requestBody"]["content"]["application/json"]
                assert body["examples"] or body["example"], where
    assert "HTTPValidationError" not in spec["components"]["schemas"]
    assert client.get("/openapi.json").json() == spec


def test_a_fault_of_our_own_says_so_and_leaks_nothing(
    client: TestClient, problem_of: Problem, monkeypatch: pytest.MonkeyPatch
) -> None:
    class UnknownError(CoreError):
        """A core error that the table of problems does not know."""

    quiet = TestClient(client.app, base_url="http://127.0.0.1", raise_server_exceptions=False)
    for error in (UnknownError("secret"), RuntimeError("secret")):

        def fail(*_: Any, raised: Exception = error, **__: Any) -> None:
            raise raised

        monkeypatch.setattr("api.services.families.list_families", fail)
        response = quiet.get("/v1/families")
        problem_of(response, 500, "internal")
        assert "secret" not in response.text


@pytest.mark.parametrize(
    ("message", "status", "slug"),
    [
        ("database or disk is full", 507, "disk-full"),
        ('could not extend file "base/5/16": No space left on device', 507, "disk-full"),
        ("database is locked", 503, "busy"),
    ],
)
def test_a_database_that_cannot_answer_now_is_told_apart(
    client: TestClient,
    problem_of: Problem,
    monkeypatch: pytest.MonkeyPatch,
    message: str,
    status: int,
    slug: str,
) -> None:
    def fail(*_: Any, **__: Any) -> None:
        raise OperationalError("SELECT 1", {}, Exception(message))

    monkeypatch.setattr("api.services.families.list_families", fail)
    problem_of(client.get("/v1/families"), status, slug)


def test_a_call_that_gets_no_connection_is_told_to_come_again(
    client: TestClient, problem_of: Problem, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: Any, **__: Any) -> None:
        raise NoFreeConnectionError("QueuePool limit reached")

    monkeypatch.setattr("api.services.families.list_families", fail)
    response = client.get("/v1/families")
    problem_of(response, 503, "busy")
    assert response.headers["retry-after"] == "2"


def test_settings_come_from_the_environment(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert default_database_url() == f"sqlite:///{tmp_path}/fitworth/fitworth.sqlite"
    monkeypatch.setenv("FITWORTH_PORT", "9001")
    get_settings.cache_clear()
    assert get_settings().port == 9001
    get_settings.cache_clear()


def test_faults_of_own_family_files_stop_the_start_all_at_once(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text("key = 1\n")
    (tmp_path / "b.toml").write_text("nonsense")
    with pytest.raises(FamilyFileError) as caught:
        create_app(Settings(database_url=f"sqlite:///{tmp_path}/x.sqlite", families_dir=tmp_path))
    files = {fault.where.partition(",")[0] for fault in caught.value.faults}
    assert files == {"a.toml", "b.toml"}
    with pytest.raises(FamilyFileError, match="no folder"):
        create_app(Settings(database_url=f"sqlite:///{tmp_path}/x.sqlite", families_dir=tmp_path / "none"))


def test_what_may_stand_in_for_a_number_comes_with_its_path(client: TestClient, problem_of: Problem) -> None:
    for stand_in, replaced, relation in (
        ("708-21B", "708-21A", "supersedes"),
        ("BK-208", "708-21B", "replaces_with_changes"),
    ):
        body = {"from_number": stand_in, "to_number": replaced, "relation": relation, "confidence": 0.9}
        assert client.post("/v1/interchange", json=body).status_code == 201
    found = client.get("/v1/interchange?number=70821a").json()["items"]
    assert [(item["number"], item["strength"], item["with_changes"]) for item in found] == [
        ("708-21B", 0.9, False),
        ("BK-208", 0.81, True),
    ]
    assert [step["to_number"] for step in found[1]["path"]] == ["708-21A", "708-21B"]
    assert client.get("/v1/interchange?number=BK-208").json()["items"] == []
    assert len(client.get("/v1/interchange").json()["items"]) == 2
    assert client.get("/v1/interchange?number=70821a&format=csv").text.startswith(
        "number,strength,with_changes,"
    )
    response = client.get("/v1/interchange?number=70821a&limit=3")
    assert problem_of(response, 422, "invalid-input") == ["limit"]


def test_everything_can_be_downloaded_again(client: TestClient, bench: Any, problem_of: Problem) -> None:
    part = bench.part()
    bench.quote(part, bench.supplier())
    download = client.get("/v1/exports/parts.csv?family=carburetor")
    assert download.headers["content-disposition"] == 'attachment; filename="parts.csv"'
    assert download.text.startswith("\ufeffid,family,maker,number")
    assert "Q19-42" in download.text
    assert "Millrace Spares" in client.get("/v1/exports/quotes.csv").text
    for name in (
        "machines",
        "jobs",
        "outcomes",
        "interchange",
        "exchange-rates",
        "destinations",
        "suppliers",
    ):
        assert client.get(f"/v1/exports/{name}.csv").text.startswith("\ufeffid,")
    assert problem_of(client.get("/v1/exports/parts.csv?family=carb"), 422, "invalid-input") == ["family"]
    assert problem_of(client.get("/v1/exports/jobs.csv?family=carburetor"), 422, "invalid-input") == [
        "family"
    ]
    problem_of(client.get("/v1/exports/nothing.csv"), 422, "invalid-input")
