"""The query by measurements over HTTP: one answer in every form, caught up with every change."""

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

Problem = Callable[..., list[str]]
MEASURED = {"throttle_bore": "19.1 mm", "bolt_spacing": "1 21/32 in ± 0.2 mm", "choke_type": "manual_lever"}


def ask(client: TestClient, **changed: Any) -> dict[str, Any]:
    response = client.post("/v1/fits", json={"family": "carburetor", "measured": MEASURED} | changed)
    assert response.status_code == 200, response.text
    body: dict[str, Any] = response.json()
    return body


def test_an_empty_catalogue_says_what_to_do_first(client: TestClient, problem_of: Problem) -> None:
    response = client.post("/v1/fits", json={"family": "carburetor", "measured": MEASURED})
    problem_of(response, 422, "not-computable")


def test_a_query_without_a_measurement_is_refused(
    client: TestClient, bench: Any, problem_of: Problem
) -> None:
    bench.part()
    problem_of(client.post("/v1/fits", json={"family": "carburetor"}), 422, "not-computable")
    assert problem_of(client.get("/v1/fits?family=carburetor"), 422, "not-computable") == [""]


def test_all_faults_of_an_address_are_named_by_their_parameter(
    client: TestClient, bench: Any, problem_of: Problem
) -> None:
    bench.part()
    query = "family=carburetor&throttle_bore=19 kg&bore=3&limit=0&instrument=nose&choke_type=a&choke_type=b"
    response = client.get(f"/v1/fits?{query}")
    places = problem_of(response, 422, "invalid-input")
    assert sorted(set(places)) == ["bore", "choke_type", "instrument", "limit", "throttle_bore"]
    assert problem_of(client.get("/v1/fits?throttle_bore=19 mm"), 422, "invalid-input")[0] == "family"
    assert problem_of(client.get("/v1/fits?family=carb"), 422, "invalid-input") == ["family"]


def test_every_value_is_echoed_as_it_was_read(client: TestClient, bench: Any) -> None:
    bench.part()
    read = ask(client)["read"]
    assert read["bolt_spacing"] == {
        "value": 42.06875,
        "unit": "mm",
        "plus_minus": 0.2,
        "as_entered": "1 21/32 in ± 0.2 mm",
    }
    assert read["choke_type"] == "manual_lever"


def test_an_address_asks_the_same_as_a_body(client: TestClient, bench: Any) -> None:
    bench.part()
    bench.part("Q19-43", dimensions={"throttle_bore": "22.0 mm"})
    by_get = client.get(
        "/v1/fits",
        params=MEASURED | {"family": "carburetor", "marking": "Q1?-42", "limit": "5"},
    )
    assert by_get.json() == ask(client, marking="Q1?-42", limit=5)


def test_a_set_in_an_address_is_separated_by_commas(client: TestClient, bench: Any) -> None:
    bench.part()
    params = {
        "family": "carburetor",
        "throttle_bore": "19.0",
        "gasket_set": "mounting_gasket, air_filter_gasket",
    }
    read = client.get("/v1/fits", params=params).json()["read"]
    assert read["gasket_set"] == ["air_filter_gasket", "mounting_gasket"]


def test_the_explanation_adds_up_what_agrees_differs_and_is_unknown(client: TestClient, bench: Any) -> None:
    for number in range(5):
        bench.part(f"Q{number}")
    far = bench.part(
        "Q19-43", dimensions={"throttle_bore": "24.0 mm", "bolt_spacing": "42.0 mm", "bowl_depth": 47}
    )
    fits = ask(client, measured={"throttle_bore": "19.0 mm", "bolt_spacing": "42.0 mm"})["fits"]
    fit = next(fit for fit in fits if fit["part"]["id"] == far["id"])
    status = {entry["key"]: entry["status"] for entry in fit["dimensions"]}
    assert status["throttle_bore"] == "differs"
    assert status["bolt_spacing"] == "agrees"
    assert status["bowl_depth"] == "not_measured"
    assert status["body_length"] in {"not_listed", "not_measured"}
    bore = next(entry for entry in fit["dimensions"] if entry["key"] == "throttle_bore")
    assert bore["difference"] == pytest.approx(5.0)
    assert bore["allowance"] == [-1.0, 1.0]
    assert bore["consequence"]
    assert bore["listed"]["as_entered"] == "24.0 mm"
    # One size that differs where little is listed may be a slip of the pen: unlikely to fit, not ruled out.
    assert fit["fit_confidence"] < 0.3
    assert fit["verdict"] in {"does_not_fit", "uncertain"}


def test_weights_add_up_and_it_is_said_whether_measuring_more_pays(client: TestClient, bench: Any) -> None:
    for number in range(3):
        bench.part(f"Q{number}")
        bench.part(f"V{number}", dimensions={"throttle_bore": "24.0 mm", "bolt_spacing": "42.0 mm"})
    open_still = ask(client, measured={"bolt_spacing": "42.0 mm"})
    assert open_still["enough_measured"] is False
    assert {"key", "gain_bits", "how", "raises_best"} == set(open_still["measure_next"][0])
    assert max(step["raises_best"] for step in open_still["measure_next"]) > 0.05
    settled = ask(client, measured={"throttle_bore": "19.0 mm", "bolt_spacing": "42.0 mm"})
    for fit in settled["fits"]:
        bits = sum(item["weight"] for item in [*fit["dimensions"], *fit["evidence"]])
        chance = min(max(fit["fit_confidence"], 1e-9), 1.0 - 1e-9)
        if chance > 0.001:  # six decimals are shown
            assert bits == pytest.approx(math.log2(chance / (1.0 - chance)), abs=0.01)


def test_a_safe_mismatch_never_shows_as_fitting(client: TestClient, bench: Any) -> None:
    plug = {"thread": "m14x1.25", "reach": "19 mm", "seat": "gasket"}
    right = bench.part("V-6", family="spark_plug", grade="oem", includes=[], dimensions=plug)
    long = bench.part(
        "V-6L", family="spark_plug", grade="oem", includes=[], dimensions=plug | {"reach": "26.5 mm"}
    )
    body = {"family": "spark_plug", "measured": plug | {"reach": "19.0 mm"}}
    fits = {fit["part"]["id"]: fit for fit in client.post("/v1/fits", json=body).json()["fits"]}
    assert fits[long["id"]]["verdict"] == "does_not_fit"
    assert fits[long["id"]]["fit_confidence"] < fits[right["id"]]["fit_confidence"]


def test_the_index_catches_up_with_every_change(either_client: TestClient) -> None:
    part = {
        "family": "carburetor",
        "maker": "Quillon",
        "number": "Q19-42",
        "grade": "oem",
        "dimensions": MEASURED,
    }
    made = [either_client.post("/v1/parts", json=part | {"number": f"Q-{n}"}).json() for n in range(3)]
    first = ask(either_client)
    assert first["catalogue"]["parts"] == 3
    either_client.delete(f"/v1/parts/{made[0]['id']}", headers={"If-Match": "*"})
    far = {"throttle_bore": "30.0 mm"}
    either_client.patch(f"/v1/parts/{made[1]['id']}", json={"dimensions": far}, headers={"If-Match": "*"})
    second = ask(either_client)
    assert second["catalogue"]["parts"] == 2
    assert second["catalogue"]["revision"] > first["catalogue"]["revision"]
    assert second["fits"][0]["part"]["id"] == made[2]["id"]
    either_client.post(f"/v1/parts/{made[0]['id']}/restore")
    assert ask(either_client)["catalogue"]["parts"] == 3


def test_a_marking_and_a_known_number_are_evidence(client: TestClient, bench: Any) -> None:
    same = {"throttle_bore": "19.0 mm"}
    meant = bench.part("708-21B", dimensions=same)
    other = bench.part("911-66K", dimensions=same)
    for number in range(8):
        bench.part(f"{number}44-1M", dimensions=same)
    for query in ({"marking": "7?8-21B"}, {"known_number": "70821b"}):
        fits = ask(client, measured=same, **query)["fits"]
        assert fits[0]["part"]["id"] == meant["id"]
        assert other["id"] in [fit["part"]["id"] for fit in fits[1:]]
        evidence = {item["kind"]: item["weight"] for item in fits[0]["evidence"]}
        assert list(evidence) == ["before_measuring", *query, "not_recorded"]
        assert evidence[next(iter(query))] > 0.0
    alone = ask(client, measured={}, marking="7?8-21B")
    assert alone["fits"][0]["part"]["id"] == meant["id"]


def test_two_makers_of_one_known_number_leave_the_maker_open(client: TestClient, bench: Any) -> None:
    for maker in ("Quillon", "Vennor"):
        bench.part("55-3", maker=maker)
    assert len(ask(client, known_number="55-3")["fits"]) == 2


def test_candidates_come_as_a_table_and_as_a_single_cell(client: TestClient, bench: Any) -> None:
    part = bench.part()
    rows = client.get("/v1/fits?family=carburetor&throttle_bore=19.0&format=csv").text.split("\r\n")
    assert rows[0].startswith("part_id,maker,number,grade,fit_confidence,verdict,with_work_probability")
    assert rows[1].startswith(f"{part['id']},Quillon,Q19-42,aftermarket_unbranded,")
    cell = client.get(
        "/v1/fits?family=carburetor&throttle_bore=19.0&format=value&field=/fits/0/fit_confidence&decimal=comma"
    )
    assert 0 < float(cell.text.replace(",", ".")) < 1
    assert "," in cell.text


def test_parts_of_an_older_family_file_are_packed_anew(
    sqlite_url: str, open_client: Callable[..., TestClient], tmp_path: Path
) -> None:
    own = tmp_path / "families"
    own.mkdir()
    file = own / "starter.toml"
    dimension = """
[[dimension]]
key = "{key}"
label = "{key}"
kind = "length"
role = "mount"
how = "calipers"
instrument = "caliper_outside"
allowance = [-0.5, 0.5]
"""
    head = """
key = "recoil_starter"
label = "Recoil starter"
view = "from the rope side"
grades = ["oem"]
[life]
clock = "hours"
shape = 1.5
"""
    file.write_text(head + dimension.format(key="hole_circle") + dimension.format(key="pulley"))
    first = open_client(sqlite_url, families_dir=own)
    body = {
        "family": "recoil_starter",
        "maker": "Ostler",
        "number": "R-1",
        "grade": "oem",
        "dimensions": {"hole_circle": "120 mm ± 0.2 mm", "pulley": "70.0 mm"},
    }
    assert first.post("/v1/parts", json=body).status_code == 201
    file.write_text(head + dimension.format(key="hole_circle") + dimension.format(key="depth"))
    second = open_client(sqlite_url, families_dir=own)
    question = {"family": "recoil_starter", "measured": {"hole_circle": "120.1 mm"}}
    fits = second.post("/v1/fits", json=question).json()["fits"]
    assert {entry["key"]: entry["status"] for entry in fits[0]["dimensions"]} == {
        "hole_circle": "agrees",
        "depth": "not_measured",
    }
    assert second.get("/v1/parts/1").json()["dimensions"]["pulley"]["as_entered"] == "70.0 mm"


def test_a_users_own_family_works_everywhere(
    sqlite_url: str, open_client: Callable[..., TestClient], tmp_path: Path
) -> None:
    (tmp_path / "pump.toml").write_text("""
key = "fuel_pump"
label = "Fuel pump"
view = "from the outlet"
grades = ["oem", "aftermarket_unbranded"]
[life]
clock = "calendar"
shape = 1.0
[[dimension]]
key = "outlet_diameter"
label = "Outlet"
kind = "length"
role = "connect"
how = "outside jaws over the barb"
instrument = "caliper_outside"
allowance = [-0.3, 0.8]
cure = { needs = ["fuel_hose"], minutes = 10, cost = 3 }
""")
    client = open_client(sqlite_url, families_dir=tmp_path)
    assert "fuel_pump" in [family["key"] for family in client.get("/v1/families").json()["items"]]
    body = {"family": "fuel_pump", "maker": "Ostler", "number": "F-1", "grade": "oem"}
    refused = client.post("/v1/parts", json=body | {"dimensions": {"outlet_diameter": "1/4"}})
    assert refused.status_code == 422
    made = client.post("/v1/parts", json=body | {"dimensions": {"outlet_diameter": "6.4 mm"}})
    assert made.status_code == 201
    assert client.get("/v1/fits?family=fuel_pump&outlet_diameter=6.35 mm").json()["fits"]
    assert "outlet_diameter" in client.get("/v1/parts?family=fuel_pump&format=csv").text
    assert client.get("/v1/families/fuel_pump?format=csv").text.count("\r\n") == 2
    own = {"values": {"dead_on_arrival.fuel_pump.oem": 0.03}}
    assert client.put("/v1/assumptions", json=own, headers={"If-Match": "*"}).status_code == 200


def test_numbers_like_a_worn_one_name_their_parts(
    client: TestClient, bench: Any, problem_of: Problem
) -> None:
    part = bench.part("708-21B", other_numbers=["H-70821"])
    found = client.get("/v1/numbers?like=7O8-2?B").json()["items"]
    assert found[0]["number"] == "708-21B"
    assert found[0]["part_id"] == part["id"]
    assert 0.7 < found[0]["similarity"] <= 1
    assert client.get("/v1/numbers?like=708-21B").json()["items"][0]["similarity"] == 1
    assert client.get("/v1/numbers?like=708&format=csv").text.startswith("number,similarity,family,part_id")
    assert client.get("/v1/numbers?like=708&family=spark_plug").json()["items"] == []
    assert problem_of(client.get("/v1/numbers?like=708&family=carb"), 422, "invalid-input") == ["family"]
    assert problem_of(client.get("/v1/numbers"), 422, "invalid-input") == ["like"]


def test_families_say_how_to_measure_and_what_a_mismatch_does(
    client: TestClient, problem_of: Problem
) -> None:
    family = client.get("/v1/families/carburetor").json()
    bolts = next(entry for entry in family["dimensions"] if entry["key"] == "bolt_spacing")
    assert bolts["allowance"] == {
        "rule": "bolt_play",
        "low": None,
        "high": None,
        "cycle": None,
        "accepts": None,
        "hole": "bolt_hole_diameter",
        "stud": "stud_diameter",
    } or bolts["allowance"] == {"rule": "bolt_play", "hole": "bolt_hole_diameter", "stud": "stud_diameter"}
    rules = {
        entry["allowance"]["rule"]
        for one in client.get("/v1/families").json()["items"]
        for entry in one["dimensions"]
        if entry["allowance"]
    }
    assert {"interval", "percent", "equal", "accepts", "bolt_play"} <= rules
    problem_of(client.get("/v1/families/carb"), 404, "not-found")
