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
