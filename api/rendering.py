"""From a service's result to a response in the form asked for, with its ETag."""

from collections.abc import Callable, Mapping
from hashlib import sha256
from typing import Any

from fastapi import Request
from fastapi.responses import Response
from pydantic_core import to_json, to_jsonable_python

from api.tabular import Form, Table, to_csv, to_value

Body = Mapping[str, Any]


def version_etag(version: int) -> str:
    """Return the ETag of a record's version."""
    return f'"{version}"'


def is_known(request: Request, etag: str) -> bool:
    """Return whether the caller has this answer already (If-None-Match)."""
    known = [tag.strip().removeprefix("W/") for tag in request.headers.get("if-none-match", "").split(",")]
    return etag in known or "*" in known


def render(
    request: Request,
    form: Form,
    body: Body,
    table: Callable[[Body], Table],
    headers: Mapping[str, str] | None = None,
    *,
    status: int = 200,
) -> Response:
    """Return a body as JSON, CSV or a single cell; 304 where the caller has it already.

    The ETag is the given one, else a digest of what is sent. Answers may be kept, but are asked for again
    before each use: what is on file can change at any time.
    """
    if form.name == "csv":
        content: bytes = to_csv(table(body), decimal_comma=form.decimal_comma).encode()
        media = "text/csv; charset=utf-8"
    elif form.name == "value":
        content = to_value(
            to_jsonable_python(body), form.field or "", decimal_comma=form.decimal_comma
        ).encode()
        media = "text/plain; charset=utf-8"
    else:
        content, media = to_json(body, inf_nan_mode="null"), "application/json"
    sent = {"cache-control": "no-cache", "vary": "accept", **(headers or {})}
    sent.setdefault("etag", f'"{sha256(content).hexdigest()[:32]}"')
    if request.method == "GET" and is_known(request, sent["etag"]):
        return Response(status_code=304, headers=sent)
    return Response(content, status, headers=sent, media_type=media)
