"""What rows say reaches the comparison: conditions, repeated needs, stock, assumptions of one job."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from fastapi.testclient import TestClient

Body = dict[str, Any]
SHOP = {"id": "1", "currency": "USD"}


@pytest.fixture
def ask(client: TestClient, bench: Any, new_machine: Callable[..., Body]) -> Callable[..., Body]:
    """A function that compares inline content, where a part of a carburetor has one quote."""
    bench.quote(bench.part(), bench.supplier())
    bench.destination()

    def compare(**content: Any) -> Body:
        body = {"machine": new_machine(), "currency": "USD"} | content
        if "removed_part" not in content and "part_ids" not in content:
            body["part_ids"] = ["1"]
        response = client.post("/v1/comparisons", json=body)
        assert response.status_code == 200, response.text
        answer: Body = response.json()
        return answer

    return compare


def get_option(answer: Body, option_id: str) -> Body:
    found: Body = next(option for option in answer["options"] if option["id"] == option_id)
    return found


@pytest.mark.parametrize(("seat", "row", "chance"), [("yes", "replaceable", 0.08), ("no", "pressed", 0.05)])
def test_a_seat_that_can_be_changed_is_worth_saving(
    ask: Callable[..., Body], seat: str, row: str, chance: float
) -> None:
    removed = {
        "family": "carburetor",
        "measured": {"throttle_bore": "19.0 mm", "bolt_spacing": "42.0 mm", "seat_replaceable": seat},
        "condition": {"needle_and_seat": "corroded"},
    }
    clean = get_option(ask(removed_part=removed), "clean")
    assert clean["notes"][0] == f"The finding that decides: seat corroded {row}."
    assert clean["cure_chance"] == chance


def test_lines_for_the_same_need_add_up(ask: Callable[..., Body]) -> None:
    line = {"need": "fuel_hose", "quantity": 2}
    needs = get_option(ask(needs=[line, line], on_hand=[{"need": "fuel_hose"}] * 2), "replace:1")
    assert needs["missing_needs"] == [{"need": "fuel_hose", "amount": "8.00", "quote_id": None}]


def test_the_condition_of_a_quote_decides_how_its_goods_fail(ask: Callable[..., Body], bench: Any) -> None:
    maker_part = bench.part("708-21B", grade="oem")
    bench.quote(maker_part, SHOP, "40.00")
    bench.quote(maker_part, SHOP, "40.00", condition="used")
    answer = ask(part_ids=[maker_part["id"]])
    new, used = (get_option(answer, f"replace:{quote}") for quote in (2, 3))
    assert new["reliability_penalty"] == "0.00"
    assert Decimal(used["reliability_penalty"]) > 0


@pytest.mark.parametrize("where", ["request", "job"])
def test_an_assumption_of_one_job_decides_what_fits(
    client: TestClient, ask: Callable[..., Body], bench: Any, where: str
) -> None:
    measured = {"throttle_bore": "19.0 mm", "bolt_spacing": "42.0 mm"}
    removed = {"family": "carburetor", "measured": measured}
    assumed = {"unlisted_misfit": 0.4}
    usual = get_option(ask(removed_part=removed), "replace:1")["fit_confidence"]
    if where == "request":
        answer = ask(removed_part=removed, assumptions=assumed)
    else:
        job = bench.job(bench.machine(), removed_part=removed, assumptions=assumed)
        answer = client.get(f"/v1/jobs/{job['id']}/comparison").json()
    assert get_option(answer, "replace:1")["fit_confidence"] < usual - 0.2
    shown = next(used for used in answer["assumptions"] if used["name"] == "unlisted_misfit")
    assert (shown["value"], shown["origin"]) == (0.4, "job")


def test_an_assumption_of_one_job_decides_how_sure_a_part_named_by_the_user_is(
    ask: Callable[..., Body],
) -> None:
    answer = ask(assumptions={"wrong_part_share.engine_designation": 0.3})
    assert get_option(answer, "replace:1")["fit_confidence"] == 0.7


def test_your_own_share_of_wrong_numbers_decides_how_surely_a_kit_serves(
    client: TestClient, ask: Callable[..., Body], bench: Any
) -> None:
    kit = bench.part(
        "K-19", family="rebuild_kit", dimensions={}, includes=["needle_and_seat"], serves=["708-21B"]
    )
    bench.quote(kit, SHOP, "7.40")
    name = "wrong_part_share.legible_number"
    removed = {"family": "carburetor", "measured": {"throttle_bore": "19.0 mm"}, "known_number": "708-21B"}
    usual = get_option(ask(removed_part=removed), "rebuild:2")["cure_chance"]
    assert usual == pytest.approx(0.55 * 0.95)
    own = {"values": {name: 0.5}}
    assert client.put("/v1/assumptions", json=own, headers={"If-Match": "*"}).status_code == 200
    answer = ask(removed_part=removed)
    assert get_option(answer, "rebuild:2")["cure_chance"] == pytest.approx(0.55 * 0.5)
    shown = next(used for used in answer["assumptions"] if used["name"] == name)
    assert (shown["value"], shown["origin"]) == (0.5, "yours")


def test_what_completes_a_part_must_be_in_stock(ask: Callable[..., Body], bench: Any) -> None:
    bench.quote(bench.part("Q19-60", includes=[]), SHOP, "6.00")
    gaskets = bench.part("G-2", family="rebuild_kit", dimensions={}, includes=["mounting_gasket"])
    bench.quote(gaskets, SHOP, "1.10", stock=0)
    answer = ask(part_ids=["2"])
    needs = {need["need"]: need["quote_id"] for need in get_option(answer, "replace:2")["missing_needs"]}
    assert needs == {"mounting_gasket": None, "air_filter_gasket": None}
    assert "Quote 3 of Millrace Spares has nothing in stock: left out." in answer["warnings"]


def test_a_kit_that_serves_and_is_not_in_stock_is_named(ask: Callable[..., Body], bench: Any) -> None:
    for number, serves in (("K-19", ["Q19-42"]), ("K-99", ["999-99X"])):
        kit = bench.part(number, family="rebuild_kit", dimensions={}, includes=["needle"], serves=serves)
        bench.quote(kit, SHOP, "7.40", stock=0)
    assert ask()["warnings"] == ["Quote 2 of Millrace Spares has nothing in stock: left out."]


def test_a_gasket_that_serves_another_part_more_likely_than_this_one_completes_nothing(
    ask: Callable[..., Body], bench: Any
) -> None:
    bench.quote(bench.part("Q19-60", includes=[]), SHOP, "6.00")
    for number, serves, price in (("G-2", ["Q19-60"], "1.10"), ("G-9", ["999-99X"], "0.10")):
        includes = ["mounting_gasket", "air_filter_gasket"]
        bench.quote(
            bench.part(number, family="rebuild_kit", dimensions={}, includes=includes, serves=serves),
            SHOP,
            price,
        )

    def bought(share: float) -> set[str | None]:
        answer = ask(part_ids=["2"], assumptions={"wrong_part_share.engine_designation": share})
        return {need["quote_id"] for need in get_option(answer, "replace:2")["missing_needs"]}

    assert bought(0.1) == {"3"}
    assert bought(0.7) == {None}


def test_as_many_parts_are_bought_as_the_job_needs(ask: Callable[..., Body], bench: Any) -> None:
    plug = bench.part("SP-1", family="spark_plug", dimensions={"reach": "19 mm"}, includes=[])
    breaks = [{"from_quantity": 2, "price": {"amount": "3.10", "currency": "USD"}}]
    bench.quote(plug, SHOP, "3.40", price_breaks=breaks, stock=2)
    option = get_option(ask(part_ids=["2"], needs=[{"need": "spark_plug", "quantity": 2}]), "replace:2")
    assert option["landed_lines"][0] == {"line": "price", "amount": "6.20"}
    answer = ask(part_ids=["2"], needs=[{"need": "spark_plug", "quantity": 3}])
    assert [option["id"] for option in answer["options"]] == ["stop"]
    assert answer["warnings"] == ["Quote 2 for Quillon SP-1 is left out: 2 in stock, and 3 are needed."]
