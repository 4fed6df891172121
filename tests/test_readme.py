"""The README does what it says: its commands are run in order, and what they print is held against it.

In a block marked `console`, lines that begin with `$ ` are commands, the others what they print. A line `...`
stands for any number of lines, `...` inside a line for a piece of it. Dates and blank lines may differ.
`python3 start.py run` is run without the set-up, `curl` by what it would send.
"""

import importlib.util
import os
import re
import shlex
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import quote

import httpx
import pytest
from typer.testing import CliRunner

from api.cli import app
from api.pages.words import say_value
from api.services.knowledge import load_knowledge
from fitworth.errors import InvalidValueError
from fitworth.matching.measurements import read_value, write_value

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
SHOWN_ADDRESS = "http://127.0.0.1:8000"
SHOWN_FOLDER = "/tmp/"  # noqa: S108 - replaced by a folder of the test's own
LONGEST_LINE = 125
START_TIMEOUT_S = 60

FENCE = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
NARROW = re.compile("[\u00a0\u2009\u202f]")  # blanks between a number and its unit


@dataclass(frozen=True)
class Step:
    """A command and the lines that it is said to print."""

    command: str
    shown: tuple[str, ...]


def blocks(language: str) -> list[str]:
    return [body for name, body in FENCE.findall(README) if name == language]


def read_steps(block: str) -> list[Step]:
    steps: list[Step] = []
    for line in block.replace("\\\n", " ").splitlines():
        if line.startswith("$ "):
            steps.append(Step(line.removeprefix("$ "), ()))
        else:
            steps[-1] = Step(steps[-1].command, (*steps[-1].shown, line))
    return steps


STEPS = [step for block in blocks("console") for step in read_steps(block)]


@dataclass
class Bench:
    """Where the README's commands are run: a folder, an environment, a running service."""

    folder: Path
    stack: ExitStack
    environment: dict[str, str] = field(default_factory=dict)
    address: str = ""

    def run(self, command: str) -> tuple[str, int]:
        """Run one line; return what it prints and its exit code."""
        words = shlex.split(command)
        own: dict[str, str] = {}
        while re.fullmatch(r"[A-Z_]+=.*", words[0]):
            own |= self.assigned(words.pop(0))
        match words:
            case ["export", assignment]:
                self.environment |= self.assigned(assignment)
                return "", 0
            case ["python3", "start.py", "run", "serve"]:
                return self.serve(), 0
            case ["python3", "start.py", "run", *arguments]:
                return self.command_line(arguments, own)
            case ["python3", "start.py", "--no-serve"]:
                return self.command_line(["demo", "--no-serve"], own)
            case ["python3", "start.py", *arguments]:
                return self.set_up(arguments)
            case ["python3", script]:
                return self.script(script)
            case ["curl", *arguments]:
                return self.curl(arguments), 0
        message = f"nobody knows how to run: {command}"
        raise AssertionError(message)

    def assigned(self, assignment: str) -> dict[str, str]:
        name, _, value = assignment.partition("=")
        return {name: value.replace(SHOWN_FOLDER, f"{self.folder}/")}

    def command_line(self, arguments: list[str], own: Mapping[str, str]) -> tuple[str, int]:
        found = CliRunner().invoke(app, arguments, env={**self.environment, **own}, prog_name="fitworth")
        return found.output, found.exit_code

    def set_up(self, arguments: list[str]) -> tuple[str, int]:
        """Only look whether start.py knows the line: it would install what these tests run in."""
        spec = importlib.util.spec_from_file_location("start", ROOT / "start.py")
        assert spec is not None
        assert spec.loader is not None
        start: Any = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(start)
        known = re.findall(r"^python3 start\.py ?(\w*)", start.__doc__, re.MULTILINE)
        assert " ".join(arguments) in known, f"start.py knows {known}"
        return "", 0

    def serve(self) -> str:
        """Start the service as its command does, on a port that is free."""
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
        process = self.stack.enter_context(
            subprocess.Popen(
                [sys.executable, "-P", "-m", "api.cli", "serve"],
                env={**os.environ, **self.environment, "FITWORTH_PORT": str(port)},
                cwd=ROOT,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                text=True,
            )
        )
        self.stack.callback(process.terminate)
        self.address = f"http://127.0.0.1:{port}"
        assert process.stdout is not None
        printed = process.stdout.readline()
        until = time.monotonic() + START_TIMEOUT_S
        while time.monotonic() < until:
            try:
                httpx.get(f"{self.address}/healthz").raise_for_status()
            except httpx.HTTPError:
                time.sleep(0.05)
            else:
                return printed
        message = "the service did not begin to answer"
        raise AssertionError(message)

    def script(self, name: str) -> tuple[str, int]:
        """Run the script that the README shows under this name."""
        (text,) = (body for body in blocks("python") if body.startswith(f"# {name}\n"))
        file = self.folder / name
        file.write_text(text.replace(SHOWN_ADDRESS, self.address), encoding="utf-8")
        done = subprocess.run(
            [sys.executable, "-I", str(file)], capture_output=True, text=True, check=False, timeout=60
        )
        return done.stdout + done.stderr, done.returncode

    def curl(self, arguments: list[str]) -> str:
        """Send what curl would, with -s, -G, -d and --json; return the answer's body."""
        url = ""
        data: list[str] = []
        body: str | None = None
        left = iter(arguments)
        for word in left:
            match word:
                case "-s" | "-G":
                    pass
                case "-d":
                    data.append(next(left))
                case "--json":
                    body = (ROOT / next(left).removeprefix("@")).read_text(encoding="utf-8")
                case _:
                    url = word
        asked = url if not data else f"{url}?{'&'.join(data)}"
        assert bool(data) == ("-G" in arguments), "with -d alone curl sends a form"
        return self.send(asked, body).text

    def send(self, url: str, body: str | None = None) -> httpx.Response:
        """Send a request to the running service for an address as the README shows it."""
        here = url.replace(SHOWN_ADDRESS, self.address)
        if body is None:
            return httpx.get(here, timeout=30)
        headers = {"content-type": "application/json"}
        return httpx.post(here, content=body.encode(), headers=headers, timeout=30)


@dataclass(frozen=True)
class Walk:
    """The README's commands, run one after the other."""

    bench: Bench
    printed: tuple[str, ...]
    codes: tuple[int, ...]


@pytest.fixture(scope="module")
def walk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Walk]:
    with ExitStack() as stack:
        patch = stack.enter_context(pytest.MonkeyPatch.context())
        for name in [name for name in os.environ if name.startswith("FITWORTH_")]:
            patch.delenv(name)
        patch.delenv("FORCE_COLOR", raising=False)
        patch.setenv("COLUMNS", "80")
        patch.setenv("PYTHONUTF8", "1")
        patch.setenv("XDG_DATA_HOME", str(tmp_path_factory.mktemp("home")))
        patch.chdir(ROOT)
        bench = Bench(tmp_path_factory.mktemp("tour"), stack)
        runs = [bench.run(step.command) for step in STEPS]
        yield Walk(
            bench,
            tuple(printed.replace(bench.address or SHOWN_ADDRESS, SHOWN_ADDRESS) for printed, _ in runs),
            tuple(code for _, code in runs),
        )


def levelled(lines: list[str] | tuple[str, ...]) -> list[str]:
    """Return lines without blank ones, blanks at their ends, and the days on which they were printed."""
    return [DATE.sub("2026-11-25", NARROW.sub(" ", line).rstrip()) for line in lines if line.strip()]


def pattern(shown: list[str]) -> str:
    return "".join(
        r"(?:.*\n)*?" if line == "..." else f"{'.*'.join(map(re.escape, line.split('...')))}\\n"
        for line in shown
    )


def find_stale(shown: list[str], printed: str) -> str | None:
    """Return the first line that is shown and was not printed, or None."""
    if re.fullmatch(pattern(shown), printed):
        return None
    for count, line in enumerate(shown, start=1):
        if not re.match(pattern(shown[:count]), printed):
            return line
    return "(what was printed goes on)"


@pytest.mark.parametrize("place", range(len(STEPS)), ids=[step.command[:60] for step in STEPS])
def test_each_command_prints_what_the_readme_shows(place: int, walk: Walk) -> None:
    shown = levelled(STEPS[place].shown)
    printed = levelled(walk.printed[place].splitlines())
    if not shown:
        assert walk.codes[place] == 0, walk.printed[place]
        return
    stale = find_stale(shown, "".join(f"{line}\n" for line in printed))
    assert stale is None, f"stale from: {stale}\nprinted:\n{walk.printed[place]}"


def test_a_line_that_is_not_printed_is_found() -> None:
    assert find_stale(["one", "...", "three"], "one\ntwo\nthree\n") is None
    assert find_stale(["one", "...", "four"], "one\ntwo\nthree\n") == "four"
    assert find_stale(["one"], "one\ntwo\n") == "(what was printed goes on)"
    assert find_stale(["o...e, t..."], "one, two\n") is None


def test_every_address_that_can_be_opened_answers(walk: Walk) -> None:
    prose = FENCE.sub("", README)
    addresses = set(re.findall(rf"<({re.escape(SHOWN_ADDRESS)}[^>]*)>", prose))
    assert len(addresses) >= 3
    for address in addresses:
        answer = walk.bench.send(address)
        assert answer.status_code == 200, address
    (kept,) = (address for address in addresses if "throttle_bore" in address)
    assert "Ostler" in walk.bench.send(kept).text


def test_the_formula_fetches_what_the_readme_says_the_cell_gets(walk: Walk) -> None:
    (formula,) = (line for block in blocks("text") for line in block.splitlines() if "WEBSERVICE" in line)
    cells = {"A2": "22.0 mm", "B2": "1 57/64 in", "C2": "68.0 mm"}
    filled = re.sub(r'"&ENCODEURL\((\w+)\)&"', lambda found: quote(cells[found[1]], safe=""), formula)
    address = re.fullmatch(r'=WEBSERVICE\("([^"]*)"\)', filled)
    assert address is not None, "the formula's quotes do not pair"
    answer = walk.bench.send(address[1])
    assert answer.headers["content-type"] == "text/plain; charset=utf-8"
    shown = [step.shown[0] for step in STEPS if "field=/fits/0/fit_confidence" in step.command]
    assert answer.text == shown[0]


READINGS = re.findall(r"^\| `([^`]+)` \| (refused: .*|\d.*mm.*) \|$", README, re.MULTILINE)


@pytest.mark.parametrize(("written", "said"), READINGS, ids=[written for written, _ in READINGS])
def test_a_value_is_read_as_the_readme_says(written: str, said: str) -> None:
    body_length = load_knowledge(None).families["carburetor"].by_key["body_length"]
    refused = said.removeprefix("refused: ")
    if refused != said:
        with pytest.raises(InvalidValueError) as caught:
            read_value(body_length, written)
        assert refused in caught.value.faults[0].says
        return
    read = say_value(body_length, write_value(body_length, read_value(body_length, written)))
    assert " ".join(read.split()) == said


def test_the_table_of_readings_is_there() -> None:
    assert len(READINGS) >= 10


def test_the_family_shown_is_that_of_the_file() -> None:
    (excerpt,) = blocks("toml")
    file = (ROOT / "seed_data/families/oil_level_switch.toml").read_text(encoding="utf-8")
    for piece in excerpt.split("...\n"):
        assert piece in file


def test_what_is_linked_or_named_is_there() -> None:
    links = re.findall(r"\]\(([^)]+)\)", README)
    named = re.findall(r"\b(?:examples|seed_data|docs)/[\w./-]*\w", README)
    headings = {
        re.sub(r"[^\w -]", "", heading).lower().replace(" ", "-")
        for heading in re.findall(r"^#+ (.*)$", README, re.MULTILINE)
    }
    assert links
    assert named
    for target in {*links, *named}:
        if target.startswith("#"):
            assert target[1:] in headings, target
        else:
            assert (ROOT / target).exists(), target


def test_no_example_is_left_unmentioned() -> None:
    for file in (ROOT / "examples").iterdir():
        assert f"examples/{file.name}" in README


def test_lines_are_short_but_for_what_programs_need_whole() -> None:
    long = [line for line in README.splitlines() if len(line) > LONGEST_LINE and "WEBSERVICE" not in line]
    assert long == []
