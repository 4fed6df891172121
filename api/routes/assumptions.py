"""The assumptions behind every estimate, to read and to change."""

from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Body, Request, Response

from api.deps import FormOf, IfMatch, Reading, Writing
from api.rendering import render, version_etag
from api.routes.resources import ANSWER_PARAMETERS, answers, check_parameters, refusals
from api.schemas.bench import Assumption, Assumptions, AssumptionsIn
from api.services import assumptions
from api.services.call import Call
from api.tabular import Form, Table

router = APIRouter(tags=["assumptions"])

NAME = "dead_on_arrival.carburetor.aftermarket_unbranded"
EXAMPLE = {
    "name": NAME,
    "value": 0.12,
    "default": 0.09,
    "unit": "share",
    "meaning": "Share of parts (carburetor, aftermarket unbranded) that do not work when they come.",
    "origin": "yours",
}
SHOWN = answers({"items": [EXAMPLE], "next_cursor": None})


def table(body: Mapping[str, Any]) -> Table:
    """Return the assumptions as a table."""
    header = list(Assumption.model_fields)
    return Table(header, ([item[name] for name in header] for item in body["items"]))


def answer(request: Request, call: Call, form: Form) -> Response:
    """Return all assumptions as they hold now."""
    items, revision = assumptions.list_all(call)
    headers = {"etag": version_etag(revision)} if form.name == "json" else {}
    return render(request, form, {"items": items, "next_cursor": None}, table, headers)


@router.get(
    "/assumptions",
    summary="List the assumptions",
    response_model=Assumptions,
    responses={200: SHOWN, **refusals(406, 422)},
)
def list_assumptions(request: Request, call: Reading, form: FormOf) -> Response:
    """List every assumption with its meaning, default and origin."""
    check_parameters(request, ANSWER_PARAMETERS)
    return answer(request, call, form)


@router.put(
    "/assumptions",
    summary="Set your own assumptions",
    response_model=Assumptions,
    responses={200: SHOWN, **refusals(412, 413, 415, 422, 428)},
)
def replace_assumptions(
    request: Request,
    call: Writing,
    version: IfMatch,
    data: Annotated[AssumptionsIn, Body(openapi_examples={"example": {"value": {"values": {NAME: 0.12}}}})],
) -> Response:
    """Put your own values in place of all earlier ones; what is not named goes back to its default."""
    assumptions.replace_own(call, version, data.values)
    return answer(request, call, Form())
