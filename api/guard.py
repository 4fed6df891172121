"""What every request passes before a route sees it, as plain ASGI.

A page of another site can make a browser send requests to this machine (DNS rebinding, cross-site forms), so
only loopback host names are answered, and changes only from our own pages or from programs. Bodies are read
once, up to a limit, and checked (`strict_json`). HEAD is GET without its body.
"""

from collections.abc import Awaitable, Callable
from hashlib import sha256
from typing import Any
from urllib.parse import parse_qsl, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import Response
from starlette.routing import Match
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api import problems
from api.errors import (
    BodyTooLargeError,
    BodyTypeError,
    ForeignRequestError,
    InputFault,
    InvalidInputError,
    ServiceError,
)
from api.strict_json import check_json

LOOPBACK = frozenset({"127.0.0.1", "localhost", "::1"})
HEADER_LIMIT_BYTES = 16 * 1024
JSON_TYPES = frozenset({"application/json", "application/merge-patch+json"})
READS = frozenset({"GET", "HEAD", "OPTIONS"})

SECURITY_HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-resource-policy": "same-origin",
}


def check_head(scope: Scope) -> None:
    """Raise BodyTooLargeError for an address and headers longer than anybody needs."""
    length = len(scope.get("raw_path") or b"") + len(scope["query_string"])
    length += sum(len(name) + len(value) for name, value in scope["headers"])
    if length > HEADER_LIMIT_BYTES:
        raise BodyTooLargeError(
            f"Address and headers may have {HEADER_LIMIT_BYTES} bytes together; send less of them."
        )


def check_host(headers: Headers) -> None:
    """Raise ForeignRequestError unless the request names this machine, and a change comes from here."""
    host = headers.get("host", "")
    if host_name(f"//{host}") not in LOOPBACK:
        raise ForeignRequestError(
            "Only 127.0.0.1, localhost and [::1] are answered; open the page by one of them."
        )


def check_origin(headers: Headers) -> None:
    """Raise ForeignRequestError where another site's page asks for a change."""
    origin = headers.get("origin")
    if origin is not None and urlsplit(origin).netloc != headers.get("host"):
        raise ForeignRequestError("A page of another site may not change anything here.")


def host_name(url: str) -> str | None:
    """Return the host name of a URL, or None where it has none that can be read."""
    try:
        return urlsplit(url).hostname
    except ValueError:
        return None


def check_query(query: bytes) -> None:
    """Raise InvalidInputError for parameters with characters that no text has."""
    pairs = parse_qsl(query.decode("latin-1"), keep_blank_values=True)
    bad = [name for name, value in pairs if "\x00" in name + value]
    if bad:
        raise InvalidInputError(
            "A parameter has a NUL character.",
            [
                InputFault("This has a NUL character; leave it out.", "parameter", name.replace("\x00", ""))
                for name in bad
            ],
        )


async def read_body(receive: Receive, headers: Headers, limit: int) -> bytes:
    """Return the request's body.

    Raises:
        BodyTooLargeError: it is larger than the limit; the rest is not read.
    """
    refusal = BodyTooLargeError(f"At most {limit} bytes are read here; send less at a time.")
    declared = headers.get("content-length", "0")
    if declared.isdigit() and int(declared) > limit:
        raise refusal
    body = bytearray()
    while True:
        message = await receive()
        if message["type"] == "http.disconnect":
            return b""
        body += message.get("body", b"")
        if len(body) > limit:
            raise refusal
        if not message.get("more_body", False):
            return bytes(body)


def check_body(body: bytes, headers: Headers) -> None:
    """Raise the refusal that a body deserves before any route reads it."""
    if not body:
        return
    kind = headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind not in JSON_TYPES:
        raise BodyTypeError("Send JSON with the header Content-Type: application/json.")
    check_json(body)


def allowed(scope: Scope) -> list[str]:
    """Return the methods that a path takes."""
    routes = scope["app"].router.routes
    tried = ("GET", "POST", "PUT", "PATCH", "DELETE")
    taken = [
        method
        for method in tried
        if any(route.matches({**scope, "method": method})[0] is Match.FULL for route in routes)
    ]
    return [*taken, *(["HEAD"] if "GET" in taken else []), "OPTIONS"]


def replay(body: bytes) -> Callable[[], Awaitable[Message]]:
    """Return a receive function that hands out a body already read."""
    sent = False

    async def receive() -> Message:
        nonlocal sent
        if sent:
            return {"type": "http.disconnect"}
        sent = True
        return {"type": "http.request", "body": body, "more_body": False}

    return receive


class Guard:
    """The ASGI middleware that applies all of the above."""

    def __init__(self, app: ASGIApp, json_limit_bytes: int) -> None:
        self.app = app
        self.json_limit_bytes = json_limit_bytes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Check the request, pass it on, and set the headers that every answer has."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        method = scope["method"]
        headers = Headers(scope=scope)
        respond = with_headers(send, bodiless=method == "HEAD")
        try:
            check_head(scope)
            check_host(headers)
            check_query(scope["query_string"])
            if method not in READS:
                check_origin(headers)
                body = await read_body(receive, headers, self.json_limit_bytes)
                check_body(body, headers)
                receive = replay(body)
                scope["body_sha256"] = sha256(body).hexdigest()
        except ServiceError as error:
            query = dict(parse_qsl(scope["query_string"].decode("latin-1")))
            await problems.respond(query, problems.of_service(error))(scope, receive, respond)
            return
        if method == "OPTIONS":
            await Response(status_code=204, headers={"allow": ", ".join(allowed(scope))})(
                scope, receive, respond
            )
            return
        if method == "HEAD":
            scope = {**scope, "method": "GET"}
        await self.app(scope, receive, respond)


def with_headers(send: Send, *, bodiless: bool) -> Send:
    """Return a send function that adds the security headers, and drops the body of an answer to HEAD."""

    async def respond(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in SECURITY_HEADERS.items():
                headers.setdefault(name, value)
        elif bodiless and message["type"] == "http.response.body":
            more: Any = message.get("more_body", False)
            message = {"type": "http.response.body", "body": b"", "more_body": more}
        await send(message)

    return respond
