"""What is refused: each a problem with the place and the remedy of every fault, and nothing half-stored."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from fastapi.testclient import TestClient

Problem = Callable[..., list[str]]
Body = dict[str, Any]

PART: Body = {
    "family": "carburetor",
    "maker": "Quillon",
    "number": "Q19-42",
    "grade": "oem",
    "dimensions": {},
}
SUPPLIER: Body = {"name": "Millrace Spares", "country": "US", "currency": "USD"}
MACHINE: Body = {
    "name": "TL-07 tiller",
    "worth_running": {"amount": "190.00", "currency": "USD"},
    "worth_as_is": {"amount": "35.00", "currency": "USD"},
}
QUOTE: Body = {
    "supplier_id": "1",
    "part_id": "1",
    "price": {"amount": "9.80", "currency": "USD"},
    "seen_on": "2026-11-01",
}
JOB: Body = {"machine_id": "1", "currency": "USD"}


def changed(body: Body, path: str, value: Any) -> Body:
    """Return a body with the value at a pointer changed."""
    copy: Body = json.loads(json.dumps(body))
    *way, last = path.removeprefix("/").split("/")
    node = copy
    for name in way:
        node = node.setdefault(name, {})
    node[last] = value
    return copy


BAD_PARTS = [
    ("/family", "carb", "/family"),
    ("/family", 5, "/family"),
    ("/maker", "", "/maker"),
    ("/maker", "   ", "/maker"),
    ("/maker", "x" * 201, "/maker"),
    ("/grade", "best", "/grade"),
    ("/includes", ["Mounting Gasket"], "/includes/0"),
    ("/includes", "mounting_gasket", "/includes"),
    ("/dimensions", [], "/dimensions"),
    ("/dimensions/bore", 19.0, "/dimensions/bore"),
    ("/dimensions/throttle_bore", "19 ohm", "/dimensions/throttle_bore"),
    ("/dimensions/throttle_bore", -19.0, "/dimensions/throttle_bore"),
    ("/dimensions/throttle_bore", 0, "/dimensions/throttle_bore"),
    ("/dimensions/throttle_bore", True, "/dimensions/throttle_bore"),
    ("/dimensions/throttle_bore", "1,234", "/dimensions/throttle_bore"),
    ("/dimensions/throttle_bore", "9/16", "/dimensions/throttle_bore"),
    ("/dimensions/throttle_bore", {"value": 19.0, "unit": "kg"}, "/dimensions/throttle_bore/unit"),
    ("/dimensions/throttle_bore", {"value": 19.0, "plus_minus": -1}, "/dimensions/throttle_bore/plus_minus"),
    ("/dimensions/throttle_bore", {"valeu": 19.0}, "/dimensions/throttle_bore"),
    ("/dimensions/choke_type", "by foot", "/dimensions/choke_type"),
]


@pytest.mark.parametrize(("path", "value", "place"), BAD_PARTS)
def test_a_wrong_part_names_its_fault(
    client: TestClient, problem_of: Problem, path: str, value: Any, place: str
) -> None:
    response = client.post("/v1/parts", json=changed(PART, path, value))
    assert place in problem_of(response, 422, "invalid-input")
    assert client.get("/v1/parts").json()["items"] == []


def test_all_faults_of_a_request_are_told_at_once(client: TestClient, problem_of: Problem) -> None:
    body = {
        "family": "carburetor",
        "grade": "best",
        "colour": "red",
        "dimensions": {"throttle_bore": "-3 mm", "bore": 1, "choke_type": "by foot"},
    }
    places = problem_of(client.post("/v1/parts", json=body), 422, "invalid-input")
    assert sorted(places) == [
        "/colour",
        "/dimensions/bore",
        "/dimensions/choke_type",
        "/dimensions/throttle_bore",
        "/grade",
        "/maker",
    ]


def test_a_grade_that_the_family_does_not_have_is_refused(client: TestClient, problem_of: Problem) -> None:
    body = {"family": "spark_plug", "maker": "Quillon", "grade": "used", "dimensions": {}}
    assert problem_of(client.post("/v1/parts", json=body), 422, "invalid-input") == ["/grade"]


def test_a_second_sheet_of_the_same_number_is_a_conflict(client: TestClient, problem_of: Problem) -> None:
    assert client.post("/v1/parts", json=PART).status_code == 201
    again = client.post("/v1/parts", json=PART | {"number": "q19 42"})
    assert problem_of(again, 409, "conflict") == ["/number"]
    assert client.post("/v1/parts", json=PART | {"grade": "used"}).status_code == 201


def test_a_deleted_part_whose_number_is_taken_again_cannot_come_back(
    client: TestClient, problem_of: Problem
) -> None:
    client.post("/v1/parts", json=PART)
    client.delete("/v1/parts/1", headers={"If-Match": "*"})
    assert client.post("/v1/parts", json=PART).status_code == 201
    problem_of(client.post("/v1/parts/1/restore"), 409, "conflict")


@pytest.mark.parametrize(
    "price",
    [
        {"amount": 9.8, "currency": "USD"},
        {"amount": "9.805", "currency": "USD"},
        {"amount": "1E+2", "currency": "USD"},
        {"amount": "-1.00", "currency": "USD"},
        {"amount": "९.८०", "currency": "USD"},
        {"amount": "9.80", "currency": "usd"},
        {"amount": "9.80", "currency": "ZZZ"},
        {"amount": "9.80"},
        {"amount": "9.80", "currency": "USD", "cents": 1},
        {"amount": "0.00", "currency": "USD"},
        "9.80",
        9.8,
        None,
    ],
)
def test_a_price_that_is_none_is_refused(client: TestClient, problem_of: Problem, price: Any) -> None:
    client.post("/v1/parts", json=PART)
    client.post("/v1/suppliers", json=SUPPLIER)
    response = client.post("/v1/quotes", json=changed(QUOTE, "/price", price))
    places = problem_of(response, 422, "invalid-input")
    assert places
    assert all(place.startswith("/price") for place in places)
    assert client.get("/v1/quotes").json()["items"] == []


@pytest.mark.parametrize(
    ("path", "value", "place"),
    [
        ("/price/currency", "EUR", "/price/currency"),
        ("/part_id", "99", "/part_id"),
        ("/part_id", 1, "/part_id"),
        ("/supplier_id", "99", "/supplier_id"),
        ("/valid_until", "2026-10-01", "/valid_until"),
        ("/valid_until", "soon", "/valid_until"),
        ("/seen_on", "2026-02-30", "/seen_on"),
        ("/stock", -1, "/stock"),
        ("/stock", True, "/stock"),
        ("/link", "javascript:alert(1)", "/link"),
        ("/core_charge", {"amount": "5.00", "currency": "EUR"}, "/core_charge/currency"),
        ("/weight_g", -3, "/weight_g"),
        ("/price_breaks", [{"from_quantity": 0, "price": QUOTE["price"]}], "/price_breaks/0/from_quantity"),
        (
            "/price_breaks",
            [{"from_quantity": 5, "price": QUOTE["price"]}, {"from_quantity": 5, "price": QUOTE["price"]}],
            "/price_breaks",
        ),
        (
            "/price_breaks",
            [{"from_quantity": 5, "price": {"amount": "1.00", "currency": "EUR"}}],
            "/price_breaks/0/price/currency",
        ),
        ("/condition", "dusty", "/condition"),
    ],
)
def test_a_wrong_quote_names_its_fault(
    client: TestClient, problem_of: Problem, path: str, value: Any, place: str
) -> None:
    client.post("/v1/parts", json=PART)
    client.post("/v1/suppliers", json=SUPPLIER)
    response = client.post("/v1/quotes", json=changed(QUOTE, path, value))
    assert problem_of(response, 422, "invalid-input") == [place]


def test_a_quote_for_a_deleted_part_says_how_to_bring_it_back(
    client: TestClient, problem_of: Problem
) -> None:
    client.post("/v1/parts", json=PART)
    client.post("/v1/suppliers", json=SUPPLIER)
    client.delete("/v1/parts/1", headers={"If-Match": "*"})
    response = client.post("/v1/quotes", json=QUOTE)
    assert problem_of(response, 422, "invalid-input") == ["/part_id"]
    assert "/v1/parts/1/restore" in response.text


@pytest.mark.parametrize(
    ("path", "value", "place"),
    [
        ("/country", "USA", "/country"),
        ("/currency", "DOLLAR", "/currency"),
        ("/warranty_days", -1, "/warranty_days"),
        ("/prices_include_tax", "maybe", "/prices_include_tax"),
        ("/delivery", "free", "/delivery"),
        ("/delivery", [{"method": "post"}], "/delivery/0/schedule"),
        (
            "/delivery",
            [{"method": "post", "days": 4, "schedule": {"kind": "by_mood"}}],
            "/delivery/0/schedule/kind",
        ),
        (
            "/delivery",
            [{"method": "post", "days": 4, "schedule": {"kind": "flat", "amount": "4.575"}}],
            "/delivery/0/schedule/amount",
        ),
        ("/returns", {"days": 30, "restocking": "1.5"}, "/returns/restocking"),
    ],
)
def test_wrong_terms_name_their_fault(
    client: TestClient, problem_of: Problem, path: str, value: Any, place: str
) -> None:
    response = client.post("/v1/suppliers", json=changed(SUPPLIER, path, value))
    assert place in problem_of(response, 422, "invalid-input")


def test_a_second_supplier_of_a_name_is_a_conflict(client: TestClient, problem_of: Problem) -> None:
    client.post("/v1/suppliers", json=SUPPLIER)
    assert problem_of(client.post("/v1/suppliers", json=SUPPLIER), 409, "conflict") == ["/name"]


@pytest.mark.parametrize(
    ("body", "places"),
    [
        ({"base": "EUR", "quote": "EUR", "rate": "1", "on": "2026-11-01"}, ["/quote"]),
        ({"base": "EUR", "quote": "USD", "rate": "0", "on": "2026-11-01"}, ["/rate"]),
        ({"base": "EUR", "quote": "USD", "rate": 1.08, "on": "2026-11-01"}, ["/rate"]),
        ({"base": "XXX", "quote": "QQQ", "rate": "-1", "on": "x"}, ["/base", "/on", "/quote", "/rate"]),
    ],
)
def test_a_wrong_rate_names_its_faults(
    client: TestClient, problem_of: Problem, body: Body, places: list[str]
) -> None:
    assert sorted(problem_of(client.post("/v1/exchange-rates", json=body), 422, "invalid-input")) == places


def test_a_second_rate_of_a_day_is_a_conflict(client: TestClient, problem_of: Problem) -> None:
    rate = {"base": "EUR", "quote": "USD", "rate": "1.08", "on": "2026-11-01"}
    client.post("/v1/exchange-rates", json=rate)
    assert problem_of(client.post("/v1/exchange-rates", json=rate), 409, "conflict") == ["/on"]


@pytest.mark.parametrize(
    ("path", "value", "place"),
    [
        ("/worth_as_is", {"amount": "200.00", "currency": "USD"}, "/worth_as_is"),
        ("/worth_as_is", {"amount": "20.00", "currency": "EUR"}, "/worth_as_is/currency"),
        ("/hour_value", {"amount": "20.00", "currency": "EUR"}, "/hour_value/currency"),
        ("/seasons", 0, "/seasons"),
        ("/seasons", True, "/seasons"),
        ("/hours_per_season", -1, "/hours_per_season"),
    ],
)
def test_a_wrong_machine_names_its_fault(
    client: TestClient, problem_of: Problem, path: str, value: Any, place: str
) -> None:
    response = client.post("/v1/machines", json=changed(MACHINE, path, value))
    assert problem_of(response, 422, "invalid-input") == [place]


@pytest.mark.parametrize(
    ("path", "value", "place"),
    [
        ("/machine_id", "99", "/machine_id"),
        ("/destination_id", "99", "/destination_id"),
        ("/currency", "EUR", "/currency"),
        ("/needs", [{"need": "mounting_gasket", "quantity": 0}], "/needs/0/quantity"),
        ("/needs", [{"need": "mounting_gasket", "quantity": 1.5}], "/needs/0/quantity"),
        ("/on_hand", [{"need": "a need"}], "/on_hand/0/need"),
        ("/removed_part", {"family": "carb"}, "/removed_part/family"),
        (
            "/removed_part",
            {"family": "carburetor", "measured": {"throttle_bore": "x"}},
            "/removed_part/measured/throttle_bore",
        ),
        (
            "/removed_part",
            {"family": "carburetor", "condition": {"needle_and_seat": "sad"}},
            "/removed_part/condition/needle_and_seat",
        ),
        (
            "/removed_part",
            {"family": "spark_plug", "condition": {"body": "light"}},
            "/removed_part/condition",
        ),
        ("/waiting_cost_per_day", {"amount": "5.00", "currency": "EUR"}, "/waiting_cost_per_day/currency"),
        ("/assumptions", {"unlisted_misfti": 0.1}, "/assumptions/unlisted_misfti"),
        ("/assumptions", {"unlisted_misfit": 7}, "/assumptions/unlisted_misfit"),
        ("/labour_minutes", -5, "/labour_minutes"),
    ],
)
def test_a_wrong_job_names_its_fault(
    client: TestClient, problem_of: Problem, path: str, value: Any, place: str
) -> None:
    client.post("/v1/machines", json=MACHINE)
    response = client.post("/v1/jobs", json=changed(JOB, path, value))
    assert place in problem_of(response, 422, "invalid-input")
    assert client.get("/v1/jobs").json()["items"] == []


def test_an_outcome_is_about_something_that_is_there(client: TestClient, problem_of: Problem) -> None:
    nothing = {"what": "fitted", "on": "2026-11-25"}
    assert problem_of(client.post("/v1/outcomes", json=nothing), 422, "invalid-input") == ["/job_id"]
    gone = nothing | {"job_id": "9", "part_id": "8", "quote_id": "7"}
    places = problem_of(client.post("/v1/outcomes", json=gone), 422, "invalid-input")
    assert sorted(places) == ["/job_id", "/part_id", "/quote_id"]


def test_a_number_cannot_stand_in_for_itself(client: TestClient, problem_of: Problem) -> None:
    body = {"from_number": "A-1", "to_number": "A-1", "relation": "same_as"}
    assert problem_of(client.post("/v1/interchange", json=body), 422, "invalid-input") == ["/to_number"]


RAW_BODIES = [
    (b'{"name": NaN}', ["/name"]),
    (b'{"name": 1e999}', ["/name"]),
    (b'{"name": -Infinity}', ["/name"]),
    (b'{"name": "\\ud800"}', ["/name"]),
    (b'{"a/b": {"c": ["\\u0000"]}}', ["/a~1b/c/0"]),
    (b'{"\\ud800": 1}', [""]),
    (b'{"name": 90071992547409930}', ["/name"]),
    (b'{"name": ' + b"9" * 5000 + b"}", []),
    (b'{"name": 1, "name": 2}', []),
    (b"{", []),
    (b"\xff\xfe{\x00}\x00", []),
    (b'\xef\xbb\xbf{"name": "x"}', []),
    (b"[" * 5000 + b"]" * 5000, []),
    (b"[" * 40 + b"]" * 40, ["/0" * 33]),
]


@pytest.mark.parametrize(("raw", "places"), RAW_BODIES, ids=range(len(RAW_BODIES)))
def test_a_body_that_is_no_sound_json_is_refused_before_it_is_read(
    client: TestClient, problem_of: Problem, raw: bytes, places: list[str]
) -> None:
    headers = {"content-type": "application/json"}
    response = client.post("/v1/machines", content=raw, headers=headers)
    assert problem_of(response, 422, "malformed-body") == places


def test_a_body_of_another_kind_or_none_is_refused(client: TestClient, problem_of: Problem) -> None:
    form = client.post("/v1/machines", data={"name": "x"})
    problem_of(form, 415, "unsupported-type")
    problem_of(client.post("/v1/machines"), 422, "invalid-input")
    headers = {"content-type": "application/json"}
    problem_of(client.post("/v1/machines", content=b"[]", headers=headers), 422, "invalid-input")
    patched = client.patch("/v1/machines/1", content=b"[]", headers=headers | {"If-Match": "*"})
    problem_of(patched, 422, "invalid-input")


def test_a_body_that_is_too_large_is_refused_whether_or_not_it_says_so(
    client: TestClient, problem_of: Problem
) -> None:
    headers = {"content-type": "application/json"}
    large = b'{"name": "' + b"x" * 1_100_000 + b'"}'
    problem_of(client.post("/v1/machines", content=large, headers=headers), 413, "too-large")
    chunks = (large[start : start + 65_536] for start in range(0, len(large), 65_536))
    problem_of(client.post("/v1/machines", content=chunks, headers=headers), 413, "too-large")


def test_a_parameter_with_a_nul_is_refused(client: TestClient, problem_of: Problem) -> None:
    assert problem_of(client.get("/v1/parts?q=%00"), 422, "invalid-input") == ["q"]


def test_a_path_that_is_nowhere_and_a_method_that_is_not_taken_are_problems(
    client: TestClient, problem_of: Problem
) -> None:
    problem_of(client.get("/v1/nothing"), 404, "not-found")
    problem_of(client.get("/v1/families/%00"), 404, "not-found")
    wrong = client.delete("/v1/parts")
    problem_of(wrong, 405, "wrong-method")
    assert wrong.headers["allow"]


def test_a_spreadsheet_cell_gets_a_refusal_as_text(client: TestClient) -> None:
    cell = client.get("/v1/fits?family=carb&on_error=text")
    assert cell.status_code == 200
    assert cell.text.startswith("ERR invalid-input: There is no such family")
    assert "\n" not in cell.text
