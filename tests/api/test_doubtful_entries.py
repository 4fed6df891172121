"""Doubtful entries over HTTP."""

import csv
import io
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from fastapi.testclient import TestClient

Problem = Callable[..., list[str]]
Body = dict[str, Any]

ADDRESS = "/v1/doubtful-entries"
SIZES_MM = {
    "throttle_bore": 19.0,
    "bolt_spacing": 42.0,
    "bolt_hole_diameter": 6.5,
    "body_length": 62.0,
    "air_inlet_diameter": 30.0,
    "fuel_inlet_diameter": 6.2,
    "throttle_link_hole_radius": 21.0,
    "bowl_depth": 47.0,
}
SIZES = {key: f"{size:.1f} mm" for key, size in SIZES_MM.items()} | {"choke_type": "manual_lever"}
CHOKES = ("manual_lever", "manual_cable", "none")


def other_design(place: int) -> Body:
    """Return a sheet in the same proportions, larger or smaller throughout."""
    scale = 0.7 + 0.09 * place + (0.09 if place > 2 else 0.0)
    sizes: Body = {key: f"{size * scale:.1f} mm" for key, size in SIZES_MM.items()}
    return sizes | {"choke_type": CHOKES[place % 3]}


ASKS = "24 mm is entered, the group says 42 mm: a typing error?"
RADIUS = "12 mm is entered, the group says 21 mm: a typing error?"


@pytest.fixture
def stocked(bench: Any, either_client: TestClient) -> TestClient:
    """A file with ten parts of one design, two of them with a slip, eight of other designs, and a coil."""
    on_file = replace(bench, client=either_client)
    slips: list[Body] = [{}] * 8 + [{"bolt_spacing": "24.0 mm"}, {"throttle_link_hole_radius": "12.0 mm"}]
    for place, slip in enumerate(slips):
        on_file.part(f"H-{place}", maker="Harrowmere", dimensions=SIZES | slip)
    for place in range(8):
        on_file.part(f"V-{place}", maker="Vennor", dimensions=other_design(place))
    on_file.part("C-1", family="ignition_coil", dimensions={}, includes=[])
    return either_client


def page(client: TestClient, **params: Any) -> Body:
    response = client.get(ADDRESS, params=params)
    assert response.status_code == 200, response.text
    body: Body = response.json()
    return body


def test_parameters_of_no_meaning_are_refused(client: TestClient, problem_of: Problem) -> None:
    for query, place in (
        ("family=toaster", "family"),
        ("limit=0", "limit"),
        ("limit=501", "limit"),
        ("limit=some", "limit"),
        ("grade=oem", "grade"),
        ("cursor=1", "cursor"),
        ("cursor=0.9-1-throttle_bore", "cursor"),
        ("cursor=0.900000-0-throttle_bore", "cursor"),
        ("cursor=0.900000-1-a.b.c", "cursor"),
        ("format=xml", "format"),
    ):
        response = client.get(f"{ADDRESS}?{query}")
        assert problem_of(response, 422, "invalid-input") == [place], query


def test_an_empty_file_has_none(client: TestClient) -> None:
    assert page(client) == {"items": [], "next_cursor": None}
    assert page(client, family="carburetor")["items"] == []


def test_slips_are_listed_as_questions_the_most_doubtful_first(stocked: TestClient) -> None:
    items = page(stocked)["items"]
    assert sorted(item["says"] for item in items) == [RADIUS, ASKS]
    assert items[0]["probability"] >= items[1]["probability"] >= 0.9
    found = next(item for item in items if item["says"] == ASKS)
    assert found["part"] == {
        "id": "9",
        "maker": "Harrowmere",
        "number": "H-8",
        "grade": "aftermarket_unbranded",
        "title": "",
    }
    assert (found["family"], found["doubt"], found["slip"]) == ("carburetor", "group", "digits")
    (dimension,) = found["dimensions"]
    assert (dimension["key"], dimension["label"]) == ("bolt_spacing", "Mounting bolt spacing")
    assert dimension["listed"]["as_entered"] == "24.0 mm"
    assert (found["supposed"]["value"], found["supposed"]["as_entered"]) == (42.0, "42 mm")
    assert found["say_so"] == 9


def test_only_one_family_is_listed_where_it_is_named(stocked: TestClient) -> None:
    assert len(page(stocked, family="carburetor")["items"]) == 2
    assert page(stocked, family="ignition_coil")["items"] == []


def test_pages_follow_each_other(stocked: TestClient) -> None:
    whole = page(stocked)["items"]
    response = stocked.get(ADDRESS, params={"limit": 1})
    first = response.json()
    assert f"cursor={first['next_cursor']}" in response.headers["link"]
    second = page(stocked, limit=1, cursor=first["next_cursor"])
    assert first["items"] + second["items"] == whole
    assert second["next_cursor"] is None


def test_a_corrected_entry_is_no_longer_listed(stocked: TestClient) -> None:
    stocked.patch("/v1/parts/9", json={"dimensions": SIZES}, headers={"If-Match": "*"})
    assert [item["says"] for item in page(stocked)["items"]] == [RADIUS]
    stocked.delete("/v1/parts/10", headers={"If-Match": "*"})
    assert page(stocked)["items"] == []


def test_a_proportion_names_both_sizes(client: TestClient, bench: Any) -> None:
    bench.part("H-1", dimensions={"throttle_bore": "19.0 mm", "body_length": "166 mm"})
    (found,) = page(client)["items"]
    assert (found["doubt"], found["supposed"], found["say_so"]) == ("proportion", None, 0)
    assert [one["key"] for one in found["dimensions"]] == ["body_length", "throttle_bore"]
    assert "is 8.74; usual is 2.5 to 3.7" in found["says"]
    last = page(client, limit=1, cursor=f"{found['probability']:.6f}-1-body_length.throttle_bore")
    assert last["items"] == []


def test_they_come_as_csv_and_as_a_single_cell(stocked: TestClient) -> None:
    answer = stocked.get(ADDRESS, params={"format": "csv"})
    rows = list(csv.DictReader(io.StringIO(answer.text.removeprefix("\ufeff"))))
    assert [row["says"] for row in rows] == [item["says"] for item in page(stocked)["items"]]
    found = next(row for row in rows if row["says"] == ASKS)
    assert (found["part_id"], found["dimensions"], found["slip"]) == ("9", "bolt_spacing", "digits")
    cell = stocked.get(ADDRESS, params={"format": "value", "field": "/items/0/says"})
    assert cell.text == page(stocked)["items"][0]["says"]


def test_a_query_warns_of_the_measurement_that_all_else_denies(stocked: TestClient) -> None:
    measured = SIZES | {"bolt_spacing": "24.0 mm"}
    body = stocked.post("/v1/fits", json={"family": "carburetor", "measured": measured}).json()
    assert any(
        "Mounting bolt spacing: 24.0 mm was measured, but all else says 42 mm. A typing error?" in sentence
        for sentence in body["warnings"]
    )


def test_a_candidate_shows_what_its_design_has(stocked: TestClient) -> None:
    asked = {"family": "carburetor", "measured": {"throttle_bore": "19.0 mm", "body_length": "62.0 mm"}}
    fits = stocked.post("/v1/fits", json=asked).json()["fits"]
    by_id = {
        fit["part"]["id"]: {entry["key"]: entry["supposed"] for entry in fit["dimensions"]} for fit in fits
    }
    assert by_id["9"]["bolt_spacing"]["as_entered"] == "42 mm"
    assert by_id["9"]["throttle_bore"] is None
    assert by_id["1"]["bolt_spacing"] is None
