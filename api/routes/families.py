"""The families of parts and their dimensions."""

from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Path, Request, Response

from api.deps import FormOf, KnowledgeOf
from api.rendering import render
from api.routes.resources import ANSWER_PARAMETERS, answers, check_parameters, refusals
from api.schemas.families import Families, FamilyOut
from api.services import families
from api.tabular import Table

router = APIRouter(tags=["families"])

EXAMPLE = {
    "key": "flywheel_key",
    "label": "Flywheel key",
    "view": "lying on its widest face",
    "grades": ["oem", "aftermarket_branded"],
    "life": {"clock": "calendar", "shape": 1.0},
    "needs": [],
    "dimensions": [
        {
            "key": "width",
            "label": "Width",
            "kind": "length",
            "unit": "mm",
            "role": "safe",
            "how": "micrometer; measure both keyways, not the sheared key",
            "instrument": "micrometer",
            "allowance": {"rule": "interval", "low": -0.03, "high": 0.03},
            "allowance_when": [],
            "choices": [],
            "plausible": [1.0, 15.0],
            "consequence": "play: shears again, timing wanders",
            "workshop_note": "",
            "cure": None,
        }
    ],
}
COLUMNS = (
    "family",
    "key",
    "label",
    "kind",
    "unit",
    "role",
    "instrument",
    "allowance",
    "choices",
    "how",
    "consequence",
)


def table(body: Mapping[str, Any]) -> Table:
    """Return families as a table with a row for each dimension."""
    rows = [
        [family["key"], *(dimension[name] for name in COLUMNS[1:])]
        for family in body.get("items", [body])
        for dimension in family["dimensions"]
    ]
    return Table(COLUMNS, rows)


@router.get(
    "/families",
    summary="List the families",
    response_model=Families,
    responses={200: answers({"items": [EXAMPLE], "next_cursor": None}), **refusals(406, 422)},
)
def list_families(request: Request, knowledge: KnowledgeOf, form: FormOf) -> Response:
    """List the families with their dimensions."""
    check_parameters(request, ANSWER_PARAMETERS)
    body = {"items": families.list_families(knowledge), "next_cursor": None}
    return render(request, form, body, table)


@router.get(
    "/families/{family}",
    summary="Read one family",
    response_model=FamilyOut,
    responses={200: answers(EXAMPLE), **refusals(404, 406, 422)},
)
def get_family(
    request: Request,
    knowledge: KnowledgeOf,
    form: FormOf,
    family: Annotated[str, Path(examples=["carburetor"])],
) -> Response:
    """Read one family with its dimensions."""
    check_parameters(request, ANSWER_PARAMETERS)
    body = families.family_body(families.get_family(knowledge, family))
    return render(request, form, body, table)
