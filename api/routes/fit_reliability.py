"""The record of the fit confidence: what was said of parts that were tried, and what happened."""

from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response

from api.deps import FormOf, Reading
from api.rendering import render
from api.routes.resources import ANSWER_PARAMETERS, answers, check_parameters, refusals
from api.schemas.fit_reliability import FitReliability
from api.services import fit_reliability
from api.tabular import Table
from fitworth.vocabulary import Grade

router = APIRouter(tags=["reliability"])

EXAMPLE = {
    "family": "carburetor",
    "outcomes": 24,
    "fitted": 19,
    "recalibration": {
        "outcomes": 24,
        "borrowed": 9,
        "shift": {
            "value": -0.21,
            "standard_uncertainty": 0.29,
            "prior": {"value": 0.0, "standard_uncertainty": 0.35},
        },
        "slope": {
            "value": 0.94,
            "standard_uncertainty": 0.12,
            "prior": {"value": 1.0, "standard_uncertainty": 0.15},
        },
        "unlisted_misfit": {"prior": 0.06, "value": 0.081},
    },
    "statements": [
        {
            "kind": "engine",
            "parameter": "engine_stated",
            "prior": 0.6,
            "value": 0.56,
            "interval_90": [0.46, 0.66],
            "spoke_for": 11,
            "fitted": 8,
            "fitted_90": [0.488, 0.893],
        }
    ],
    "bins": [
        {
            "from": 0.9,
            "to": 1.0,
            "count": 15,
            "said": 0.932,
            "happened": 0.867,
            "happened_90": [0.684, 0.962],
        }
    ],
    "scores": {
        "before": {"brier": 0.118, "log_loss": 0.391},
        "after": {"brier": 0.115, "log_loss": 0.379},
    },
}
HEADER = ("from", "to", "count", "said", "happened", "happened_90_low", "happened_90_high")


def table(body: Mapping[str, Any]) -> Table:
    """Return the ranges of confidence as a table."""
    return Table(HEADER, [[*(one[name] for name in HEADER[:5]), *one["happened_90"]] for one in body["bins"]])


@router.get(
    "/reliability/fits",
    summary="Ask how good the fit confidence has been",
    response_model=FitReliability,
    responses={200: answers(EXAMPLE), **refusals(406, 422)},
)
def show_fit_reliability(
    request: Request,
    call: Reading,
    form: FormOf,
    family: Annotated[
        str | None, Query(max_length=40, examples=["carburetor"], description="left out: all families")
    ] = None,
    grade: Annotated[Grade | None, Query(description="left out: all grades")] = None,
) -> Response:
    """Return what was said of parts before they were tried, what happened, and what that has taught."""
    check_parameters(request, ANSWER_PARAMETERS | {"family", "grade"})
    return render(request, form, fit_reliability.show_reliability(call, family, grade), table)
