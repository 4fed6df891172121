"""What the service keeps when it is killed, crowded, or asked the same thing twice.

    python -P tests/benchmarks/durability.py [--kills 200] [--writes 10000] [--writers 8] [--edits 500]

Real server processes on a database of their own, spoken to over HTTP. Every write carries an Idempotency-Key
or an If-Match, and is sent again after a lost connection until it is answered. Nothing that was acknowledged
may be missing, nothing may be there twice, and every record must agree with its audit trail.
"""

import argparse
import json
import os
import random
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from functools import partial
from http.client import HTTPConnection, HTTPException
from itertools import count, pairwise
from pathlib import Path
from threading import Barrier, Event, Lock
from typing import Any, Self, TypeVar

ROOT = Path(__file__).resolve().parents[2]
HOST = "127.0.0.1"
READY_WITHIN_S = 60.0
ANSWER_WITHIN_S = 30.0
LIFE_S = (0.02, 0.6)  # how long a server may work before it is killed
SEED = 20261125
WORKERS = 4

T = TypeVar("T")
Body = dict[str, Any]
LOST_CONNECTION = (OSError, HTTPException)


class Server:
    """A server process on a database, to be killed and started again at the same port."""

    def __init__(self, database_url: str, folder: Path, **settings: str) -> None:
        self.port = free_port()
        self._environment = {
            **os.environ,
            **settings,
            "FITWORTH_DATABASE_URL": database_url,
            "FITWORTH_LOG_LEVEL": "warning",
        }
        self.log = folder / "server.log"
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it and return once it is ready."""
        command = [sys.executable, "-P", "-m", "api.cli", "serve", "--port", str(self.port)]
        with self.log.open("ab") as log:
            self._process = subprocess.Popen(
                command, cwd=ROOT, env=self._environment, stdout=log, stderr=log, start_new_session=True
            )
        give_up = time.monotonic() + READY_WITHIN_S
        while time.monotonic() < give_up:
            with suppress(*LOST_CONNECTION), Client(self.port) as client:
                if client.send("GET", "/readyz").status == 200:
                    return
            time.sleep(0.05)
        raise TimeoutError(self.log.read_text())

    def kill(self, how: signal.Signals = signal.SIGKILL) -> None:
        """End it, by default without warning."""
        if self._process is not None:
            self._process.send_signal(how)
            self._process.wait()
            self._process = None


@dataclass(frozen=True, slots=True)
class Answer:
    """A response."""

    status: int
    headers: Mapping[str, str]
    body: Any


class Client:
    """One connection to a server; for one thread."""

    def __init__(self, port: int) -> None:
        self._connection = HTTPConnection(HOST, port, timeout=ANSWER_WITHIN_S)
        self.lost_answers = 0

    def __enter__(self) -> Self:
        """Return it, to be closed at the end of the block."""
        return self

    def __exit__(self, *_: object) -> None:
        """Close the connection."""
        self._connection.close()

    def send(self, method: str, path: str, body: Body | None = None, **headers: str) -> Answer:
        """Return the answer to one request; a lost connection is raised, and opened anew by the next."""
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        content = None if body is None else json.dumps(body).encode()
        if content is not None:
            sent["content-type"] = "application/json"
        try:
            self._connection.request(method, path, content, sent)
            response = self._connection.getresponse()
            raw = response.read()
        except LOST_CONNECTION:
            self._connection.close()
            raise
        found = {name.lower(): value for name, value in response.getheaders()}
        return Answer(response.status, found, json.loads(raw) if raw else None)

    def insist(self, method: str, path: str, body: Body | None = None, **headers: str) -> Answer:
        """Return the answer, sending the request again for as long as the connection is lost."""
        give_up = time.monotonic() + 2 * READY_WITHIN_S
        while True:
            try:
                return self.send(method, path, body, **headers)
            except LOST_CONNECTION as error:
                if time.monotonic() > give_up:
                    raise
                self.lost_answers += not isinstance(error, ConnectionRefusedError)
                time.sleep(0.02)


def free_port() -> int:
    """Return a port that nobody uses."""
    with socket.socket() as probe:
        probe.bind((HOST, 0))
        port: int = probe.getsockname()[1]
        return port


@contextmanager
def serving(database_url: str, folder: Path, **settings: str) -> Iterator[Server]:
    """Yield a ready server that is ended afterwards, as Ctrl-C ends it."""
    server = Server(database_url, folder, **settings)
    try:
        server.start()
        yield server
    finally:
        server.kill(signal.SIGINT)


@dataclass
class Kept:
    """What is left after kills.

    Attributes:
        kills: how often the server was killed.
        acknowledged: writes that were answered as done.
        unheard: writes that the server was killed over: whether they were stored, nobody was told.
        lost: numbers of acknowledged parts or edits that are missing.
        doubled: numbers that are there twice.
        torn: numbers whose record, audit trail and look-up do not agree.
        unexpected: statuses that no write should get.
    """

    kills: int = 0
    acknowledged: int = 0
    unheard: int = 0
    lost: list[str] = field(default_factory=list)
    doubled: list[str] = field(default_factory=list)
    torn: list[str] = field(default_factory=list)
    unexpected: Counter[int] = field(default_factory=Counter)


class Writers:
    """Threads that create parts and edit each once, whatever happens to the server."""

    def __init__(self, port: int) -> None:
        self._port = port
        self._numbers = count(1)
        self._lock = Lock()
        self.done = Event()
        self.edited: dict[str, str] = {}
        self.acknowledged = 0
        self.unheard = 0
        self.unexpected: Counter[int] = Counter()

    def work(self) -> None:
        """Write until told that it is enough; a write under way is brought to its end."""
        with Client(self._port) as client:
            while not self.done.is_set():
                with self._lock:
                    number = f"D-{next(self._numbers):06}"
                self._write(client, number)
        with self._lock:
            self.unheard += client.lost_answers

    def _write(self, client: Client, number: str) -> None:
        # Without a number of its own a part may stand on file twice: only the key prevents it.
        body = {
            "family": "carburetor",
            "maker": "Quillon",
            "grade": "oem",
            "other_numbers": [number],
            "dimensions": {"throttle_bore": "19.0 mm"},
            "includes": ["mounting_gasket"],
        }
        created = client.insist("POST", "/v1/parts", body, Idempotency_Key=number)
        if created.status != 201:
            self._count(created.status)
            return
        part = f"/v1/parts/{created.body['id']}"
        patched = client.insist("PATCH", part, {"notes": number}, If_Match='"1"')
        with self._lock:
            self.acknowledged += 1 + (patched.status == 200)
            self.edited[created.body["id"]] = number
        # Stale: the edit was stored and its answer lost with the server.
        if patched.status not in {200, 412}:
            self._count(patched.status)

    def _count(self, status: int) -> None:
        with self._lock:
            self.unexpected[status] += 1


def measure_kills(folder: Path, *, kills: int, writes: int) -> Kept:
    """Return what was kept over so many kills and at least so many acknowledged writes."""
    chance = random.Random(SEED)  # noqa: S311 - when to kill is no secret
    with serving(f"sqlite:///{folder / 'killed.sqlite'}", folder) as server:
        writers = Writers(server.port)
        with ThreadPoolExecutor(WORKERS) as pool:
            threads = [pool.submit(writers.work) for _ in range(WORKERS)]
            try:
                for _ in range(kills):
                    time.sleep(chance.uniform(*LIFE_S))
                    server.kill()
                    server.start()
                while writers.acknowledged < writes and not all(thread.done() for thread in threads):
                    time.sleep(0.05)
            finally:
                writers.done.set()
        for thread in threads:
            thread.result()
        with Client(server.port) as client:
            kept = look_after(client, writers.edited)
    kept.kills, kept.acknowledged, kept.unheard = kills, writers.acknowledged, writers.unheard
    kept.unexpected += writers.unexpected
    return kept


def look_after(client: Client, edited: Mapping[str, str]) -> Kept:
    """Return what is missing, doubled or torn among the parts that were created and edited."""
    kept = Kept()
    stored: dict[str, Body] = {}
    path: str | None = "/v1/parts?limit=500"
    while path is not None:
        page = client.send("GET", path).body
        stored |= {item["id"]: item for item in page["items"]}
        path = page["next_cursor"] and f"/v1/parts?limit=500&cursor={page['next_cursor']}"
    times = Counter(item["other_numbers"][0] for item in stored.values())
    kept.doubled = [number for number, here in times.items() if here > 1]
    for part_id, number in edited.items():
        item = stored.get(part_id)
        if item is None or item["other_numbers"] != [number] or item["notes"] != number:
            kept.lost.append(number)
    changes = 0
    for part_id, item in stored.items():
        history = client.send("GET", f"/v1/parts/{part_id}/history").body["items"]
        changes += len(history)
        if not agrees(item, history):
            kept.torn.append(item["other_numbers"][0])
    if client.send("GET", "/readyz").body["revision"] != changes:
        kept.torn.append("the catalogue's revision")
    for number in random.Random(SEED).sample(sorted(times), min(50, len(times))):  # noqa: S311 - a sample
        found = client.send("GET", f"/v1/numbers?like={number}&limit=1").body["items"]
        if [one["number"] for one in found] != [number]:
            kept.torn.append(number)
    return kept


def agrees(item: Body, history: list[Body]) -> bool:
    """Return whether a record is what its audit trail says, from the first line to the last."""
    shown = {name: item[name] for name in history[-1]["after"]}
    chained = all(old["after"] == new["before"] for old, new in pairwise(history))
    versions = [line["version"] for line in history]
    whole = versions == list(range(1, item["version"] + 1))
    return whole and chained and history[-1]["after"] == shown and history[0]["action"] == "create"


@dataclass
class Crowd:
    """What became of writers at once on one record."""

    edits: int
    counted: int
    version: int
    changes: int
    answers: Counter[int]
    spent_s: float


MACHINE = {
    "name": "TL-07 tiller",
    "worth_running": {"amount": "190.00", "currency": "USD"},
    "worth_as_is": {"amount": "35.00", "currency": "USD"},
    "seasons": 1,
}


def measure_crowd(database_url: str, folder: Path, *, writers: int, edits: int) -> Crowd:
    """Return what became of so many writers, each of which adds one to a record so many times."""
    with serving(database_url, folder) as server, Client(server.port) as first:
        machine = f"/v1/machines/{first.send('POST', '/v1/machines', MACHINE).body['id']}"
        barrier = Barrier(writers)

        def add_up() -> Counter[int]:
            answers = Counter[int]()
            with Client(server.port) as client:
                barrier.wait()
                while answers[200] < edits and answers.keys() <= {200, 412}:
                    read = client.send("GET", machine)
                    more = {"seasons": read.body["seasons"] + 1}
                    edited = client.send("PATCH", machine, more, If_Match=read.headers["etag"])
                    answers[edited.status] += 1
            return answers

        began = time.perf_counter()
        answers = sum(at_once(writers, add_up), Counter[int]())
        spent_s = time.perf_counter() - began
        read = first.insist("GET", machine).body
        changes = len(first.insist("GET", f"{machine}/history").body["items"])
    return Crowd(writers * edits, int(read["seasons"]) - 1, read["version"], changes, answers, spent_s)


def measure_twins(database_url: str, folder: Path, *, senders: int, keys: int) -> list[str]:
    """Return what went wrong where so many send the same create at once, under each of so many keys."""
    wrong = []
    with serving(database_url, folder) as server, Client(server.port) as client:
        for key in range(keys):
            answers = at_once(senders, partial(send_twin, server.port, Barrier(senders), f"key {key}"))
            if {answer.status for answer in answers} != {201}:
                wrong.append(f"key {key}: statuses {sorted(answer.status for answer in answers)}")
            if any(answer.body != answers[0].body for answer in answers):
                wrong.append(f"key {key}: different answers")
        stored = len(client.insist("GET", "/v1/machines?limit=500").body["items"])
    return [*wrong, *([] if stored == keys else [f"{stored} records under {keys} keys"])]


def send_twin(port: int, barrier: Barrier, key: str) -> Answer:
    """Return the answer to a create that others send too at this moment."""
    with Client(port) as client:
        barrier.wait()
        return client.send("POST", "/v1/machines", MACHINE, Idempotency_Key=key)


def at_once(number: int, work: Callable[[], T]) -> list[T]:
    """Return what so many threads make of the same work."""
    with ThreadPoolExecutor(number) as pool:
        return [thread.result() for thread in [pool.submit(work) for _ in range(number)]]


def main() -> None:
    """Measure at full size and print a line each."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--writes", type=int, default=10_000)
    parser.add_argument("--writers", type=int, default=8)
    parser.add_argument("--edits", type=int, default=500)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        kept = measure_kills(folder, kills=asked.kills, writes=asked.writes)
        say(
            f"{kept.kills} kills, {kept.acknowledged} acknowledged writes, {kept.unheard} killed on the way: "
            f"{len(kept.lost)} lost, {len(kept.doubled)} doubled, {len(kept.torn)} torn, "
            f"unexpected answers {dict(kept.unexpected)}"
        )
        url = f"sqlite:///{folder / 'crowd.sqlite'}"
        crowd = measure_crowd(url, folder, writers=asked.writers, edits=asked.edits)
        say(
            f"{asked.writers} writers x {asked.edits} edits: {crowd.counted} of {crowd.edits} counted, "
            f"version {crowd.version}, {crowd.changes} lines of audit, answers {dict(crowd.answers)}, "
            f"{crowd.spent_s:.0f} s"
        )
        twins = measure_twins(f"sqlite:///{folder / 'twins.sqlite'}", folder, senders=8, keys=100)
        say(f"8 x the same create under 100 keys: {'; '.join(twins) or 'each done once'}")


def say(line: str) -> None:
    """Print a line at once: the next one can take minutes."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
