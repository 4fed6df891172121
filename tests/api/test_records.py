"""The life that all stored resources share, on both databases."""

from collections.abc import Callable
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.routes.records import SERVED
from api.routes.resources import Served

Problem = Callable[..., list[str]]
NAMES = [served.resource.name for served in SERVED]


@pytest.fixture(params=SERVED, ids=NAMES)
def served(request: pytest.FixtureRequest) -> Served:
    found: Served = request.param
    return found


@pytest.fixture
def stocked(either_client: TestClient) -> TestClient:
    """A database with the example of every resource as its first record."""
    for served in SERVED:
        assert either_client.post(f"/v1/{served.resource.name}", json=dict(served.example)).status_code == 201
    return either_client


def path_of(served: Served) -> str:
    return f"/v1/{served.resource.name}"


def input_of(served: Served, body: dict[str, Any]) -> dict[str, Any]:
    return {name: body[name] for name in served.example}


def test_what_was_entered_comes_out_again_and_is_legal_input(stocked: TestClient, served: Served) -> None:
    read = stocked.get(f"{path_of(served)}/1")
    assert read.status_code == 200
    again = stocked.put(
        f"{path_of(served)}/1", json=input_of(served, read.json()), headers={"If-Match": read.headers["etag"]}
    )
    assert again.status_code == 200, again.text
    assert input_of(served, again.json()) == input_of(served, read.json())
    assert again.json()["version"] == 2


def test_a_record_lives_through_create_edit_delete_and_restore_with_its_history(
    stocked: TestClient, served: Served
) -> None:
    one = f"{path_of(served)}/1"
    created = stocked.get(one)
    assert created.headers["etag"] == '"1"'
    name = list(served.example)[-1]
    patched = stocked.patch(one, json={name: served.example[name]}, headers={"If-Match": '"1"'})
    assert patched.status_code == 200, patched.text
    assert patched.headers["etag"] == '"2"'
    assert stocked.delete(one, headers={"If-Match": '"2"'}).status_code == 204
    assert stocked.get(one).status_code == 404
    assert stocked.get(path_of(served)).json()["items"] == []
    restored = stocked.post(f"{one}/restore")
    assert restored.status_code == 200, restored.text
    assert input_of(served, restored.json()) == input_of(served, created.json())
    changes = stocked.get(f"{one}/history").json()["items"]
    assert [change["action"] for change in changes] == ["create", "update", "delete", "restore"]
    assert [change["version"] for change in changes] == [1, 2, 3, 4]
    assert sorted({change["revision"] for change in changes}) == [change["revision"] for change in changes]
    assert changes[0]["before"] is None
    assert changes[0]["after"] == input_of(served, created.json())
    assert changes[2]["after"] is None


def test_an_edit_without_if_match_is_refused(
    stocked: TestClient, served: Served, problem_of: Problem
) -> None:
    one = f"{path_of(served)}/1"
    for response in (
        stocked.put(one, json=dict(served.example)),
        stocked.patch(one, json={}),
        stocked.delete(one),
    ):
        assert problem_of(response, 428, "edit-unguarded") == ["If-Match"]


def test_a_stale_edit_is_refused_and_changes_nothing(
    stocked: TestClient, served: Served, problem_of: Problem
) -> None:
    one = f"{path_of(served)}/1"
    before = stocked.get(one).json()
    stale = {"If-Match": '"7"'}
    for response in (
        stocked.put(one, json=dict(served.example), headers=stale),
        stocked.patch(one, json={}, headers=stale),
        stocked.delete(one, headers=stale),
    ):
        assert problem_of(response, 412, "stale-edit") == ["If-Match"]
    assert stocked.get(one).json() == before


def test_an_etag_that_is_none_of_ours_is_refused(
    stocked: TestClient, served: Served, problem_of: Problem
) -> None:
    response = stocked.delete(f"{path_of(served)}/1", headers={"If-Match": '"abc"'})
    assert problem_of(response, 422, "invalid-input") == ["If-Match"]


def test_a_star_edits_whatever_is_there(stocked: TestClient, served: Served) -> None:
    assert stocked.delete(f"{path_of(served)}/1", headers={"If-Match": "*"}).status_code == 204


def test_what_is_not_there_cannot_be_read_edited_or_restored(
    stocked: TestClient, served: Served, problem_of: Problem
) -> None:
    for record in ("2", "0", "x", "1e3", "99999999999999999999999"):
        one = f"{path_of(served)}/{record}"
        star = {"If-Match": "*"}
        for response in (
            stocked.get(one),
            stocked.put(one, json=dict(served.example), headers=star),
            stocked.patch(one, json={}, headers=star),
            stocked.delete(one, headers=star),
            stocked.post(f"{one}/restore"),
            stocked.get(f"{one}/history"),
        ):
            problem_of(response, 404, "not-found")


def test_what_is_not_deleted_cannot_be_restored(
    stocked: TestClient, served: Served, problem_of: Problem
) -> None:
    problem_of(stocked.post(f"{path_of(served)}/1/restore"), 409, "conflict")


def test_an_unknown_field_is_refused(stocked: TestClient, served: Served, problem_of: Problem) -> None:
    response = stocked.post(path_of(served), json={**served.example, "colour": "red"})
    assert "/colour" in problem_of(response, 422, "invalid-input")


def test_a_create_with_a_key_is_done_once(either_client: TestClient, problem_of: Problem) -> None:
    machine = next(served for served in SERVED if served.resource.name == "machines")
    key = {"Idempotency-Key": "a-key-of-mine"}
    first = either_client.post("/v1/machines", json=dict(machine.example), headers=key)
    again = either_client.post("/v1/machines", json=dict(machine.example), headers=key)
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.content == again.content
    assert again.headers["location"] == first.headers["location"]
    assert len(either_client.get("/v1/machines").json()["items"]) == 1
    other = either_client.post("/v1/machines", json={**machine.example, "name": "another"}, headers=key)
    assert problem_of(other, 422, "key-reused") == ["Idempotency-Key"]


@pytest.mark.parametrize("key", ["", "x" * 256, "naïve"])
def test_an_unusable_key_is_refused(client: TestClient, problem_of: Problem, key: str) -> None:
    machine = next(served for served in SERVED if served.resource.name == "machines")
    headers = [(b"Idempotency-Key", key.encode())]
    response = client.post("/v1/machines", json=dict(machine.example), headers=headers)
    assert problem_of(response, 422, "invalid-input") == ["Idempotency-Key"]


def test_a_refused_create_leaves_nothing_and_frees_its_key(client: TestClient, problem_of: Problem) -> None:
    machine = next(served for served in SERVED if served.resource.name == "machines")
    key = {"Idempotency-Key": "a-key-of-mine"}
    problem_of(client.post("/v1/machines", json={}, headers=key), 422, "invalid-input")
    assert client.get("/v1/machines").json()["items"] == []
    assert client.post("/v1/machines", json=dict(machine.example), headers=key).status_code == 201


def test_a_list_is_paged_with_a_link_to_the_next_page(either_client: TestClient) -> None:
    for number in range(5):
        body = {"base": "EUR", "quote": "USD", "rate": f"1.0{number}", "on": f"2026-11-0{number + 1}"}
        assert either_client.post("/v1/exchange-rates", json=body).status_code == 201
    seen, url = [], "/v1/exchange-rates?limit=2&base=EUR"
    while url:
        page = either_client.get(url)
        seen += [item["rate"] for item in page.json()["items"]]
        assert ("link" in page.headers) == (page.json()["next_cursor"] is not None)
        url = page.links["next"]["url"] if "next" in page.links else ""
    assert seen == ["1.00", "1.01", "1.02", "1.03", "1.04"]


@pytest.mark.parametrize(
    ("query", "place"),
    [
        ("limit=0", "limit"),
        ("limit=501", "limit"),
        ("limit=many", "limit"),
        ("cursor=abc", "cursor"),
        ("cursor=0", "cursor"),
        ("colour=red", "colour"),
        ("format=xml", "format"),
        ("format=value", "field"),
        ("decimal=dot", "decimal"),
        ("format=value&field=/nothing", "field"),
        ("format=value&field=/items", "field"),
    ],
)
def test_a_wrong_parameter_of_a_list_is_named(
    client: TestClient, problem_of: Problem, query: str, place: str
) -> None:
    assert problem_of(client.get(f"/v1/machines?{query}"), 422, "invalid-input") == [place]


def test_a_record_comes_as_csv_and_as_a_single_cell(stocked: TestClient, served: Served) -> None:
    listed = stocked.get(f"{path_of(served)}?format=csv")
    assert listed.headers["content-type"] == "text/csv; charset=utf-8"
    lines = listed.text.split("\r\n")
    assert lines[0].split(",")[: len(served.resource.columns)] == list(served.resource.columns)
    assert lines[1].startswith("1,")
    assert stocked.get(path_of(served), headers={"Accept": "text/csv"}).text == listed.text
    cell = stocked.get(f"{path_of(served)}/1?format=value&field=/id")
    assert (cell.text, cell.headers["content-type"]) == ("1", "text/plain; charset=utf-8")
    history = stocked.get(f"{path_of(served)}/1/history?format=csv")
    assert history.text.startswith("at,actor,action,version,revision,before,after\r\n")


def test_an_unchanged_answer_is_not_sent_again(stocked: TestClient, served: Served) -> None:
    for url in (f"{path_of(served)}/1", path_of(served), f"{path_of(served)}?format=csv"):
        first = stocked.get(url)
        again = stocked.get(url, headers={"If-None-Match": first.headers["etag"]})
        assert (again.status_code, again.content) == (304, b"")


def test_head_is_get_without_its_body_and_options_names_the_methods(stocked: TestClient) -> None:
    head = stocked.head("/v1/parts/1")
    assert (head.status_code, head.content) == (200, b"")
    assert head.headers["etag"] == stocked.get("/v1/parts/1").headers["etag"]
    options = stocked.options("/v1/parts/1")
    assert (options.status_code, options.headers["allow"]) == (204, "GET, PUT, PATCH, DELETE, HEAD, OPTIONS")
    assert stocked.options("/v1/parts/1/restore").headers["allow"] == "POST, OPTIONS"


def test_filters_keep_what_they_ask_for(stocked: TestClient) -> None:
    assert (
        len(stocked.get("/v1/parts?family=carburetor&grade=aftermarket_unbranded&q=q19").json()["items"]) == 1
    )
    assert stocked.get("/v1/parts?grade=oem").json()["items"] == []
    assert stocked.get("/v1/parts?grade=none").json()["items"] == []
    assert len(stocked.get("/v1/quotes?part_id=1&supplier_id=1").json()["items"]) == 1
    assert stocked.get("/v1/quotes?part_id=2").json()["items"] == []
    assert stocked.get("/v1/quotes?part_id=abc").json()["items"] == []


def test_an_earlier_price_is_kept_in_the_history(stocked: TestClient) -> None:
    new = {"price": {"amount": "11.20", "currency": "USD"}}
    assert stocked.patch("/v1/quotes/1", json=new, headers={"If-Match": '"1"'}).status_code == 200
    changes = stocked.get("/v1/quotes/1/history").json()["items"]
    assert [change["after"]["price"]["amount"] for change in changes] == ["9.80", "11.20"]


def test_a_merge_patch_takes_a_field_back_to_its_default(stocked: TestClient) -> None:
    patched = stocked.patch("/v1/quotes/1", json={"weight_g": None}, headers={"If-Match": '"1"'})
    assert patched.json()["weight_g"] is None
    refused = stocked.patch("/v1/quotes/1", json={"price": None}, headers={"If-Match": '"2"'})
    assert refused.status_code == 422
