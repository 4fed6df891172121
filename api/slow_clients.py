"""A connection that does not stay open for a client which never ends its request.

The server alone waits for ever: a thousand half-sent requests would take all its sockets.
"""

import asyncio
from typing import ClassVar

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

AWAITING = frozenset({h11.IDLE, h11.SEND_BODY})  # states of a client that still has to send


class PromptProtocol(H11Protocol):
    """HTTP/1.1 that closes a connection where head and body of a request are not there in time."""

    REQUEST_WITHIN_S: ClassVar[float] = 10.0  # own choice: a mebibyte even over a slow wireless link
    _deadline: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Expect a request from now on."""
        super().connection_made(transport)
        self._expect()

    def handle_events(self) -> None:
        """Take in what came; the deadline stays where it is until the request is whole."""
        super().handle_events()
        begun = self.conn.their_state is h11.SEND_BODY or bool(self.conn.trailing_data[0])
        if begun and self.conn.their_state in AWAITING:
            self._expect()
        else:
            self._expect_nothing()

    def connection_lost(self, exc: Exception | None) -> None:
        """Expect nothing any more."""
        self._expect_nothing()
        super().connection_lost(exc)

    def _expect(self) -> None:
        if self._deadline is None:
            self._deadline = self.loop.call_later(self.REQUEST_WITHIN_S, self._give_up)

    def _expect_nothing(self) -> None:
        if self._deadline is not None:
            self._deadline.cancel()
            self._deadline = None

    def _give_up(self) -> None:
        self._deadline = None
        if self.conn.their_state in AWAITING:
            self.transport.abort()
