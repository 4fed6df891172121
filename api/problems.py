"""Problem details (RFC 9457): the one place that turns errors into responses."""

from collections.abc import Iterable, Mapping
from typing import Any

import structlog
from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, PlainTextResponse, Response
from pydantic import ValidationError
from sqlalchemy.exc import OperationalError
from sqlalchemy.exc import TimeoutError as NoFreeConnectionError
from starlette.exceptions import HTTPException

from api import errors
from api.errors import InputFault, ServiceError
from api.faults import core_faults, count, validation_faults
from fitworth.errors import CoreError, InvalidValueError, NotComputableError

log = structlog.get_logger(__name__)

MEDIA_TYPE = "application/problem+json"

CORE_PROBLEMS: Mapping[type[CoreError], tuple[str, str, int]] = {
    InvalidValueError: (errors.InvalidInputError.slug, errors.InvalidInputError.title, 422),
    NotComputableError: ("not-computable", "No answer follows from this", 422),
}

FRAMEWORK_PROBLEMS: Mapping[int, tuple[str, str, str]] = {
    404: ("not-found", "Not found", "There is nothing at this address; /docs lists what there is."),
    405: (
        "wrong-method",
        "Not done that way",
        "This address does not take that method; see the Allow header.",
    ),
    500: ("internal", "A fault of ours", "Something broke here, not in what you sent. It has been logged."),
}

DISK_FULL = ("disk is full", "no space left")  # as SQLite and PostgreSQL say it
DATABASE_PROBLEMS: Mapping[bool, tuple[str, str, int, str]] = {
    True: ("disk-full", "The disk is full", 507, "Nothing was stored. Make room, then send it again."),
    False: ("busy", "The database is busy", 503, "Nothing was stored. Wait a moment, then send it again."),
}
"""By whether the disk is full."""


def problem(
    slug: str, title: str, status: int, detail: str, faults: Iterable[InputFault] = ()
) -> dict[str, Any]:
    """Return a problem's body."""
    body: dict[str, Any] = {"type": f"/problems#{slug}", "title": title, "status": status, "detail": detail}
    entries = [fault.as_json() for fault in faults]
    return {**body, "errors": entries} if entries else body


def respond(
    request_query: Mapping[str, str], body: dict[str, Any], headers: Mapping[str, str] | None = None
) -> Response:
    """Return the response of a problem; a spreadsheet cell that asked for text gets one line and a 200."""
    if request_query.get("on_error") == "text":
        slug = str(body["type"]).partition("#")[2]
        reasons = [entry["detail"] for entry in body.get("errors", ())] or [body["detail"]]
        line = " ".join(f"ERR {slug}: {' '.join(reasons)}".split())
        return PlainTextResponse(line, headers={"cache-control": "no-store"})
    return JSONResponse(body, int(body["status"]), headers=dict(headers or {}), media_type=MEDIA_TYPE)


def of_service(error: ServiceError) -> dict[str, Any]:
    """Return the problem of a refusal of the service."""
    return problem(error.slug, error.title, error.status, error.detail, error.faults)


def of_core(error: CoreError, place: errors.Place = "pointer") -> dict[str, Any] | None:
    """Return the problem of a core error, or None where the table does not know it: then it is a bug."""
    known = CORE_PROBLEMS.get(type(error))
    if known is None:
        return None
    faults = core_faults(error, place)
    return problem(*known, count(faults), faults)


def of_validation(found: Iterable[Mapping[str, Any]], *, prefixed: bool) -> dict[str, Any]:
    """Return the problem of input that does not have the form asked for."""
    faults = validation_faults(found, prefixed=prefixed)
    kind = errors.InvalidInputError
    return problem(kind.slug, kind.title, kind.status, count(faults), faults)


def of_status(status: int, detail: str | None = None) -> dict[str, Any]:
    """Return the problem of a status that the framework itself answers."""
    slug, title, default = FRAMEWORK_PROBLEMS.get(status, ("refused", "Refused", "This was refused."))
    return problem(slug, title, status, detail or default)


def of_database(error: OperationalError) -> dict[str, Any]:
    """Return the problem of a database that cannot answer now; nothing of the request was stored."""
    says = str(error.orig).lower()
    return problem(*DATABASE_PROBLEMS[any(words in says for words in DISK_FULL)])


def install(app: FastAPI) -> None:
    """Make every error of the application a problem."""

    @app.exception_handler(ServiceError)
    def on_service_error(request: Request, error: ServiceError) -> Response:
        return respond(request.query_params, of_service(error))

    @app.exception_handler(CoreError)
    def on_core_error(request: Request, error: CoreError) -> Response:
        body = of_core(error, "parameter" if request.method in {"GET", "HEAD"} else "pointer")
        if body is None:
            raise error
        return respond(request.query_params, body)

    @app.exception_handler(RequestValidationError)
    def on_request_validation_error(request: Request, error: RequestValidationError) -> Response:
        return respond(request.query_params, of_validation(error.errors(), prefixed=True))

    @app.exception_handler(ValidationError)
    def on_validation_error(request: Request, error: ValidationError) -> Response:
        return respond(request.query_params, of_validation(error.errors(), prefixed=False))

    @app.exception_handler(HTTPException)
    def on_http_error(request: Request, error: HTTPException) -> Response:
        return respond(request.query_params, of_status(error.status_code), error.headers)

    @app.exception_handler(NoFreeConnectionError)
    def on_no_free_connection(request: Request, error: NoFreeConnectionError) -> Response:
        log.warning("connections", path=request.url.path, method=request.method, exc_info=error)
        return respond(request.query_params, problem(*DATABASE_PROBLEMS[False]), {"retry-after": "2"})

    @app.exception_handler(OperationalError)
    def on_operational_error(request: Request, error: OperationalError) -> Response:
        log.warning("database", path=request.url.path, method=request.method, exc_info=error)
        return respond(request.query_params, of_database(error), {"retry-after": "2"})

    @app.exception_handler(Exception)
    def on_bug(request: Request, error: Exception) -> Response:
        log.error("unhandled", path=request.url.path, method=request.method, exc_info=error)
        return respond({}, of_status(500))
