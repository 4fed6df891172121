"""Entries on file to be looked at again."""

from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response

from api.deps import FitsOf, FormOf, Reading
from api.rendering import render
from api.routes.resources import (
    ANSWER_PARAMETERS,
    PAGE_PARAMETERS,
    Limit,
    answers,
    check_parameters,
    page_headers,
    refusals,
)
from api.schemas.common import page_of
from api.schemas.doubtful_entries import DoubtfulEntry
from api.services import doubtful_entries
from api.tabular import Table

router = APIRouter(tags=["parts"])

EXAMPLE = {
    "family": "carburetor",
    "part": {"id": "5", "maker": "Vennor", "number": "V206S", "grade": "aftermarket_branded", "title": ""},
    "doubt": "group",
    "dimensions": [
        {
            "key": "throttle_bore",
            "label": "Throttle bore",
            "listed": {"value": 24.1, "unit": "mm", "plus_minus": 0.05, "as_entered": "24.1 mm"},
        }
    ],
    "supposed": {"value": 14.1, "unit": "mm", "plus_minus": 0.0943, "as_entered": "14.1 mm"},
    "say_so": 4,
    "probability": 0.98,
    "slip": "digits",
    "says": "24.1 mm is entered, the group says 14.1 mm: a typing error?",
}
HEADER = (
    "family",
    "part_id",
    "maker",
    "number",
    "grade",
    "doubt",
    "dimensions",
    "probability",
    "say_so",
    "slip",
    "says",
)


def table(body: Mapping[str, Any]) -> Table:
    """Return the entries as a table."""
    rows = [
        [
            item["family"],
            *(item["part"][name] for name in ("id", "maker", "number", "grade")),
            item["doubt"],
            [dimension["key"] for dimension in item["dimensions"]],
            *(item[name] for name in HEADER[7:]),
        ]
        for item in body["items"]
    ]
    return Table(HEADER, rows)


@router.get(
    "/doubtful-entries",
    summary="List entries that are probably wrong",
    response_model=page_of(DoubtfulEntry),
    responses={200: answers({"items": [EXAMPLE], "next_cursor": None}), **refusals(406, 422)},
)
def list_doubtful_entries(
    request: Request,
    call: Reading,
    fits: FitsOf,
    form: FormOf,
    family: Annotated[
        str | None, Query(max_length=40, examples=["carburetor"], description="left out: all families")
    ] = None,
    limit: Limit = 50,
    cursor: Annotated[
        str | None, Query(max_length=200, description="`next_cursor` of the page before")
    ] = None,
) -> Response:
    """List sizes and words of parts that stand against all else on file, the most doubtful first.

    Against what the other parts of the same design list, or out of all proportion. Each says what the entry
    looks like: a typing error, inches taken for millimetres, a point misplaced.
    """
    check_parameters(request, ANSWER_PARAMETERS | PAGE_PARAMETERS | {"family"})
    items, next_cursor = doubtful_entries.list_entries(call, fits, family, limit=limit, cursor=cursor)
    body = {"items": items, "next_cursor": next_cursor}
    return render(request, form, body, table, page_headers(request, next_cursor))
