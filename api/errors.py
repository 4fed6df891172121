"""Errors of the service. Each has a slug (its stable name), a title and an HTTP status.

ServiceError
├── MissingError            404  nothing of that name, or deleted
├── ConflictError           409  it would stand against what is stored
├── StaleEditError          412  somebody else changed it since it was read
├── EditUnguardedError      428  an edit without If-Match
├── InvalidInputError       422  a value, a reference or a parameter is wrong
├── KeyReusedError          422  an Idempotency-Key came back with another request
├── MalformedBodyError      422  the body is not sound JSON
├── BodyTooLargeError       413
├── BodyTypeError           415
├── NotAcceptableError      406
└── ForeignRequestError     403  another host name, or another site's page
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar, Literal

Place = Literal["pointer", "parameter", "header", "path", "row"]


@dataclass(frozen=True, slots=True)
class InputFault:
    """One fault of a request: which part of it, the place there, and a sentence with the remedy."""

    detail: str
    place: Place | None = None
    at: str = ""
    column: str = ""

    def as_json(self) -> dict[str, str]:
        """Return the fault as an entry of a problem's `errors`."""
        entry: dict[str, str] = {} if self.place is None else {str(self.place): self.at}
        if self.column:
            entry["column"] = self.column
        return {**entry, "detail": self.detail}


class ServiceError(Exception):
    """The base: a refusal that the caller can understand and mend."""

    slug: ClassVar[str]
    title: ClassVar[str]
    status: ClassVar[int]

    def __init__(self, detail: str, faults: Iterable[InputFault] = ()) -> None:
        super().__init__(detail)
        self.detail = detail
        self.faults = tuple(faults)


class MissingError(ServiceError):
    """There is nothing of that name, or it was deleted."""

    slug, title, status = "not-found", "Not found", 404


class ConflictError(ServiceError):
    """It would stand against what is stored."""

    slug, title, status = "conflict", "In conflict with what is stored", 409


class StaleEditError(ServiceError):
    """Somebody else changed it since it was read."""

    slug, title, status = "stale-edit", "Changed by somebody else", 412


class EditUnguardedError(ServiceError):
    """An edit came without If-Match."""

    slug, title, status = "edit-unguarded", "If-Match is missing", 428


class InvalidInputError(ServiceError):
    """A value, a reference or a parameter is wrong."""

    slug, title, status = "invalid-input", "Something entered is wrong", 422


class KeyReusedError(ServiceError):
    """An Idempotency-Key came back with another request."""

    slug, title, status = "key-reused", "Idempotency-Key used for another request", 422


class MalformedBodyError(ServiceError):
    """The body is not sound JSON."""

    slug, title, status = "malformed-body", "The body is not sound JSON", 422


class BodyTooLargeError(ServiceError):
    """The body, or the head before it, is larger than accepted."""

    slug, title, status = "too-large", "Too large", 413


class BodyTypeError(ServiceError):
    """The body is of a type that is not read here."""

    slug, title, status = "unsupported-type", "Only JSON is read here", 415


class NotAcceptableError(ServiceError):
    """The answer cannot be given in the form asked for."""

    slug, title, status = "not-acceptable", "No such form of this answer", 406


class ForeignRequestError(ServiceError):
    """The request came by another host name, or from another site's page."""

    slug, title, status = "foreign-request", "Only from this machine", 403
