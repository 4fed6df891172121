"""The query by measurements: POST for programs, GET for spreadsheets."""

from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Body, Request, Response

from api.deps import FitsOf, FormOf, Reading
from api.query import OWN_PARAMETERS, read_query
from api.rendering import render
from api.routes.resources import ANSWER_PARAMETERS, answers, check_parameters, refusals, text_parameter
from api.schemas.fits import Fits, FitsIn
from api.services.fits import fits_body
from api.tabular import Table

router = APIRouter(tags=["fits"])

QUESTION = {
    "family": "carburetor",
    "measured": {
        "throttle_bore": "19.1 mm",
        "bolt_spacing": {"value": "1 21/32 in", "plus_minus": "0.2 mm"},
        "choke_type": "manual_lever",
    },
    "instrument": "caliper_outside",
    "marking": "7?8-21B",
    "limit": 10,
}
ANSWER = {
    "catalogue": {"parts": 5120, "revision": 77},
    "read": {"throttle_bore": {"value": 19.1, "unit": "mm", "plus_minus": 0.054, "as_entered": "19.1 mm"}},
    "fits": [
        {
            "part": {"id": "1", "maker": "Harrowmere", "number": "708-21B", "grade": "oem", "title": ""},
            "fit_confidence": 0.91,
            "verdict": "bolts_on",
            "with_work": {"probability": 0.04, "items": ["fuel_hose"], "minutes": 10.0},
            "dimensions": [
                {
                    "key": "throttle_bore",
                    "role": "run",
                    "measured": {"value": 19.1, "unit": "mm", "plus_minus": 0.054, "as_entered": "19.1 mm"},
                    "listed": {"value": 19.0, "unit": "mm", "plus_minus": 0.05, "as_entered": "19.0"},
                    "supposed": None,
                    "difference": -0.1,
                    "allowance": [-1.0, 1.0],
                    "probability": 0.999,
                    "status": "agrees",
                    "weight": 2.3,
                    "consequence": None,
                }
            ],
            "evidence": [
                {"kind": "before_measuring", "similarity": 1.0, "weight": -3.4},
                {"kind": "marking", "similarity": 0.86, "weight": 4.1},
                {"kind": "not_recorded", "similarity": 1.0, "weight": 0.34},
            ],
        }
    ],
    "nothing_on_file_fits": 0.05,
    "measure_next": [
        {
            "key": "body_length",
            "gain_bits": 0.81,
            "how": "outside jaws, flange face to filter face",
            "raises_best": 0.07,
        }
    ],
    "enough_measured": False,
    "warnings": [],
}
HEADER = (
    "part_id",
    "maker",
    "number",
    "grade",
    "fit_confidence",
    "verdict",
    "with_work_probability",
    "with_work_items",
    "with_work_minutes",
)


def table(body: Mapping[str, Any]) -> Table:
    """Return the candidates as a table, with how each dimension compares."""
    fits = body["fits"]
    keys = [entry["key"] for entry in fits[0]["dimensions"]] if fits else []
    rows = [
        [
            fit["part"]["id"],
            fit["part"]["maker"],
            fit["part"]["number"],
            fit["part"]["grade"],
            fit["fit_confidence"],
            fit["verdict"],
            fit["with_work"]["probability"],
            fit["with_work"]["items"],
            fit["with_work"]["minutes"],
            *(entry["status"] for entry in fit["dimensions"]),
        ]
        for fit in fits
    ]
    return Table([*HEADER, *keys], rows)


@router.post(
    "/fits",
    summary="Ask which parts on file fit",
    response_model=Fits,
    responses={200: answers(ANSWER), **refusals(406, 413, 415, 422)},
)
def post_fits(
    request: Request,
    call: Reading,
    fits: FitsOf,
    form: FormOf,
    data: Annotated[FitsIn, Body(openapi_examples={"example": {"value": QUESTION}})],
) -> Response:
    """Return the parts on file that fit in place of the removed one, and how sure that is."""
    check_parameters(request, ANSWER_PARAMETERS)
    return render(request, form, fits_body(fits.find(call, data)), table)


@router.get(
    "/fits",
    summary="Ask which parts on file fit, in one address",
    response_model=Fits,
    responses={200: answers(ANSWER), **refusals(406, 422)},
    openapi_extra={
        "parameters": [
            {**text_parameter("family"), "required": True, "example": "carburetor"},
            *(text_parameter(name) for name in OWN_PARAMETERS[1:]),
            {
                **text_parameter("throttle_bore"),
                "description": "any dimension of the family",
                "example": "19.1 mm",
            },
        ]
    },
)
def get_fits(request: Request, call: Reading, fits: FitsOf, form: FormOf) -> Response:
    """Return the same for measurements in the address: `KEY=24.1 mm ± 0.2 mm`, sets separated by commas."""
    params = request.query_params
    repeated = [name for name in params if len(params.getlist(name)) > 1]
    data = read_query(params, call.knowledge.families, repeated=repeated, apart=ANSWER_PARAMETERS)
    return render(request, form, fits_body(fits.find(call, data)), table)
