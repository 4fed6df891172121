"""Proposed interchanges over HTTP: what is open, and what becomes of it."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.services import proposals

Problem = Callable[..., list[str]]
Body = dict[str, Any]

SHEET = {
    "throttle_bore": "19.0 mm",
    "bolt_spacing": "42.0 mm",
    "body_length": "62.0 mm",
    "choke_type": "manual_lever",
}
OTHER = {
    "throttle_bore": "24.0 mm",
    "bolt_spacing": "48.0 mm",
    "body_length": "72.0 mm",
    "choke_type": "none",
}
DECISIONS = "/v1/interchange-decisions"


@pytest.fixture
def stocked(bench: Any, either_client: TestClient) -> TestClient:
    """A file with three parts of one design, one without a number, and others."""
    on_file = replace(bench, client=either_client)
    for number, maker, sheet in (
        ("708-21B", "Harrowmere", SHEET),
        ("BK-208", "Brackwell", SHEET),
        ("V-77", "Vennor", OTHER),
        (None, "Ostler", SHEET),
    ):
        on_file.part(number, maker=maker, dimensions=sheet)
    on_file.part("C-1", maker="Quillon", family="ignition_coil", dimensions={}, includes=[])
    return either_client


def open_pairs(client: TestClient, query: str = "") -> list[list[str]]:
    response = client.get(f"/v1/interchange/proposals{query}")
    assert response.status_code == 200, response.text
    return [[part["id"] for part in item["parts"]] for item in response.json()["items"]]


def decide(
    client: TestClient, decision: str, *part_ids: str, status: int = 201, key: str | None = None, **more: Any
) -> Any:
    headers = {} if key is None else {"Idempotency-Key": key}
    response = client.post(
        DECISIONS, json={"part_ids": list(part_ids), "decision": decision, **more}, headers=headers
    )
    assert response.status_code == status, response.text
    return response


def statements(client: TestClient) -> list[Body]:
    items: list[Body] = client.get("/v1/interchange").json()["items"]
    return items


def test_a_parameter_of_no_meaning_is_refused(client: TestClient, problem_of: Problem) -> None:
    for query, place in (("family=toaster", "family"), ("limit=0", "limit"), ("cursor=1", "cursor")):
        response = client.get(f"/v1/interchange/proposals?{query}")
        assert problem_of(response, 422, "invalid-input") == [place]


def test_every_fault_of_a_decision_is_told_at_once(stocked: TestClient, problem_of: Problem) -> None:
    stocked.delete("/v1/parts/3", headers={"If-Match": "*"})
    for part_ids, places in (
        (["1"], ["/part_ids"]),
        (["1", "1"], ["/part_ids"]),
        (["1", "2", "4"], ["/part_ids"]),
        (["1", "x"], ["/part_ids/1"]),
        (["3", "99"], ["/part_ids/0", "/part_ids/1"]),
        (["1", "5"], ["/part_ids"]),
        (["1", "4"], ["/decision"]),
    ):
        response = stocked.post(DECISIONS, json={"part_ids": part_ids, "decision": "confirmed"})
        assert problem_of(response, 422, "invalid-input") == places, part_ids
    response = stocked.post(DECISIONS, json={"part_ids": ["1", "2"], "decision": "perhaps", "by": "me"})
    assert sorted(problem_of(response, 422, "invalid-input")) == ["/by", "/decision"]
    assert statements(stocked) == []


def test_parts_under_one_number_are_not_stated_to_be_the_same(
    stocked: TestClient, bench: Any, problem_of: Problem
) -> None:
    twin = replace(bench, client=stocked).part("708 21b", maker="Quillon", dimensions=SHEET)
    response = stocked.post(DECISIONS, json={"part_ids": ["1", twin["id"]], "decision": "confirmed"})
    assert problem_of(response, 422, "invalid-input") == ["/decision"]


def test_pairs_that_agree_are_proposed_with_their_dimensions(stocked: TestClient) -> None:
    found = stocked.get("/v1/interchange/proposals?family=carburetor").json()
    assert found["next_cursor"] is None
    pair = found["items"][0]
    assert [part["number"] for part in pair["parts"]] == ["708-21B", "BK-208"]
    assert pair["family"] == "carburetor"
    assert sorted(pair["agreeing"]) == sorted(SHEET)
    assert pair["differing"] == []
    assert 0.0 < pair["probability"] < 1.0
    assert [part["id"] for part in pair["group"]] == ["1", "2", "4"]
    assert pair["group_size"] == 3
    # The third pair follows from the two.
    assert open_pairs(stocked) == [["1", "2"], ["1", "4"]]
    assert open_pairs(stocked, "?limit=1") == [["1", "2"]]
    assert open_pairs(stocked, "?family=ignition_coil") == []
    lines = stocked.get("/v1/interchange/proposals?format=csv").text.splitlines()
    assert lines[0].startswith("family,probability,id_1,maker_1,number_1,grade_1,id_2,")
    assert lines[0].endswith("agreeing,differing,group,group_size")
    assert lines[1].endswith(",1; 2; 4,3")
    assert len(lines) == 3


def test_a_confirmed_pair_is_stated_and_not_proposed_again(stocked: TestClient) -> None:
    made = decide(stocked, "confirmed", "2", "1", note="side by side").json()
    assert (made["part_ids"], made["decision"], made["note"]) == (["1", "2"], "confirmed", "side by side")
    (statement,) = statements(stocked)
    assert made["statement_id"] == statement["id"]
    assert (statement["from_number"], statement["to_number"]) == ("708-21B", "BK-208")
    assert (statement["relation"], statement["source"]) == ("same_as", proposals.SOURCE)
    assert statement["confidence"] == proposals.CONFIDENCE
    history = stocked.get(f"/v1/interchange/{statement['id']}/history").json()["items"]
    assert [change["action"] for change in history] == ["create"]
    assert open_pairs(stocked) == [["1", "4"]]
    found = stocked.get("/v1/interchange?number=BK-208").json()["items"]
    assert [item["number"] for item in found] == ["708-21B"]


def test_a_rejected_pair_comes_back_only_once_its_decision_is_deleted(stocked: TestClient) -> None:
    made = decide(stocked, "rejected", "1", "2")
    assert made.json()["statement_id"] is None
    assert statements(stocked) == []
    # Of which of the two the third part is now nobody can tell.
    assert open_pairs(stocked) == []
    one = f"{DECISIONS}/{made.json()['id']}"
    assert stocked.delete(one, headers={"If-Match": made.headers["etag"]}).status_code == 204
    assert open_pairs(stocked) == [["1", "2"], ["1", "4"]]
    assert stocked.post(f"{one}/restore").status_code == 200
    assert open_pairs(stocked) == []
    history = stocked.get(f"{one}/history").json()["items"]
    assert [change["action"] for change in history] == ["create", "delete", "restore"]
    assert history[0]["after"] == {"part_ids": ["1", "2"], "decision": "rejected", "note": ""}


def test_a_pair_that_is_stated_already_is_not_proposed(stocked: TestClient) -> None:
    for newer, older in (("X-1", "708-21B"), ("BK-208", "X-1")):
        body = {"from_number": newer, "to_number": older, "relation": "supersedes"}
        assert stocked.post("/v1/interchange", json=body).status_code == 201
    assert open_pairs(stocked) == [["1", "4"]]


def test_one_pair_is_decided_once(stocked: TestClient, problem_of: Problem) -> None:
    first = decide(stocked, "rejected", "1", "2").json()
    again = decide(stocked, "confirmed", "2", "1", status=409)
    assert problem_of(again, 409, "conflict") == ["/part_ids"]
    assert statements(stocked) == []
    stocked.delete(f"{DECISIONS}/{first['id']}", headers={"If-Match": "*"})
    decide(stocked, "confirmed", "2", "1")
    restored = stocked.post(f"{DECISIONS}/{first['id']}/restore")
    assert problem_of(restored, 409, "conflict") == ["/part_ids"]


def test_a_decision_sent_twice_under_one_key_is_made_once(stocked: TestClient) -> None:
    first = decide(stocked, "confirmed", "1", "2", key="k-1")
    second = decide(stocked, "confirmed", "1", "2", key="k-1")
    assert first.json() == second.json()
    assert len(statements(stocked)) == 1


def test_a_change_of_mind_takes_the_statement_back_and_states_it_anew(stocked: TestClient) -> None:
    one = f"{DECISIONS}/{decide(stocked, 'confirmed', '1', '2').json()['id']}"
    rejected = stocked.patch(one, json={"decision": "rejected"}, headers={"If-Match": '"1"'})
    assert rejected.status_code == 200, rejected.text
    assert rejected.json()["statement_id"] is None
    assert statements(stocked) == []
    confirmed = stocked.patch(one, json={"decision": "confirmed"}, headers={"If-Match": '"2"'})
    assert [one["id"] for one in statements(stocked)] == [confirmed.json()["statement_id"]] == ["2"]
    noted = stocked.patch(one, json={"note": "measured again"}, headers={"If-Match": '"3"'})
    assert noted.json()["statement_id"] == "2"
    assert len(statements(stocked)) == 1


def test_a_deleted_confirmation_leaves_its_statement(stocked: TestClient) -> None:
    one = f"{DECISIONS}/{decide(stocked, 'confirmed', '1', '2').json()['id']}"
    assert stocked.delete(one, headers={"If-Match": "*"}).status_code == 204
    assert len(statements(stocked)) == 1
    assert open_pairs(stocked) == [["1", "4"]]


def test_a_decision_stays_with_its_parts(stocked: TestClient, problem_of: Problem) -> None:
    one = f"{DECISIONS}/{decide(stocked, 'rejected', '1', '2').json()['id']}"
    moved = stocked.put(
        one, json={"part_ids": ["1", "3"], "decision": "rejected"}, headers={"If-Match": '"1"'}
    )
    assert problem_of(moved, 422, "invalid-input") == ["/part_ids"]
    same = stocked.put(
        one, json={"part_ids": ["2", "1"], "decision": "rejected"}, headers={"If-Match": '"1"'}
    )
    assert same.status_code == 200, same.text


def test_decisions_are_listed_filtered_and_exported(stocked: TestClient) -> None:
    decide(stocked, "confirmed", "1", "2")
    decide(stocked, "rejected", "1", "3")
    rejected = stocked.get(f"{DECISIONS}?decision=rejected").json()["items"]
    assert [item["part_ids"] for item in rejected] == [["1", "3"]]
    assert stocked.get(f"{DECISIONS}?decision=perhaps").json()["items"] == []
    lines = stocked.get("/v1/exports/interchange-decisions.csv").text.splitlines()
    assert lines[0] == "\ufeffid,part_ids,decision,note,statement_id"
    assert len(lines) == 3
    read = stocked.get(f"{DECISIONS}/1").json()
    assert read["statement_id"] == "1"
