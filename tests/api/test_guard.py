"""What every request passes first: host, origin, headers."""

from collections.abc import Callable

import pytest
from fastapi.testclient import TestClient

Problem = Callable[..., list[str]]
MACHINE = {
    "name": "TL-07 tiller",
    "worth_running": {"amount": "190.00", "currency": "USD"},
    "worth_as_is": {"amount": "35.00", "currency": "USD"},
}


@pytest.mark.parametrize(
    "host", ["example.org", "127.0.0.1.example.org", "192.168.0.5:8000", "[::2]", "[", ""]
)
def test_another_host_name_is_refused(client: TestClient, problem_of: Problem, host: str) -> None:
    problem_of(client.get("/v1/parts", headers={"Host": host}), 403, "foreign-request")


@pytest.mark.parametrize("host", ["127.0.0.1:8000", "localhost", "localhost:9000", "[::1]:8000", "LOCALHOST"])
def test_this_machine_is_answered_by_its_names(client: TestClient, host: str) -> None:
    assert client.get("/v1/parts", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize("origin", ["https://example.org", "http://127.0.0.1:9999", "null"])
def test_another_sites_page_may_not_change_anything(
    client: TestClient, problem_of: Problem, origin: str
) -> None:
    response = client.post("/v1/machines", json=MACHINE, headers={"Origin": origin})
    problem_of(response, 403, "foreign-request")
    assert client.get("/v1/machines").json()["items"] == []


def test_our_own_page_may(client: TestClient) -> None:
    response = client.post("/v1/machines", json=MACHINE, headers={"Origin": "http://127.0.0.1"})
    assert response.status_code == 201


@pytest.mark.parametrize("path", ["/v1/parts", "/v1/nothing", "/openapi.json", "/static/docs.js"])
def test_every_answer_has_the_security_headers(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    assert "default-src 'none'" in headers["content-security-policy"]
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"


def test_a_head_that_is_too_long_is_refused(client: TestClient, problem_of: Problem) -> None:
    problem_of(client.get("/v1/parts", headers={"X-Long": "x" * 17_000}), 413, "too-large")
    problem_of(client.get(f"/v1/parts?q={'x' * 17_000}"), 413, "too-large")
    assert client.get(f"/v1/parts?q={'x' * 15_000}").status_code == 200


def test_a_refusal_of_the_guard_has_them_too(client: TestClient) -> None:
    refused = client.get("/v1/parts", headers={"Host": "example.org"})
    assert refused.headers["x-content-type-options"] == "nosniff"
    head = client.head("/v1/parts", headers={"Host": "example.org"})
    assert (head.status_code, head.content) == (403, b"")
