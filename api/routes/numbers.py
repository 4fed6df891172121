"""Stored numbers that resemble a worn or misread one."""

from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response

from api.deps import FitsOf, FormOf, Reading
from api.rendering import render
from api.routes.resources import ANSWER_PARAMETERS, answers, check_parameters, refusals
from api.schemas.common import page_of
from api.schemas.parts import NumberLike
from api.services import numbers
from api.tabular import Table

router = APIRouter(tags=["numbers"])

EXAMPLE = {
    "number": "708-21B",
    "similarity": 0.86,
    "family": "carburetor",
    "part_id": "1",
    "maker": "Harrowmere",
    "grade": "oem",
}


def table(body: Mapping[str, Any]) -> Table:
    """Return the numbers as a table."""
    return Table(tuple(EXAMPLE), [[item[name] for name in EXAMPLE] for item in body["items"]])


@router.get(
    "/numbers",
    summary="Find stored numbers like a worn one",
    response_model=page_of(NumberLike),
    responses={200: answers({"items": [EXAMPLE], "next_cursor": None}), **refusals(406, 422)},
)
def list_numbers(
    request: Request,
    call: Reading,
    fits: FitsOf,
    form: FormOf,
    like: Annotated[
        str,
        Query(
            min_length=1,
            max_length=80,
            description="`?` for each character that cannot be read",
            examples=["7?8-21B"],
        ),
    ],
    family: Annotated[str | None, Query(max_length=40)] = None,
    limit: Annotated[int, Query(ge=1, le=100)] = 10,
) -> Response:
    """Find the stored numbers most like a worn or misread one, the likest first."""
    check_parameters(request, ANSWER_PARAMETERS | {"like", "family", "limit"})
    body = {"items": numbers.list_like(call, fits, like, family, limit), "next_cursor": None}
    return render(request, form, body, table)
