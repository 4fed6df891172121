"""What routes ask for: a call to read or to write with, the form of the answer, the edit's guard."""

from collections.abc import Iterator
from typing import Annotated

from fastapi import Depends, Header, Request

from api.database import open_call
from api.errors import EditUnguardedError, InputFault, InvalidInputError
from api.services.call import Call
from api.services.fits import FitService
from api.services.knowledge import Knowledge
from api.services.resource import LONGEST_ID
from api.tabular import Form, choose_form

LONGEST_KEY = 255  # characters of an Idempotency-Key


def read_call(request: Request) -> Iterator[Call]:
    """Yield a call that only reads."""
    with open_call(request.app.state.readers, request.app.state.knowledge) as call:
        yield call


def write_call(request: Request) -> Iterator[Call]:
    """Yield a call that may write; it commits when the route has returned, and before the answer leaves."""
    with open_call(request.app.state.writers, request.app.state.knowledge, request.app.state.fits) as call:
        yield call


def knowledge_of(request: Request) -> Knowledge:
    """Return what the program knows without its database."""
    knowledge: Knowledge = request.app.state.knowledge
    return knowledge


def fits_of(request: Request) -> FitService:
    """Return the service that keeps the catalogues in memory."""
    fits: FitService = request.app.state.fits
    return fits


def form_of(request: Request) -> Form:
    """Return the form in which the answer is wanted."""
    return choose_form(request.query_params, request.headers.get("accept", ""))


def if_match(value: Annotated[str | None, Header(alias="If-Match", max_length=200)] = None) -> int | None:
    """Return the version that an edit was made from, or None for `*`.

    Raises:
        EditUnguardedError: the header is missing.
        InvalidInputError: it is no ETag of ours.
    """
    if value is None:
        raise EditUnguardedError(
            "Read it first, then send its ETag in the header If-Match, so that nobody's edit is overwritten.",
            [InputFault("This header is missing; it holds the ETag of what you read.", "header", "If-Match")],
        )
    tag = value.strip()
    if tag == "*":
        return None
    digits = tag.removeprefix("W/").strip('"')
    if not (digits.isascii() and digits.isdigit() and len(digits) <= LONGEST_ID):
        raise InvalidInputError(
            "The If-Match header is no ETag of this service.",
            [InputFault('This must be the ETag as it came, such as "3".', "header", "If-Match")],
        )
    return int(digits)


def idempotency_key(
    value: Annotated[str | None, Header(alias="Idempotency-Key", max_length=1000)] = None,
) -> str | None:
    """Return the key under which a create may be sent again without doing it twice."""
    if value is not None and not (0 < len(value) <= LONGEST_KEY and value.isascii() and value.isprintable()):
        raise InvalidInputError(
            "The Idempotency-Key cannot be used.",
            [InputFault("This must be 1 to 255 printable ASCII characters.", "header", "Idempotency-Key")],
        )
    return value


# The scope closes the session, and so commits, before the answer leaves: a failed commit is never a 201.
Reading = Annotated[Call, Depends(read_call, scope="function")]
Writing = Annotated[Call, Depends(write_call, scope="function")]
KnowledgeOf = Annotated[Knowledge, Depends(knowledge_of)]
FitsOf = Annotated[FitService, Depends(fits_of)]
FormOf = Annotated[Form, Depends(form_of)]
IfMatch = Annotated[int | None, Depends(if_match)]
IdempotencyKey = Annotated[str | None, Depends(idempotency_key)]
