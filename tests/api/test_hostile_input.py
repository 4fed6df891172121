"""What nobody types by hand, on both databases: each is refused in a sentence or stored whole."""

from collections.abc import Callable
from typing import Any

import pytest
from fastapi.testclient import TestClient

Problem = Callable[..., list[str]]
Body = dict[str, Any]

PART: Body = {"family": "carburetor", "maker": "Quillon", "grade": "oem"}
RATE: Body = {"base": "EUR", "quote": "USD", "rate": "1.0840"}
ONE_FOR_EIGHTEEN = "\ufdfa"  # a single character that its compatible form writes as eighteen
WIDE = "\U0001f527"  # four bytes


@pytest.mark.parametrize("number", ["-", "---", " ./ ", ONE_FOR_EIGHTEEN * 80], ids=range(4))
def test_a_number_of_which_nothing_or_too_much_is_compared_is_refused(
    either_client: TestClient, problem_of: Problem, number: str
) -> None:
    response = either_client.post("/v1/parts", json=PART | {"number": number, "other_numbers": [number]})
    assert problem_of(response, 422, "invalid-input") == ["/number", "/other_numbers/0"]
    statement = {"from_number": number, "to_number": "A-1", "relation": "same_as"}
    response = either_client.post("/v1/interchange", json=statement)
    assert problem_of(response, 422, "invalid-input") == ["/from_number"]


def test_the_longest_texts_are_stored_whole(either_client: TestClient) -> None:
    part = PART | {
        "maker": WIDE * 200,
        "number": "ﬁ" * 80,
        "other_numbers": ["字" * 80],
        "title": WIDE * 300,
        "notes": WIDE * 5000,
        "serves": ["字" * 80],
        "stated_for": [WIDE * 200],
    }
    made = either_client.post("/v1/parts", json=part)
    assert made.status_code == 201, made.text
    assert part.items() <= either_client.get("/v1/parts/1").json().items()


@pytest.mark.parametrize("on", [0, 86_400, -1e18, True, "0000-01-01", "10000-01-01", "2026-02-29"])
def test_what_is_no_day_is_refused(either_client: TestClient, problem_of: Problem, on: Any) -> None:
    response = either_client.post("/v1/exchange-rates", json=RATE | {"on": on})
    assert problem_of(response, 422, "invalid-input") == ["/on"]


@pytest.mark.parametrize("on", ["0001-01-01", "9999-12-31"])
def test_the_first_and_the_last_day_are_days(either_client: TestClient, on: str) -> None:
    made = either_client.post("/v1/exchange-rates", json=RATE | {"on": on})
    assert made.json()["on"] == on
    assert either_client.get("/v1/exchange-rates?format=value&field=/items/0/on").text == on


def test_more_words_than_anybody_looks_for_are_refused(
    either_client: TestClient, problem_of: Problem
) -> None:
    assert problem_of(either_client.get(f"/v1/parts?q={'a+' * 51}"), 422, "invalid-input") == ["q"]
    assert either_client.get(f"/v1/parts?q={'a+' * 50}").status_code == 200


@pytest.mark.parametrize("position", ["9" * 5000, "99", "00", "-1", "٣", "1e0", ""])
def test_a_field_that_no_list_has_is_refused(client: TestClient, problem_of: Problem, position: str) -> None:
    client.post("/v1/parts", json=PART)
    response = client.get("/v1/parts", params={"format": "value", "field": f"/items/{position}/maker"})
    assert problem_of(response, 422, "invalid-input") == ["field"]


def test_a_record_sent_back_as_it_was_read_is_told_what_to_leave_out(
    client: TestClient, problem_of: Problem
) -> None:
    client.post("/v1/parts", json=PART)
    read = client.get("/v1/parts/1")
    response = client.put("/v1/parts/1", json=read.json(), headers={"If-Match": read.headers["etag"]})
    places = problem_of(response, 422, "invalid-input")
    assert sorted(places) == ["/created_at", "/deleted_at", "/id", "/updated_at", "/version"]
    assert {fault["detail"] for fault in response.json()["errors"]} == {
        "The service keeps this itself; leave it out."
    }
    without = {name: value for name, value in read.json().items() if f"/{name}" not in places}
    again = client.put("/v1/parts/1", json=without, headers={"If-Match": read.headers["etag"]})
    assert again.status_code == 200, again.text


@pytest.mark.parametrize(
    "address",
    [
        "parts?limit=1&limit=2",
        "parts?maker=Quillon&maker=Vennor",
        "numbers?like=a&like=b",
        "parts?cursor=1&cursor=2",
    ],
)
def test_a_parameter_that_stands_twice_is_refused(
    client: TestClient, problem_of: Problem, address: str
) -> None:
    name = address.partition("?")[2].partition("=")[0]
    assert problem_of(client.get(f"/v1/{address}"), 422, "invalid-input") == [name]


def test_a_parameter_that_means_nothing_to_a_question_is_refused(
    client: TestClient, problem_of: Problem
) -> None:
    asked = {"family": "carburetor", "measured": {"throttle_bore": "19.0 mm"}}
    assert problem_of(client.post("/v1/fits?limit=5", json=asked), 422, "invalid-input") == ["limit"]
