"""What speaks against the statements on file, the interchange groups, and pairs proposed as further ones."""

from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response

from api.deps import FitsOf, FormOf, Reading
from api.rendering import render
from api.routes.resources import (
    ANSWER_PARAMETERS,
    PAGE_PARAMETERS,
    Cursor,
    Limit,
    Served,
    add_resource,
    answers,
    check_parameters,
    page_headers,
    read_cursor,
    refusals,
)
from api.schemas import parts
from api.schemas.common import page_of
from api.services import interchange_faults, interchange_groups, proposals
from api.tabular import Table

FAULT: dict[str, Any] = {
    "kind": "dimensions",
    "says": "Quillon Q19-42 is the same as Harrowmere 708-21B, but body length 62 mm against 56 mm "
    "is outside -0.5 to +0.5 mm.",
    "statement_ids": ["1"],
    "numbers": ["Q19-42", "708-21B"],
    "parts": [
        {
            "id": "2",
            "maker": "Quillon",
            "number": "Q19-42",
            "grade": "aftermarket_unbranded",
            "title": "",
            "family": "carburetor",
        },
        {
            "id": "1",
            "maker": "Harrowmere",
            "number": "708-21B",
            "grade": "oem",
            "title": "",
            "family": "carburetor",
        },
    ],
    "dimensions": [
        {
            "key": "body_length",
            "stand_in_id": "2",
            "replaced_id": "1",
            "difference": 6.0,
            "allowance": [-0.5, 0.5],
        }
    ],
}
PROPOSED_PARTS = [{name: part[name] for name in part if name != "family"} for part in FAULT["parts"]]
PROPOSAL = {
    "family": "carburetor",
    "parts": PROPOSED_PARTS,
    "probability": 0.88,
    "agreeing": ["throttle_bore", "bolt_spacing", "body_length", "choke_type"],
    "differing": [],
    "group": PROPOSED_PARTS,
    "group_size": 2,
}
GROUP = {
    "family": "carburetor",
    "size": 2,
    "parts": [
        {**part, "probability": share} for part, share in zip(PROPOSED_PARTS, (0.94, 0.97), strict=True)
    ],
    "dimensions": [
        {
            "key": "throttle_bore",
            "value": {"value": 19.0, "unit": "mm", "plus_minus": 0.0943, "as_entered": "19.0 mm"},
            "probability": 0.98,
            "say_so": 2,
        },
        {"key": "choke_type", "value": "manual_lever", "probability": 0.98, "say_so": 1},
    ],
}
DECISIONS = Served(
    proposals.DECISIONS,
    parts.InterchangeDecision,
    {"part_ids": ["1", "2"], "decision": "confirmed", "note": "compared side by side"},
)


def fault_table(body: Mapping[str, Any]) -> Table:
    """Return the faults as a table."""
    rows = [
        [
            item["kind"],
            item["statement_ids"],
            item["numbers"],
            [part["id"] for part in item["parts"]],
            [dimension["key"] for dimension in item["dimensions"]],
            item["says"],
        ]
        for item in body["items"]
    ]
    return Table(("kind", "statement_ids", "numbers", "part_ids", "dimensions", "says"), rows)


def proposal_table(body: Mapping[str, Any]) -> Table:
    """Return the proposals as a table, the two parts beside each other."""
    names = ("id", "maker", "number", "grade")
    header = ["family", "probability", *(f"{name}_{place}" for place in (1, 2) for name in names)]
    rows = [
        [
            item["family"],
            item["probability"],
            *(part[name] for part in item["parts"] for name in names),
            item["agreeing"],
            item["differing"],
            [part["id"] for part in item["group"]],
            item["group_size"],
        ]
        for item in body["items"]
    ]
    return Table([*header, "agreeing", "differing", "group", "group_size"], rows)


def group_table(body: Mapping[str, Any]) -> Table:
    """Return the groups as a table."""
    rows = [
        [
            item["family"],
            item["size"],
            [part["id"] for part in item["parts"]],
            [part["number"] or "" for part in item["parts"]],
            [f"{figure['key']}={shown_value(figure['value'])}" for figure in item["dimensions"]],
        ]
        for item in body["items"]
    ]
    return Table(("family", "size", "part_ids", "numbers", "dimensions"), rows)


def shown_value(value: Any) -> str:
    """Return a dimension's value as text."""
    if isinstance(value, dict):
        return str(value["as_entered"])
    return ",".join(value) if isinstance(value, list) else str(value)


def list_faults(
    request: Request,
    call: Reading,
    form: FormOf,
    limit: Limit = 50,
    cursor: Annotated[
        str | None, Query(max_length=30, description="`next_cursor` of the page before")
    ] = None,
) -> Response:
    """List statements that cannot be right as they stand.

    Two that contradict each other, rings of numbers that supersede each other, and statements that the sheets
    of the parts deny. A page looks through so many statements at most; it can be short and not the last.
    """
    check_parameters(request, ANSWER_PARAMETERS | PAGE_PARAMETERS)
    items, next_cursor = interchange_faults.list_faults(call, limit=limit, cursor=cursor)
    body = {"items": items, "next_cursor": next_cursor}
    return render(request, form, body, fault_table, page_headers(request, next_cursor))


def list_proposals(
    request: Request,
    call: Reading,
    fits: FitsOf,
    form: FormOf,
    family: Annotated[str | None, Query(max_length=40)] = None,
    limit: Limit = 50,
) -> Response:
    """List pairs of parts that look like one design and are neither stated nor decided, the likeliest first.

    Each part of an interchange group is paired with the best-known one: to confirm all pairs is to state the
    group. There are no further pages: what was decided makes room for others.
    """
    check_parameters(request, ANSWER_PARAMETERS | {"family", "limit"})
    body = {"items": proposals.list_proposals(call, fits, family, limit), "next_cursor": None}
    return render(request, form, body, proposal_table)


def list_groups(
    request: Request,
    call: Reading,
    fits: FitsOf,
    form: FormOf,
    family: Annotated[str | None, Query(max_length=40)] = None,
    limit: Limit = 50,
    cursor: Cursor = None,
) -> Response:
    """List interchange groups: parts under several numbers that are likeliest of one design.

    They are estimated from what all sheets of a family list, from statements and from decisions. A part of a
    design of its own stands in none. In the order of the lowest id in each.
    """
    check_parameters(request, ANSWER_PARAMETERS | PAGE_PARAMETERS | {"family"})
    items, after = interchange_groups.list_groups(
        call, fits, family, limit=limit, after_id=read_cursor(cursor)
    )
    next_cursor = None if after is None else str(after)
    body = {"items": items, "next_cursor": next_cursor}
    return render(request, form, body, group_table, page_headers(request, next_cursor))


def make_router() -> APIRouter:
    """Return the router; it must come before the one of the records, which take any name for an id."""
    router = APIRouter()
    router.add_api_route(
        "/interchange/faults",
        list_faults,
        methods=["GET"],
        summary="List statements that cannot be right",
        tags=["interchange"],
        response_model=page_of(parts.InterchangeFault),
        responses={200: answers({"items": [FAULT], "next_cursor": None}), **refusals(406, 422)},
    )
    router.add_api_route(
        "/interchange/proposals",
        list_proposals,
        methods=["GET"],
        summary="List interchanges to confirm or reject",
        tags=["interchange"],
        response_model=page_of(parts.Proposal),
        responses={200: answers({"items": [PROPOSAL], "next_cursor": None}), **refusals(406, 422)},
    )
    router.add_api_route(
        "/interchange/groups",
        list_groups,
        methods=["GET"],
        summary="List interchange groups",
        tags=["interchange"],
        response_model=page_of(parts.InterchangeGroup),
        responses={200: answers({"items": [GROUP], "next_cursor": None}), **refusals(406, 422)},
    )
    add_resource(router, DECISIONS)
    return router
