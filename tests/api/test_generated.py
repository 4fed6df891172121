"""Generated requests against the service's description: no fault of ours, nothing outside of it."""

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from api.routes.records import SERVED

ROOT = Path(__file__).parents[2]
CHECKS = (
    "not_a_server_error,status_code_conformance,content_type_conformance,response_schema_conformance,"
    "response_headers_conformance"
)


@pytest.fixture
def address(sqlite_url: str, tmp_path: Path) -> Iterator[str]:
    """A served application with one record of each resource."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    environment = os.environ | {"FITWORTH_DATABASE_URL": sqlite_url}
    command = [sys.executable, "-m", "uvicorn", "--factory", "api.main:create_app", "--port", str(port)]
    with (tmp_path / "server.log").open("wb") as log:
        server = subprocess.Popen(
            [*command, "--log-level", "error"], env=environment, cwd=ROOT, stdout=log, stderr=log
        )
    url = f"http://127.0.0.1:{port}"
    try:
        for _ in range(150):
            try:
                httpx.get(f"{url}/readyz").raise_for_status()
                break
            except httpx.HTTPError:
                time.sleep(0.1)
        for served in SERVED:
            httpx.post(f"{url}/v1/{served.resource.name}", json=dict(served.example)).raise_for_status()
        yield url
    finally:
        server.terminate()
        server.wait(timeout=20)


def send_generated(address: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Send the requests; again where the interpreter itself stumbled.

    Early releases of CPython 3.11 can fail so when two threads read functions' sources at once, as the
    generator does to show them (seen with 3.11.2; from memory, mended in 3.11.5).
    """
    command = [sys.executable, "-m", "schemathesis.cli", "run", f"{address}/openapi.json", "--checks", CHECKS]
    limits = ["--max-examples", "8", "--seed", "20261125", "--workers", "1"]
    for _ in range(3):
        done = subprocess.run(
            [*command, *limits], cwd=folder, capture_output=True, text=True, check=False, timeout=600
        )
        if "AST constructor recursion depth mismatch" not in done.stdout:
            break
    return done


def test_no_generated_request_breaks_the_service_or_its_description(address: str, tmp_path: Path) -> None:
    done = send_generated(address, tmp_path)
    assert done.returncode == 0, done.stdout[-8000:] + done.stderr[-2000:]
    passed = next(line for line in done.stdout.splitlines() if " generated, " in line)
    generated = int("".join(character for character in passed.split("generated")[0] if character.isdigit()))
    assert generated > 3000, passed
