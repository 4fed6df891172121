"""Statements over HTTP: what stands in, what speaks against them, and what they say of a fit."""

from collections.abc import Callable
from dataclasses import replace
from itertools import chain
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.services import interchange, interchange_faults

Problem = Callable[..., list[str]]
Body = dict[str, Any]


@pytest.fixture
def either_bench(bench: Any, either_client: TestClient) -> Any:
    """Makes records on each kind of database in turn."""
    return replace(bench, client=either_client)


@pytest.fixture
def state(either_bench: Any) -> Callable[..., Body]:
    """A function that states that one number may stand in for another."""

    def post(stand_in: str, relation: str, replaced: str, confidence: float = 0.9, **more: Any) -> Body:
        body = {
            "from_number": stand_in,
            "to_number": replaced,
            "relation": relation,
            "confidence": confidence,
        }
        made: Body = either_bench.post("interchange", body | more)
        return made

    return post


def test_several_paths_and_sources_are_counted_together(
    state: Callable[..., Body], either_bench: Any, either_client: TestClient
) -> None:
    state("708-21B", "supersedes", "708-21A", 0.6, source="a list")
    state("708-21B", "supersedes", "70821a", 0.8, source="the old box")
    state("BK-208", "same_as", "708-21B", 0.5)
    state("BK-208", "replaces_with_changes", "708-21A", 0.5)
    part = either_bench.part("BK 208", maker="Brackwell")
    either_bench.part("BK-208", maker="Brackwell", family="ignition_coil", dimensions={}, includes=[])
    newer, copy = either_client.get("/v1/interchange?number=708-21A").json()["items"]
    # 1 - (1 - 0.92) (1 - 0.5 * 0.5), with the detour over the copy
    assert (newer["number"], newer["strength"], newer["paths"]) == ("708-21B", 0.94, 2)
    assert newer["path"] == [
        {
            "statement_id": "2",
            "from_number": "708-21B",
            "to_number": "708-21A",
            "relation": "supersedes",
            "confidence": 0.92,
            "backed_by": ["1"],
        }
    ]
    assert newer["parts"] == []
    # 1 - (1 - 0.92 * 0.5) (1 - 0.5) = 0.73
    assert (copy["number"], copy["strength"], copy["path_strength"]) == ("BK-208", 0.73, 0.5)
    assert (copy["with_changes"], copy["exact"]) == (False, True)
    assert [
        (bearer["id"], bearer["maker"], bearer["grade"], bearer["family"]) for bearer in copy["parts"]
    ] == [
        (part["id"], "Brackwell", "aftermarket_unbranded", "carburetor"),
        ("2", "Brackwell", "aftermarket_unbranded", "ignition_coil"),
    ]


def test_stand_ins_come_as_a_table_too(state: Callable[..., Body], either_client: TestClient) -> None:
    state("708-21B", "supersedes", "708-21A")
    lines = either_client.get("/v1/interchange?number=708-21A&format=csv").text.splitlines()
    assert lines[0] == "number,strength,with_changes,path,path_strength,paths,exact,parts"
    assert lines[1].startswith("708-21B,0.9,false,")
    value = either_client.get("/v1/interchange?number=708-21A&format=value&field=/items/0/strength")
    assert value.text == "0.9"


def test_a_walk_over_a_long_file_ends_with_the_nearest_statements(
    state: Callable[..., Body], either_client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    for place in range(5):
        state(f"N{place + 1}", "supersedes", f"N{place}")
    assert len(either_client.get("/v1/interchange?number=N0").json()["items"]) == 5
    monkeypatch.setattr(interchange, "MOST_STATEMENTS", 3)
    found = either_client.get("/v1/interchange?number=N0").json()["items"]
    assert [item["number"] for item in found] == ["N1", "N2", "N3"]


def ask(client: TestClient, **known: str) -> dict[str, Body]:
    """Return the fits of carburetors by number."""
    response = client.get("/v1/fits", params={"family": "carburetor", **known})
    assert response.status_code == 200, response.text
    return {fit["part"]["number"]: fit for fit in response.json()["fits"]}


def test_a_part_whose_number_may_stand_in_for_the_known_one_is_a_likelier_fit(
    state: Callable[..., Body], either_bench: Any, either_client: TestClient
) -> None:
    for number, bore_mm in (("708-21B", 19), ("Q19-42", 22), ("V-77", 25), ("H-12", 16)):
        either_bench.part(number, maker="Vennor", dimensions={"throttle_bore": f"{bore_mm}.0 mm"})
    before = ask(either_client, known_number="708-99A")
    state("708-21B", "supersedes", "708-99A", 0.9)
    after = ask(either_client, known_number="708-99A")
    assert after["708-21B"]["fit_confidence"] > before["708-21B"]["fit_confidence"] + 0.2
    (evidence,) = [one for one in after["708-21B"]["evidence"] if one["kind"] == "interchange"]
    assert evidence["similarity"] == 0.9
    assert evidence["weight"] > 1.0
    # What no statement links is only the less likely for it.
    assert {one["similarity"] for one in after["Q19-42"]["evidence"] if one["kind"] == "interchange"} == {0.0}
    # The way back is not stated.
    assert not [
        one
        for one in ask(either_client, known_number="Q19-42")["V-77"]["evidence"]
        if one["kind"] == "interchange"
    ]


def test_a_stand_in_counts_beside_the_part_that_bears_the_known_number(
    state: Callable[..., Body], either_bench: Any, either_client: TestClient
) -> None:
    for number, bore_mm in (("708-21A", 19), ("708-21B", 19), ("Q19-42", 22), ("V-77", 25), ("H-12", 16)):
        either_bench.part(number, maker="Vennor", dimensions={"throttle_bore": f"{bore_mm}.0 mm"})
    state("708-21B", "same_as", "708-21A", 0.9)
    found = ask(either_client, known_number="708-21A")
    kinds = {
        number: {one["kind"] for one in fit["evidence"] if one["similarity"] > 0.0}
        for number, fit in found.items()
    }
    assert "interchange" not in kinds["708-21A"]
    assert "interchange" in kinds["708-21B"]
    assert found["708-21B"]["fit_confidence"] > found["Q19-42"]["fit_confidence"]


def test_a_statement_about_numbers_of_another_family_says_nothing(
    state: Callable[..., Body], either_bench: Any, either_client: TestClient
) -> None:
    either_bench.part("708-21B")
    either_bench.part("C-1", family="ignition_coil", dimensions={}, includes=[])
    state("C-1", "same_as", "708-21A")
    found = ask(either_client, known_number="708-21A", throttle_bore="19 mm")
    assert all(one["kind"] != "interchange" for one in found["708-21B"]["evidence"])


def faults_of(client: TestClient, **params: Any) -> Body:
    response = client.get("/v1/interchange/faults", params=params)
    assert response.status_code == 200, response.text
    found: Body = response.json()
    return found


def test_a_cursor_or_a_parameter_of_no_meaning_is_refused(client: TestClient, problem_of: Problem) -> None:
    for cursor in ("7", "0-1", "x", "7-", "٧-1"):
        response = client.get("/v1/interchange/faults", params={"cursor": cursor})
        assert problem_of(response, 422, "invalid-input") == ["cursor"]
    assert problem_of(client.get("/v1/interchange/faults?limit=0"), 422, "invalid-input") == ["limit"]
    assert problem_of(client.get("/v1/interchange/faults?kind=ring"), 422, "invalid-input") == ["kind"]
    response = client.get("/v1/interchange/faults", headers={"accept": "image/png"})
    problem_of(response, 406, "not-acceptable")


def test_without_statements_there_are_no_faults(client: TestClient) -> None:
    assert faults_of(client) == {"items": [], "next_cursor": None}


def test_a_statement_against_the_file_is_stored_and_then_among_the_faults(
    state: Callable[..., Body], either_client: TestClient
) -> None:
    first = state("708-21B", "supersedes", "708-21A")
    assert faults_of(either_client)["items"] == []
    second = state("708-21A", "supersedes", "708-21B")
    assert set(second) == set(first)
    (fault,) = faults_of(either_client)["items"]
    assert (fault["kind"], fault["statement_ids"]) == ("contradiction", ["1", "2"])
    assert fault["says"].startswith("708-21B supersedes 708-21A, and 708-21A supersedes 708-21B")
    either_client.delete("/v1/interchange/2", headers={"If-Match": "*"})
    assert faults_of(either_client)["items"] == []


@pytest.fixture
def faulty(state: Callable[..., Body], either_bench: Any) -> Any:
    """A file with a contradiction, a ring, and statements that sheets deny."""
    sheet = {"throttle_bore": "19.0 mm", "body_length": "62.0 mm", "choke_type": "none"}
    either_bench.part("708-21B", maker="Harrowmere", grade="oem", dimensions=sheet | {"body_length": "56 mm"})
    either_bench.part("Q19-42", maker="Quillon", dimensions=sheet)
    either_bench.part("Q19-42", maker="Vennor", dimensions=sheet | {"choke_type": "manual_lever"})
    either_bench.part("Q19-42", maker="Ostler", family="ignition_coil", dimensions={}, includes=[])
    state("Q19-42", "same_as", "708-21B")
    state("Q19-42", "replaces_with_changes", "708-21B")
    for newer, older in (("B", "A"), ("C", "B"), ("A", "C")):
        state(newer, "supersedes", older)
    return either_bench


def test_sheets_that_deny_a_statement_are_told_with_their_dimensions(
    faulty: Any, either_client: TestClient
) -> None:
    found = faults_of(either_client)["items"]
    assert [(one["kind"], one["statement_ids"]) for one in found] == [
        ("dimensions", ["1"]),
        ("dimensions", ["1"]),
        ("contradiction", ["1", "2"]),
        ("ring", ["3", "4", "5"]),
    ]
    first, second = found[:2]
    assert first["says"] == (
        "Quillon Q19-42 is the same as Harrowmere 708-21B, "
        "but body length 62 mm against 56 mm is outside -0.5 to +0.5 mm."
    )
    assert [part["maker"] for part in first["parts"]] == ["Quillon", "Harrowmere"]
    assert first["dimensions"][0]["difference"] == 6.0
    assert [one["key"] for one in second["dimensions"]] == ["body_length", "choke_type"]
    assert second["dimensions"][1]["allowance"] is None


def pages_of(client: TestClient, **params: Any) -> list[list[Body]]:
    """Return every page of the faults."""
    page = faults_of(client, **params)
    pages = [page["items"]]
    while page["next_cursor"] is not None:
        page = faults_of(client, **params, cursor=page["next_cursor"])
        pages.append(page["items"])
    return pages


def test_faults_come_page_by_page_and_as_a_table(faulty: Any, either_client: TestClient) -> None:
    every = faults_of(either_client)["items"]
    for limit in (1, 2, 3, 4):
        pages = pages_of(either_client, limit=limit)
        assert [len(page) for page in pages] == [limit] * (4 // limit) + [4 % limit] * (4 % limit > 0)
        assert list(chain.from_iterable(pages)) == every
    response = either_client.get("/v1/interchange/faults?format=csv&limit=1")
    assert response.text.splitlines()[0] == "kind,statement_ids,numbers,part_ids,dimensions,says"
    assert response.headers["link"].endswith('cursor=1-1>; rel="next"')


def test_a_page_looks_through_so_many_statements_and_the_next_goes_on(
    faulty: Any, either_client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    every = faults_of(either_client)["items"]
    monkeypatch.setattr(interchange_faults, "STATEMENTS_AT_ONCE", 1)
    monkeypatch.setattr(interchange_faults, "MOST_STATEMENTS", 2)
    pages = pages_of(either_client)
    assert [len(page) for page in pages] == [3, 0, 0, 1]
    assert list(chain.from_iterable(pages)) == every


def test_a_part_that_goes_under_both_numbers_denies_nothing_of_itself(
    state: Callable[..., Body], either_bench: Any, either_client: TestClient
) -> None:
    either_bench.part("708-21B", other_numbers=["BK-208"], maker="Harrowmere")
    state("BK-208", "same_as", "708-21B")
    assert faults_of(either_client)["items"] == []
