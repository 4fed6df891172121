"""The comparison of the ways out."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Annotated, Any

from fastapi import APIRouter, Body, Path, Request, Response

from api.deps import FitsOf, FormOf, Reading
from api.rendering import render
from api.routes.resources import ANSWER_PARAMETERS, answers, check_parameters, refusals
from api.schemas.comparisons import Comparison, ComparisonIn
from api.services import comparisons
from api.tabular import Table

router = APIRouter(tags=["comparisons"])

USD = "USD"
QUESTION = {
    "machine": {
        "name": "TL-07 tiller",
        "worth_running": {"amount": "190.00", "currency": USD},
        "worth_as_is": {"amount": "35.00", "currency": USD},
        "hours_per_season": 17,
        "seasons": 4,
        "history_known": False,
    },
    "removed_part": {
        "family": "carburetor",
        "measured": {"throttle_bore": "19.0 mm", "bolt_spacing": "42.0 mm", "body_length": "62.0 mm"},
        "condition": {"needle_and_seat": "corroded"},
    },
    "on_hand": [{"need": "fuel_hose"}],
    "currency": USD,
}
ANSWER = {
    "currency": USD,
    "as_of": "2026-11-25",
    "options": [
        {
            "id": "replace:12",
            "kind": "replace",
            "part": {
                "id": "1",
                "maker": "Quillon",
                "number": "Q19-42",
                "grade": "aftermarket_unbranded",
                "title": "",
            },
            "supplier": "Millrace Spares",
            "fit_confidence": 0.91,
            "rank": 1,
            "undominated": True,
            "expected_cost": "24.03",
            "cost_90": ["14.37", "61.20"],
            "landed_cost": "14.37",
            "landed_lines": [{"line": "price", "amount": "9.80"}, {"line": "delivery", "amount": "4.57"}],
            "missing_needs": [{"need": "mounting_gasket", "amount": "3.10", "quote_id": "31"}],
            "reliability_penalty": "2.86",
            "expected_failures": 0.31,
            "lines": [
                {"line": "landed", "amount": "14.37"},
                {"line": "missing_needs", "amount": "3.10"},
                {"line": "work", "amount": "0.12"},
                {"line": "labour", "amount": "0.00"},
                {"line": "wrong_part", "amount": "2.10"},
                {"line": "failures_as_oem", "amount": "1.48"},
                {"line": "reliability_penalty", "amount": "2.86"},
                {"line": "waiting", "amount": "0.00"},
            ],
            "notes": [],
        }
    ],
    "plan": {
        "steps": ["replace:12", "stop"],
        "expected_cost": "24.03",
        "ceiling": "155.00",
        "verdict": "worth_it",
    },
    "answer": "Take the Quillon Q19-42 from Millrace Spares.",
    "assumptions": [
        {
            "name": "dead_on_arrival.carburetor.aftermarket_unbranded",
            "value": 0.09,
            "unit": "share",
            "origin": "default",
        }
    ],
    "cautions": [
        {
            "key": "fuel",
            "where": "fuel",
            "danger": "fire",
            "text": "Outdoors, cold, valve shut, approved can.",
        }
    ],
    "warnings": [],
}
HEADER = (
    "rank",
    "id",
    "kind",
    "maker",
    "number",
    "grade",
    "supplier",
    "fit_confidence",
    "cure_chance",
    "undominated",
    "expected_cost",
    "landed_cost",
    "expected_failures",
)
MONEY = ("expected_cost", "landed_cost")


def table(body: Mapping[str, Any]) -> Table:
    """Return the options as a table, with a column for each line of the cost."""
    options = body["options"]
    lines = list(dict.fromkeys(line["line"] for option in options for line in option["lines"]))

    def row(option: Mapping[str, Any]) -> list[Any]:
        part = option.get("part", {})
        # As numbers: a text that begins with a minus sign would be guarded against being run as a formula.
        amounts = {line["line"]: Decimal(line["amount"]) for line in option["lines"]}
        named = {**option, **{name: Decimal(option[name]) for name in MONEY}}
        named |= {name: part.get(name) for name in ("maker", "number", "grade")}
        return [*(named.get(name) for name in HEADER), *(amounts.get(line) for line in lines)]

    return Table([*HEADER, *lines], map(row, options))


SHOWN = answers(ANSWER)


@router.post(
    "/comparisons",
    summary="Compare what each way out costs",
    response_model=Comparison,
    response_model_exclude_unset=True,
    responses={200: SHOWN, **refusals(404, 406, 413, 415, 422)},
)
def post_comparison(
    request: Request,
    call: Reading,
    fits: FitsOf,
    form: FormOf,
    data: Annotated[ComparisonIn, Body(openapi_examples={"example": {"value": QUESTION}})],
) -> Response:
    """Rank clean, rebuild, each quote and stop by their expected cost to the running machine."""
    check_parameters(request, ANSWER_PARAMETERS)
    return render(request, form, comparisons.answer(call, fits, data), table)


@router.get(
    "/jobs/{id}/comparison",
    summary="Compare what each way out of a stored job costs",
    response_model=Comparison,
    responses={200: SHOWN, **refusals(404, 406, 422)},
)
def get_comparison(
    request: Request,
    call: Reading,
    fits: FitsOf,
    form: FormOf,
    record: Annotated[str, Path(alias="id", description="the job's id", examples=["1"])],
) -> Response:
    """Rank the ways out of a stored job."""
    check_parameters(request, ANSWER_PARAMETERS)
    return render(request, form, comparisons.compare_job(call, fits, record), table)
