"""Everything of a resource, to download."""

from enum import StrEnum
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from api.deps import Reading
from api.routes.resources import check_parameters, refusals
from api.services import exports
from api.tabular import to_csv

router = APIRouter(tags=["exports"])

BOM = "\ufeff"  # spreadsheets take a download for UTF-8 by it


class Exported(StrEnum):
    """The resources that can be exported."""

    PARTS = "parts"
    INTERCHANGE = "interchange"
    INTERCHANGE_DECISIONS = "interchange-decisions"
    SUPPLIERS = "suppliers"
    QUOTES = "quotes"
    EXCHANGE_RATES = "exchange-rates"
    DESTINATIONS = "destinations"
    MACHINES = "machines"
    JOBS = "jobs"
    OUTCOMES = "outcomes"


@router.get(
    "/exports/{resource}.csv",
    summary="Export everything of a resource",
    response_class=Response,
    responses={
        200: {
            "description": "A table with one header row.",
            "content": {"text/csv": {"example": "id,base,quote,rate,on\r\n1,EUR,USD,1.0840,2026-11-20\r\n"}},
        },
        **refusals(404, 422),
    },
)
def export_csv(
    request: Request,
    call: Reading,
    resource: Exported,
    family: Annotated[str | None, Query(max_length=40, description="parts of this family only")] = None,
) -> Response:
    """Return all records of a resource; parts and quotes import back without loss."""
    check_parameters(request, frozenset({"family", "on_error"}))
    spec = exports.get_resource(resource)
    table = exports.table(call, spec, exports.filters_of(call, spec, family))
    headers = {"content-disposition": f'attachment; filename="{resource}.csv"'}
    return Response(BOM + to_csv(table), headers=headers, media_type="text/csv; charset=utf-8")
