"""The interchange groups over HTTP, and what statements and decisions do to them."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from fastapi.testclient import TestClient

Problem = Callable[..., list[str]]
Body = dict[str, Any]

WHOLE = [
    {
        "throttle_bore": f"{15.0 + 3.0 * design} mm",
        "bolt_spacing": f"{38.0 + 4.0 * design} mm",
        "body_length": f"{52.0 + 5.0 * design} mm",
        "choke_type": ("manual_lever", "manual_cable", "none")[design % 3],
    }
    for design in range(4)
]
# Two half-empty sheets that share one dimension, and that go with no other part.
HALVES = [
    {"choke_type": "manual_lever", "bolt_spacing": "48.0 mm"},
    {"choke_type": "manual_lever", "throttle_bore": "22.5 mm"},
]


@pytest.fixture
def stocked(bench: Any, either_client: TestClient) -> TestClient:
    """Twelve parts of four designs, the half-empty sheets 13 and 14, and coils that list nothing."""
    on_file = replace(bench, client=either_client)
    sheets = [WHOLE[place // 3] for place in range(12)]
    for place, sheet in enumerate([*sheets, *HALVES], start=1):
        on_file.part(f"N-{place}", maker="Harrowmere", dimensions=sheet, includes=[])
    on_file.part("C-1", maker="Quillon", family="ignition_coil", dimensions={}, includes=[])
    return either_client


def listed(client: TestClient, query: str = "") -> Body:
    response = client.get(f"/v1/interchange/groups{query}")
    assert response.status_code == 200, response.text
    body: Body = response.json()
    return body


def members(client: TestClient) -> list[list[str]]:
    return [[part["id"] for part in item["parts"]] for item in listed(client)["items"]]


def state(client: TestClient, relation: str, newer: str, older: str, confidence: float = 1.0) -> Body:
    body = {"from_number": newer, "to_number": older, "relation": relation, "confidence": confidence}
    response = client.post("/v1/interchange", json=body)
    assert response.status_code == 201, response.text
    made: Body = response.json()
    return made


def test_a_parameter_of_no_meaning_is_refused(client: TestClient, problem_of: Problem) -> None:
    for query, place in (
        ("family=toaster", "family"),
        ("limit=0", "limit"),
        ("cursor=1-2", "cursor"),
        ("grade=oem", "grade"),
    ):
        response = client.get(f"/v1/interchange/groups?{query}")
        assert problem_of(response, 422, "invalid-input") == [place]


def test_an_empty_file_has_no_groups(client: TestClient) -> None:
    assert listed(client) == {"items": [], "next_cursor": None}


def test_groups_are_listed_with_their_parts_and_their_designs(stocked: TestClient) -> None:
    first = listed(stocked)["items"][0]
    assert (first["family"], first["size"]) == ("carburetor", 3)
    assert [part["number"] for part in first["parts"]] == ["N-1", "N-2", "N-3"]
    assert all(0.5 < part["probability"] <= 1.0 for part in first["parts"])
    figures = {figure["key"]: figure for figure in first["dimensions"]}
    assert list(figures) == [key for key in figures if key in WHOLE[0]]
    assert figures["throttle_bore"]["value"]["as_entered"] == "15 mm"
    assert figures["choke_type"]["value"] == "manual_lever"
    assert figures["choke_type"]["say_so"] == 3
    assert [found[:3] for found in members(stocked)] == [
        [str(3 * group + place) for place in (1, 2, 3)] for group in range(4)
    ]
    assert listed(stocked, "?family=ignition_coil")["items"] == []


def test_a_page_leads_to_the_next(stocked: TestClient) -> None:
    response = stocked.get("/v1/interchange/groups?limit=3")
    assert response.json()["next_cursor"] == "7"
    assert 'rel="next"' in response.headers["link"]
    rest = listed(stocked, "?limit=3&cursor=7")
    assert [item["parts"][0]["id"] for item in rest["items"]] == ["10"]
    assert rest["next_cursor"] is None


def test_groups_come_as_a_table_too(stocked: TestClient) -> None:
    lines = stocked.get("/v1/interchange/groups?format=csv").text.splitlines()
    assert lines[0] == "family,size,part_ids,numbers,dimensions"
    assert lines[1].startswith("carburetor,3,1; 2; 3,N-1; N-2; N-3,throttle_bore=15 mm; ")
    assert len(lines) == 5


def test_a_statement_puts_two_half_empty_sheets_into_one_group(stocked: TestClient) -> None:
    assert ["13", "14"] not in members(stocked)
    made = state(stocked, "same_as", "N-14", "N-13")
    assert ["13", "14"] in members(stocked)
    one = f"/v1/interchange/{made['id']}"
    assert stocked.delete(one, headers={"If-Match": "*"}).status_code == 204
    assert ["13", "14"] not in members(stocked)
    state(stocked, "replaces_with_changes", "N-14", "N-13")
    assert ["13", "14"] not in members(stocked)


def test_a_number_entered_later_brings_its_statement_to_bear(stocked: TestClient) -> None:
    state(stocked, "supersedes", "N-13", "X-1")
    assert ["13", "14"] not in members(stocked)
    answer = stocked.patch("/v1/parts/14", json={"other_numbers": ["X-1"]}, headers={"If-Match": "*"})
    assert answer.status_code == 200, answer.text
    assert ["13", "14"] in members(stocked)


def test_dimensions_that_contradict_outweigh_a_weak_statement(stocked: TestClient) -> None:
    changed = {**HALVES[1], "bolt_spacing": "44.0 mm", "choke_type": "none"}
    answer = stocked.patch("/v1/parts/14", json={"dimensions": changed}, headers={"If-Match": "*"})
    assert answer.status_code == 200, answer.text
    state(stocked, "same_as", "N-14", "N-13", 0.6)
    assert ["13", "14"] not in members(stocked)


def test_a_rejected_pair_is_less_surely_one_group(stocked: TestClient) -> None:
    def probability() -> float:
        items = listed(stocked)["items"]
        return max(
            float(part["probability"]) for item in items for part in item["parts"] if part["id"] == "1"
        )

    before = probability()
    for other in ("2", "3"):
        body = {"part_ids": ["1", other], "decision": "rejected"}
        assert stocked.post("/v1/interchange-decisions", json=body).status_code == 201
    assert ["1", "2", "3"] not in members(stocked) or probability() < before - 0.1


def test_a_fit_knows_what_the_statements_say(stocked: TestClient) -> None:
    def confidence() -> float:
        query = "family=carburetor&bolt_spacing=48.0 mm&body_length=60.0 mm&limit=20"
        fits = stocked.get(f"/v1/fits?{query}").json()["fits"]
        return float(next((fit["fit_confidence"] for fit in fits if fit["part"]["id"] == "14"), 0.0))

    before = confidence()
    state(stocked, "same_as", "N-14", "N-13")
    assert confidence() > before + 0.2
