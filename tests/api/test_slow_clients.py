"""Clients that begin a request and never end it, on a real server in a thread."""

import socket
import time
from collections.abc import Iterator
from contextlib import closing, suppress
from http.client import HTTPConnection
from threading import Thread

import pytest
import uvicorn

from api.main import create_app
from api.settings import Settings
from api.slow_clients import PromptProtocol

WITHIN_S = 1.5  # long beside what a busy machine may stall
GET = b"GET /healthz HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"
POST = (
    b"POST /v1/machines HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\nContent-Length: 99"
)


class HastyProtocol(PromptProtocol):
    """The same with a deadline that a test can wait for."""

    REQUEST_WITHIN_S = WITHIN_S


@pytest.fixture
def port(sqlite_url: str) -> Iterator[int]:
    """The port of a running server."""
    app = create_app(Settings(database_url=sqlite_url))
    config = uvicorn.Config(app, port=0, http=HastyProtocol, log_level="error", timeout_keep_alive=30)
    server = uvicorn.Server(config)
    thread = Thread(target=server.run)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    own_port = server.servers[0].sockets[0].getsockname()[1]
    # The first request assembles the application; that must not hold up the deadlines that are measured.
    with closing(HTTPConnection("127.0.0.1", own_port)) as connection:
        connection.request("GET", "/healthz")
        connection.getresponse().read()
    yield own_port
    server.should_exit = True
    thread.join()


def seconds_open(connection: socket.socket) -> float:
    """Return how long a server keeps a connection open."""
    connection.settimeout(10 * WITHIN_S)
    began = time.perf_counter()
    try:
        while connection.recv(65_536):
            pass
    except ConnectionResetError:
        pass
    return time.perf_counter() - began


@pytest.mark.parametrize(
    "sent", [b"", b"GET / HT", GET[:-2], POST + b"\r\n\r\n{", GET + b"GET /"], ids=range(5)
)
def test_a_request_that_never_ends_is_given_up(port: int, sent: bytes) -> None:
    with socket.create_connection(("127.0.0.1", port)) as connection:
        connection.sendall(sent)
        assert seconds_open(connection) == pytest.approx(WITHIN_S, abs=WITHIN_S / 2)


def test_sending_a_byte_now_and_then_does_not_move_the_deadline(port: int) -> None:
    with socket.create_connection(("127.0.0.1", port)) as connection:
        began = time.perf_counter()
        with suppress(ConnectionError):
            for byte in GET:
                connection.sendall(bytes([byte]))
                time.sleep(WITHIN_S / 10)
        assert time.perf_counter() - began < 3 * WITHIN_S


def test_a_client_that_ends_its_requests_may_rest_between_them(port: int) -> None:
    with closing(HTTPConnection("127.0.0.1", port)) as connection:
        connection.auto_open = 0  # a second connection would prove nothing
        connection.connect()
        for _ in range(2):
            connection.request("GET", "/healthz")
            assert connection.getresponse().read() == b'{"status":"alive","revision":null}'
            time.sleep(2 * WITHIN_S)
