"""Comparisons over HTTP: from rows to a ranked answer, and what stands in the way of one."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from fastapi.testclient import TestClient

Problem = Callable[..., list[str]]
Body = dict[str, Any]
EUROPE = {"country": "IE", "currency": "EUR"}


@pytest.fixture
def job(bench: Any) -> Body:
    """A job on a tiller, with two parts that fit it and a quote for each."""
    supplier = bench.supplier()
    bench.quote(bench.part(), supplier, "9.80")
    bench.quote(bench.part("708-21B", maker="Harrowmere", grade="oem"), supplier, "64.90")
    bench.destination()
    made: Body = bench.job(bench.machine())
    return made


def compare(client: TestClient, **body: Any) -> Body:
    response = client.post("/v1/comparisons", json=body)
    assert response.status_code == 200, response.text
    answer: Body = response.json()
    return answer


def test_lines_add_up_to_the_cent_and_options_stand_in_the_order_of_their_cost(
    client: TestClient, job: Body
) -> None:
    answer = compare(client, job_id=job["id"])
    assert [option["rank"] for option in answer["options"]] == [1, 2, 3, 4]
    costs = [Decimal(option["expected_cost"]) for option in answer["options"]]
    assert costs == sorted(costs)
    for option in answer["options"]:
        lines = sum(Decimal(line["amount"]) for line in option["lines"])
        assert lines == Decimal(option["expected_cost"])
        landed = sum(Decimal(line["amount"]) for line in option["landed_lines"])
        assert landed == Decimal(option["landed_cost"])
    kinds = {option["id"]: option["kind"] for option in answer["options"]}
    assert kinds == {"clean": "clean", "stop": "stop", "replace:1": "replace", "replace:2": "replace"}
    assert answer["plan"]["steps"][0] == answer["options"][0]["id"]


def test_an_oem_part_has_no_penalty_and_the_cheap_one_wins_on_a_light_tiller(
    client: TestClient, job: Body
) -> None:
    options = {option["id"]: option for option in compare(client, job_id=job["id"])["options"]}
    assert options["replace:2"]["reliability_penalty"] == "0.00"
    assert Decimal(options["replace:1"]["reliability_penalty"]) > 0
    assert options["replace:1"]["rank"] < options["replace:2"]["rank"]


def test_inline_content_compares_as_the_stored_job_does(
    client: TestClient, job: Body, new_machine: Callable[..., Body]
) -> None:
    inline = compare(client, machine=new_machine(), removed_part=job["removed_part"], currency="USD")
    assert inline == compare(client, job_id=job["id"])
    assert inline == client.get(f"/v1/jobs/{job['id']}/comparison").json()


def test_the_request_wins_over_the_job_and_the_job_over_the_defaults(client: TestClient, job: Body) -> None:
    name = "dead_on_arrival.carburetor.aftermarket_unbranded"

    def used(**body: Any) -> tuple[float, str]:
        found = compare(client, **body)["assumptions"]
        entry = next(entry for entry in found if entry["name"] == name)
        return entry["value"], entry["origin"]

    assert used(job_id=job["id"]) == (0.09, "default")
    client.put("/v1/assumptions", json={"values": {name: 0.2}}, headers={"If-Match": "*"})
    assert used(job_id=job["id"]) == (0.2, "yours")
    client.patch(f"/v1/jobs/{job['id']}", json={"assumptions": {name: 0.3}}, headers={"If-Match": "*"})
    assert used(job_id=job["id"]) == (0.3, "job")
    assert used(job_id=job["id"], assumptions={name: 0.4}) == (0.4, "job")


def test_the_assumptions_of_the_match_are_listed_too(client: TestClient, job: Body) -> None:
    names = [entry["name"] for entry in compare(client, job_id=job["id"])["assumptions"]]
    assert {"not_on_file", "unlisted_misfit"} <= set(names)
    assert names == sorted(set(names))


def test_parts_that_the_user_vouches_for_need_no_measurement(
    client: TestClient, job: Body, new_machine: Callable[..., Body]
) -> None:
    answer = compare(client, machine=new_machine(), part_ids=["1"], currency="USD")
    replaced = [option for option in answer["options"] if option["kind"] == "replace"]
    assert [option["id"] for option in replaced] == ["replace:1"]
    assert replaced[0]["fit_confidence"] == pytest.approx(0.97)


def test_quotes_that_are_named_are_the_only_ones_compared(client: TestClient, job: Body) -> None:
    answer = compare(client, job_id=job["id"], quote_ids=["2"])
    assert [option["id"] for option in answer["options"] if option["kind"] == "replace"] == ["replace:2"]


def test_a_named_quote_must_be_there_valid_and_of_a_part_on_file(
    client: TestClient, bench: Any, job: Body, problem_of: Problem
) -> None:
    part = bench.part("Q19-50")
    bench.quote(part, {"id": "1", "currency": "USD"}, valid_until="2026-11-10")
    bench.quote(bench.part("Q19-51"), {"id": "1", "currency": "USD"})
    client.delete("/v1/parts/4", headers={"If-Match": "*"})
    body = {"job_id": job["id"], "quote_ids": ["3", "4", "9"], "as_of": "2026-11-25"}
    response = client.post("/v1/comparisons", json=body)
    assert problem_of(response, 422, "invalid-input") == ["/quote_ids/0", "/quote_ids/1", "/quote_ids/2"]
    details = [entry["detail"] for entry in response.json()["errors"]]
    assert "expired on 2026-11-10" in details[0]
    assert "/v1/parts/4/restore" in details[1]


def test_an_expired_quote_is_left_out_and_named(client: TestClient, bench: Any, job: Body) -> None:
    bench.quote({"id": "1"}, {"id": "1", "currency": "USD"}, "1.00", valid_until="2026-11-10")
    answer = compare(client, job_id=job["id"], as_of="2026-11-25")
    assert "replace:3" not in [option["id"] for option in answer["options"]]
    assert any("2026-11-10" in warning for warning in answer["warnings"])


def test_quotes_of_the_future_and_of_nothing_in_stock_are_left_out_and_named(
    client: TestClient, bench: Any, job: Body
) -> None:
    supplier = {"id": "1", "currency": "USD"}
    bench.quote({"id": "1"}, supplier, "1.00", seen_on="2026-11-30")
    bench.quote({"id": "1"}, supplier, "1.00", stock=0)
    answer = compare(client, job_id=job["id"], as_of="2026-11-25")
    ids = [option["id"] for option in answer["options"]]
    assert not {"replace:3", "replace:4"} & set(ids)
    assert any("2026-11-30" in warning for warning in answer["warnings"])
    assert any("in stock" in warning for warning in answer["warnings"])


def test_every_missing_exchange_rate_is_named(
    client: TestClient, bench: Any, job: Body, problem_of: Problem
) -> None:
    abroad = bench.supplier("Kilbeg Parts", **EUROPE)
    bench.quote({"id": "1"}, abroad, "8.40")
    response = client.post("/v1/comparisons", json={"job_id": job["id"]})
    problem_of(response, 422, "not-computable")
    assert "EUR" in response.text
    rate = {"base": "EUR", "quote": "USD", "rate": "1.08", "on": "2026-11-01"}
    assert client.post("/v1/exchange-rates", json=rate).status_code == 201
    options = {option["id"]: option for option in compare(client, job_id=job["id"])["options"]}
    assert Decimal(options["replace:3"]["landed_cost"]) > Decimal("9.07")


def test_a_gasket_that_is_not_in_the_box_is_bought_where_it_costs_least(
    client: TestClient, bench: Any, job: Body
) -> None:
    bare = bench.part("Q19-60", includes=[])
    gaskets = bench.part(
        "G-2", family="rebuild_kit", dimensions={}, includes=["mounting_gasket", "air_filter_gasket"]
    )
    supplier = {"id": "1", "currency": "USD"}
    bench.quote(bare, supplier, "6.00")
    bench.quote(gaskets, supplier, "3.10")
    options = {option["id"]: option for option in compare(client, job_id=job["id"])["options"]}
    needs = options["replace:3"]["missing_needs"]
    assert sum(Decimal(need["amount"]) for need in needs) == Decimal("3.10")
    assert {need["quote_id"] for need in needs} == {"4"}
    assert options["replace:1"]["missing_needs"] == []


def test_a_kit_is_a_way_out_where_it_serves_the_removed_part(
    client: TestClient, bench: Any, job: Body
) -> None:
    supplier = {"id": "1", "currency": "USD"}
    for number, serves in (("K-19", ["708-21B"]), ("K-99", ["999-99X"])):
        kit = bench.part(
            number, family="rebuild_kit", dimensions={}, includes=["needle_and_seat"], serves=serves
        )
        bench.quote(kit, supplier, "7.40")
    options = {option["id"]: option for option in compare(client, job_id=job["id"])["options"]}
    assert "rebuild:3" in options
    assert "rebuild:4" not in options
    known = {"family": "carburetor", "measured": job["removed_part"]["measured"], "known_number": "999-99X"}
    client.patch(f"/v1/jobs/{job['id']}", json={"removed_part": known}, headers={"If-Match": "*"})
    options = {option["id"]: option for option in compare(client, job_id=job["id"])["options"]}
    assert "rebuild:4" in options


def test_a_check_that_clears_the_part_ends_the_comparison(client: TestClient, bench: Any, job: Body) -> None:
    part = bench.part("388-60", family="ignition_coil", grade="oem", dimensions={"lead_length": "320 mm"})
    bench.quote(part, {"id": "1", "currency": "USD"}, "58.00")
    body = {
        "checks": [{"check": "stop_lead_off_at_coil", "result": "spark"}],
        "removed_part": {"family": "ignition_coil", "measured": {"lead_length": "320 mm"}},
    }
    good = bench.job({"id": "1"}, **body)
    answer = compare(client, job_id=good["id"])
    assert answer["options"] == []
    assert answer["plan"] is None
    assert answer["cleared"]["check"] == "stop_lead_off_at_coil"
    assert answer["answer"].startswith("Buy no ignition coil")
    client.patch(f"/v1/jobs/{good['id']}", json={"checks": []}, headers={"If-Match": "*"})
    assert "replace:3" in [option["id"] for option in compare(client, job_id=good["id"])["options"]]


def test_a_comparison_comes_as_a_table_and_as_a_single_cell(client: TestClient, job: Body) -> None:
    rows = client.get(f"/v1/jobs/{job['id']}/comparison?format=csv").text.split("\r\n")
    assert rows[0].startswith(
        "rank,id,kind,maker,number,grade,supplier,fit_confidence,cure_chance,undominated,"
    )
    assert any(",replace:1,replace,Quillon,Q19-42," in row for row in rows[1:])
    cell = client.get(f"/v1/jobs/{job['id']}/comparison?format=value&field=/options/0/expected_cost")
    assert Decimal(cell.text) > 0


def test_the_same_seed_gives_the_same_answer(client: TestClient, job: Body) -> None:
    assert compare(client, job_id=job["id"], seed=7) == compare(client, job_id=job["id"], seed=7)


@pytest.mark.parametrize(
    ("body", "places"),
    [
        ({}, ["/currency", "/machine", "/removed_part"]),
        ({"job_id": "1", "symptom": "leaks", "currency": "USD"}, ["/currency", "/symptom"]),
        ({"job_id": "1", "part_ids": ["77"], "quote_ids": ["88"]}, ["/part_ids/0", "/quote_ids/0"]),
        ({"job_id": "1", "assumptions": {"nothing": 1}}, ["/assumptions/nothing"]),
        ({"job_id": "1", "as_of": "today"}, ["/as_of"]),
        ({"job_id": "1", "seed": -1}, ["/seed"]),
    ],
)
def test_a_question_that_is_none_names_its_faults(
    client: TestClient, job: Body, problem_of: Problem, body: Body, places: list[str]
) -> None:
    response = client.post("/v1/comparisons", json=body)
    assert sorted(problem_of(response, 422, "invalid-input")) == places


def test_the_currency_of_the_machine_is_the_currency_of_the_question(
    client: TestClient, job: Body, new_machine: Callable[..., Body], problem_of: Problem
) -> None:
    body = {"machine": new_machine(), "currency": "EUR", "part_ids": ["1"]}
    assert problem_of(client.post("/v1/comparisons", json=body), 422, "invalid-input") == ["/currency"]


def test_parts_of_two_families_are_not_compared(
    client: TestClient, bench: Any, job: Body, new_machine: Callable[..., Body], problem_of: Problem
) -> None:
    coil = bench.part("388-60", family="ignition_coil", grade="oem", dimensions={})
    body = {"machine": new_machine(), "currency": "USD", "part_ids": ["1", coil["id"]]}
    assert problem_of(client.post("/v1/comparisons", json=body), 422, "invalid-input") == ["/part_ids"]


def test_what_a_stored_job_lacks_is_said(
    client: TestClient, bench: Any, job: Body, problem_of: Problem
) -> None:
    problem_of(client.get("/v1/jobs/9/comparison"), 404, "not-found")
    bare = bench.job({"id": "1"}, removed_part=None)
    problem_of(client.get(f"/v1/jobs/{bare['id']}/comparison"), 422, "not-computable")
    euros = {
        "worth_running": {"amount": "190.00", "currency": "EUR"},
        "worth_as_is": {"amount": "0", "currency": "EUR"},
    }
    client.patch("/v1/machines/1", json=euros, headers={"If-Match": "*"})
    response = client.get(f"/v1/jobs/{job['id']}/comparison")
    problem_of(response, 422, "not-computable")
    assert "EUR" in response.json()["errors"][0]["detail"]
    client.delete("/v1/machines/1", headers={"If-Match": "*"})
    problem_of(client.get(f"/v1/jobs/{job['id']}/comparison"), 404, "not-found")


def test_goods_must_have_somewhere_to_go(
    client: TestClient, bench: Any, job: Body, problem_of: Problem
) -> None:
    abroad = bench.destination(name="the branch abroad", **EUROPE)
    several = client.get(f"/v1/jobs/{job['id']}/comparison")
    problem_of(several, 422, "not-computable")
    assert "2 destinations" in several.text
    named = {"destination_id": "1"}
    client.patch(f"/v1/jobs/{job['id']}", json=named, headers={"If-Match": "*"})
    assert client.get(f"/v1/jobs/{job['id']}/comparison").status_code == 200
    client.delete("/v1/destinations/1", headers={"If-Match": "*"})
    problem_of(client.get(f"/v1/jobs/{job['id']}/comparison"), 422, "not-computable")
    client.patch(f"/v1/jobs/{job['id']}", json={"destination_id": None}, headers={"If-Match": "*"})
    client.delete(f"/v1/destinations/{abroad['id']}", headers={"If-Match": "*"})
    none = client.get(f"/v1/jobs/{job['id']}/comparison")
    assert "no destinations" in none.text


def test_needs_are_as_stated_else_as_the_removed_part_had_else_as_usual(
    client: TestClient, bench: Any, job: Body
) -> None:
    supplier = {"id": "1", "currency": "USD"}
    bench.quote(bench.part("Q19-60", includes=[]), supplier, "6.00")

    def needed(change: Body) -> set[str]:
        client.patch(f"/v1/jobs/{job['id']}", json=change, headers={"If-Match": "*"})
        options = {option["id"]: option for option in compare(client, job_id=job["id"])["options"]}
        return {need["need"] for need in options["replace:3"]["missing_needs"]}

    assert needed({}) == {"mounting_gasket", "air_filter_gasket"}
    measured = {"removed_part": {"measured": {"gasket_set": ["mounting_gasket"]}}}
    assert needed(measured) == {"mounting_gasket"}
    assert needed({"needs": [{"need": "fuel_hose", "quantity": 2}]}) == {"fuel_hose"}
    assert needed({"on_hand": [{"need": "fuel_hose", "quantity": 2}]}) == set()
