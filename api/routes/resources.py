"""The operations that every stored resource has, made once for all of them."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Annotated, Any

from fastapi import APIRouter, Body, Path, Query, Request, Response
from pydantic import BaseModel

from api.deps import FormOf, IdempotencyKey, IfMatch, Reading, Writing
from api.errors import InputFault, InvalidInputError
from api.rendering import render, version_etag
from api.schemas.common import Change, Changes, Stored, page_of
from api.services import idempotency, resource
from api.services.call import Call
from api.services.idempotency import Answer
from api.services.resource import Found, Resource
from api.tabular import Form, Table

ANSWER_PARAMETERS = frozenset({"format", "field", "decimal", "on_error"})
PAGE_PARAMETERS = frozenset({"limit", "cursor"})

OK, CREATED, NO_CONTENT = 200, 201, 204

RecordPath = Annotated[str, Path(alias="id", description="the record's id", examples=["1"])]
Limit = Annotated[int, Query(ge=1, le=500, description="how many at most")]
Cursor = Annotated[str | None, Query(max_length=20, description="`next_cursor` of the page before")]


def refusals(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """Return the refusals of an operation for its documentation."""
    meanings = {
        404: "There is none with this id, or it was deleted.",
        406: "The answer has no such form.",
        409: "It would stand against what is stored.",
        412: "Changed by somebody else since it was read.",
        413: "The body is too large.",
        415: "The body is not JSON.",
        422: "Something entered is wrong; every fault is listed.",
        428: "The header If-Match is missing.",
    }
    content = {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}}
    return {status: {"description": meanings[status], "content": content} for status in statuses}


def answers(example: Any, *, table: bool = True) -> dict[str, Any]:
    """Return the documentation of a good answer with its example, in its forms."""
    content: dict[str, Any] = {"application/json": {"example": example}}
    if table:
        content["text/csv"] = {"schema": {"type": "string"}}
        content["text/plain"] = {"schema": {"type": "string"}}
    return {"content": content}


def text_parameter(name: str) -> dict[str, Any]:
    """Return the documentation of an optional parameter of text."""
    return {"name": name, "in": "query", "required": False, "schema": {"type": "string"}}


def stored_answer(response: Response) -> Answer:
    """Return a response as it is kept for a repeated request."""
    headers = {name: response.headers[name] for name in ("content-type", "etag", "location")}
    return Answer(response.status_code, headers, bytes(response.body))


def check_parameters(request: Request, known: frozenset[str]) -> None:
    """Raise InvalidInputError for query parameters that mean nothing here, or that stand twice."""
    listed = ", ".join(sorted(known))
    unknown = [name for name in request.query_params if name not in known]
    faults = [
        InputFault(f"This is not known here; there are {listed}.", "parameter", name) for name in unknown
    ]
    faults += [
        InputFault("This stands twice; give it once.", "parameter", name)
        for name in request.query_params
        if len(request.query_params.getlist(name)) > 1
    ]
    if faults:
        raise InvalidInputError("A parameter means nothing here.", faults)


def read_cursor(cursor: str | None) -> int:
    """Return the id that a cursor stands for.

    Raises:
        InvalidInputError: it is no cursor of ours.
    """
    if cursor is None:
        return 0
    number = resource.record_id(cursor)
    if number == 0:
        raise InvalidInputError(
            "There is no such page.",
            [InputFault("Give `next_cursor` of the page before, or leave it out.", "parameter", "cursor")],
        )
    return number


def page_headers(request: Request, next_cursor: str | None) -> dict[str, str]:
    """Return the Link header to the next page (RFC 8288)."""
    if next_cursor is None:
        return {}
    url = request.url.include_query_params(cursor=next_cursor)
    return {"link": f'<{url.path}?{url.query}>; rel="next"'}


@dataclass(frozen=True)
class Lookup:
    """Another answer of a resource's list, asked for by one parameter.

    Attributes:
        parameter: whose value is looked up.
        find: returns the items.
        item: what one of them is.
    """

    parameter: str
    find: Callable[[Call, str], list[dict[str, Any]]]
    item: type[BaseModel]

    def table(self, body: Mapping[str, Any]) -> Table:
        """Return the items as a table."""
        header = list(self.item.model_fields)
        return Table(header, ([item[name] for name in header] for item in body["items"]))


@dataclass(frozen=True)
class Served:
    """A resource with what its documentation shows, and a look-up where it has one."""

    resource: Resource[Any, Any]
    stored: type[Stored]
    example: Mapping[str, Any]
    lookup: Lookup | None = None

    def table(self, body: Mapping[str, Any]) -> Table:
        """Return a page of records, or one record, as a table."""
        return self.resource.table(body.get("items", [body]))

    @property
    def stored_example(self) -> dict[str, Any]:
        """Return the example as it comes back once stored."""
        moments = dict.fromkeys(("created_at", "updated_at"), "2026-11-25T08:00:00Z")
        return {"id": "1", **self.example, "version": 1, **moments, "deleted_at": None}


def history_table(body: Mapping[str, Any]) -> Table:
    """Return a record's changes as a table."""
    header = list(Change.model_fields)
    return Table(header, ([item[name] for name in header] for item in body["items"]))


def answer_found(request: Request, served: Served, found: Found, status: int) -> Response:
    """Return a record that was just written."""
    headers = {"etag": version_etag(found.version)}
    if status == CREATED:
        headers["location"] = f"/v1/{served.resource.name}/{found.body['id']}"
    return render(request, Form(), found.body, served.table, headers, status=status)


def add_resource(router: APIRouter, served: Served) -> None:
    """Add a resource's operations to a router."""
    add_reads(router, served)
    add_writes(router, served)


def add_reads(router: APIRouter, served: Served) -> None:
    """Add the operations that read: a page, one record, its history."""
    spec, shown = served.resource, served.stored_example
    path = f"/{spec.name}"
    tags: list[str | Enum] = [spec.name]
    known = ANSWER_PARAMETERS | PAGE_PARAMETERS | set(spec.filters)
    lookup = served.lookup
    page: Any = page_of(served.stored) if lookup is None else page_of(served.stored) | page_of(lookup.item)
    parameters = [*spec.filters, *([] if lookup is None else [lookup.parameter])]

    def list_(
        request: Request, call: Reading, form: FormOf, limit: Limit = 50, cursor: Cursor = None
    ) -> Response:
        if lookup is not None and lookup.parameter in request.query_params:
            check_parameters(request, ANSWER_PARAMETERS | {lookup.parameter})
            found = lookup.find(call, request.query_params[lookup.parameter])
            return render(request, form, {"items": found, "next_cursor": None}, lookup.table)
        check_parameters(request, known)
        after_id = read_cursor(cursor)
        items, last = resource.list_bodies(
            call, spec, dict(request.query_params), limit=limit, after_id=after_id
        )
        next_cursor = None if last is None else str(last)
        body = {"items": items, "next_cursor": next_cursor}
        return render(request, form, body, served.table, page_headers(request, next_cursor))

    def get(request: Request, call: Reading, form: FormOf, record: RecordPath) -> Response:
        check_parameters(request, ANSWER_PARAMETERS)
        found = resource.get(call, spec, record)
        headers = {"etag": version_etag(found.version)} if form.name == "json" else {}
        return render(request, form, found.body, served.table, headers)

    def history(request: Request, call: Reading, form: FormOf, record: RecordPath) -> Response:
        check_parameters(request, ANSWER_PARAMETERS)
        body = {"items": resource.history(call, spec, record), "next_cursor": None}
        return render(request, form, body, history_table)

    router.add_api_route(
        path,
        list_,
        methods=["GET"],
        name=f"list_{spec.name}",
        summary=f"List {spec.name}",
        tags=tags,
        response_model=page,
        responses={200: answers({"items": [shown], "next_cursor": None}), **refusals(406, 422)},
        openapi_extra={"parameters": [text_parameter(name) for name in parameters]},
    )
    router.add_api_route(
        f"{path}/{{id}}",
        get,
        methods=["GET"],
        name=f"get_{spec.name}",
        summary=f"Read one of the {spec.name}",
        tags=tags,
        response_model=served.stored,
        responses={200: answers(shown), 304: {"description": "Not changed."}, **refusals(404, 406, 422)},
    )
    change = {"at": shown["created_at"], "actor": "local", "action": "create", "version": 1, "revision": 1}
    router.add_api_route(
        f"{path}/{{id}}/history",
        history,
        methods=["GET"],
        name=f"history_{spec.name}",
        summary=f"Read the changes of one of the {spec.name}",
        tags=tags,
        response_model=Changes,
        responses={
            200: answers(
                {"items": [{**change, "before": None, "after": dict(served.example)}], "next_cursor": None}
            ),
            **refusals(404, 406, 422),
        },
    )


def add_writes(router: APIRouter, served: Served) -> None:
    """Add the operations that write: create, replace, change in part, delete, restore."""
    spec = served.resource
    one = f"/{spec.name}/{{id}}"
    tags: list[str | Enum] = [spec.name]
    good = answers(served.stored_example, table=False)

    def create(request: Request, call: Writing, data: Any, key: IdempotencyKey = None) -> Response:
        def answer() -> Answer:
            return stored_answer(answer_found(request, served, resource.create(call, spec, data), CREATED))

        kept = idempotency.once(call, f"POST {request.url.path}", request.scope["body_sha256"], key, answer)
        return Response(kept.body, kept.status, kept.headers)

    def put(request: Request, call: Writing, record: RecordPath, version: IfMatch, data: Any) -> Response:
        return answer_found(request, served, resource.replace(call, spec, record, version, data), OK)

    def patch(
        request: Request, call: Writing, record: RecordPath, version: IfMatch, changes: Any
    ) -> Response:
        return answer_found(request, served, resource.patch(call, spec, record, version, changes), OK)

    def delete(call: Writing, record: RecordPath, version: IfMatch) -> Response:
        resource.delete(call, spec, record, version)
        return Response(status_code=204)

    def restore(request: Request, call: Writing, record: RecordPath) -> Response:
        return answer_found(request, served, resource.restore(call, spec, record), OK)

    # The input's type is known only here, so it is written into the signature that the framework reads.
    example = Body(openapi_examples={"example": {"value": dict(served.example)}})
    create.__annotations__["data"] = put.__annotations__["data"] = Annotated[spec.schema, example]
    last = list(served.example)[-1]
    partly = Body(openapi_examples={"example": {"value": {last: served.example[last]}}})
    patch.__annotations__["changes"] = Annotated[dict[str, Any], partly]

    def add(path: str, endpoint: Any, method: str, verb: str, status: int, *refused: int) -> None:
        router.add_api_route(
            path,
            endpoint,
            methods=[method],
            name=f"{verb.partition(' ')[0].lower()}_{spec.name}",
            summary=f"{verb} one of the {spec.name}",
            tags=tags,
            status_code=status,
            response_model=None if status == NO_CONTENT else served.stored,
            responses={**({} if status == NO_CONTENT else {status: good}), **refusals(*refused)},
        )

    add(f"/{spec.name}", create, "POST", "Create", CREATED, 409, 413, 415, 422)
    add(one, put, "PUT", "Replace", OK, 404, 409, 412, 413, 415, 422, 428)
    add(one, patch, "PATCH", "Change parts of", OK, 404, 409, 412, 413, 415, 422, 428)
    add(one, delete, "DELETE", "Delete", NO_CONTENT, 404, 412, 422, 428)
    add(f"{one}/restore", restore, "POST", "Restore", OK, 404, 409, 422)
