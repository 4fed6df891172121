"""`fitworth serve`: the page and the machine interface, on this machine only."""

import socket
from typing import Annotated

import typer
import uvicorn
from fastapi import FastAPI

from api.commands.refusals import read_settings
from api.commands.screen import notes, say
from api.database import open_database
from api.errors import InputFault, InvalidInputError
from api.guard import HEADER_LIMIT_BYTES, LOOPBACK
from api.main import create_app
from api.settings import Settings
from api.slow_clients import PromptProtocol

KEEP_ALIVE_S = 5
GRACE_S = 5  # for requests under way when the service is stopped

HostOption = Annotated[str | None, typer.Option(help="The address; only loopback.", show_default="127.0.0.1")]
PortOption = Annotated[int | None, typer.Option(help="The port.", min=1, max=65535, show_default="8000")]


def serve(
    host: HostOption = None,
    port: PortOption = None,
    workers: Annotated[
        int | None, typer.Option(help="Server processes.", min=1, max=64, show_default="1")
    ] = None,
) -> None:
    """Serve the page and the machine interface until Ctrl-C; the database is made or upgraded first."""
    settings = read_settings(host=host, port=port, workers=workers)
    check_address(settings)
    with open_database(settings) as database:
        if database.backup is not None:
            notes().print(f"The database was upgraded; as it was before, it lies in {database.backup}.")
    run(create_app(settings) if settings.workers == 1 else "api.main:create_app", settings)


def run(app: FastAPI | str, settings: Settings) -> None:
    """Serve an application until it is stopped."""
    say(f"Open {address(settings)} in a browser. Ctrl-C stops.")
    uvicorn.run(
        app,
        factory=isinstance(app, str),
        host=settings.host,
        port=settings.port,
        workers=settings.workers,
        http=PromptProtocol,
        h11_max_incomplete_event_size=HEADER_LIMIT_BYTES,
        timeout_keep_alive=KEEP_ALIVE_S,
        timeout_graceful_shutdown=GRACE_S,
        log_level=settings.log_level,
        access_log=settings.log_level == "debug",
        server_header=False,
    )


def check_address(settings: Settings) -> None:
    """Raise InvalidInputError for an address that is not this machine's own, or that is taken."""
    if settings.host not in LOOPBACK:
        raise InvalidInputError(
            "Only this machine is served.",
            [
                InputFault(
                    "Fitworth asks nobody for a key: at any other address than 127.0.0.1, localhost or ::1, "
                    "whoever reaches this machine could read and change your records.",
                    "parameter",
                    "host",
                )
            ],
        )
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    with socket.socket(family) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((settings.host, settings.port))
        except OSError as error:
            raise InvalidInputError(
                f"Port {settings.port} of {settings.host} cannot be used: {error.strerror}. "
                "Give another with --port."
            ) from error


def address(settings: Settings) -> str:
    """Return the URL of the page."""
    host = f"[{settings.host}]" if ":" in settings.host else settings.host
    return f"http://{host}:{settings.port}/"
