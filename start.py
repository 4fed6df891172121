#!/usr/bin/env python3
"""Set up Fitworth and start it; needs nothing but Python itself.

python3 start.py [ARGS]        set up, run the demonstration (ARGS such as --no-serve go to it)
python3 start.py run ARGS      the command line
python3 start.py test [ARGS]   set up with the developers' tools, run the tests (ARGS go to pytest)
python3 start.py check [ARGS]  all that a change must pass: format, lint, types, imports, tests, coverage

Old Pythons can read this file too, so that they can say which one is needed.
"""

import hashlib
import importlib.util
import json
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path
from typing import Any, Dict, List, NamedTuple, Optional, Sequence, Tuple

ROOT = Path(__file__).resolve().parent
OLDEST = (3, 11)
CHROMIUMS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
CORE_COVERAGE, WHOLE_COVERAGE = 100, 95  # percent of lines and branches

Command = List[str]
Stamp = Dict[str, Any]


class Way(NamedTuple):
    """One way to make or complete the environment: its name and its commands in order."""

    name: str
    commands: List[Command]


class SetUpError(Exception):
    """The environment could not be made; the text says what was tried and what would help."""


def refuse_python(version: Tuple[int, ...]) -> Optional[str]:
    """Return what to tell the user of a Python that is too old, or None."""
    if version[:2] >= OLDEST:
        return None
    needed, here = (".".join(map(str, numbers)) for numbers in (OLDEST, version[:3]))
    return f"Python {needed} or newer is needed; {sys.executable} is {here}."


def interpreter_in(venv: Path, system: str = os.name) -> Path:
    """Return where an environment keeps its Python."""
    return venv / "Scripts" / "python.exe" if system == "nt" else venv / "bin" / "python"


def version_in(venv: Path) -> Optional[str]:
    """Return the version of an environment's Python as "3.11", or None if it does not start."""
    program = "import sys; print('%d.%d' % sys.version_info[:2])"
    try:
        answer = subprocess.run(
            [str(interpreter_in(venv)), "-I", "-c", program], stdout=subprocess.PIPE, check=True, timeout=60
        )
    except (OSError, subprocess.SubprocessError):
        return None
    return answer.stdout.decode().strip()


def stamp_for(root: Path, groups: Sequence[str], version: Tuple[int, ...]) -> Stamp:
    """Return what a finished environment of this checkout says of itself."""
    return {
        "pyproject": hashlib.sha256((root / "pyproject.toml").read_bytes()).hexdigest(),
        "place": str(root),
        "python": f"{version[0]}.{version[1]}",
        "groups": sorted(groups),
        "complete": True,
    }


def stamp_file(venv: Path) -> Path:
    """Return where the stamp lies."""
    return venv / "fitworth-stamp.json"


def read_stamp(venv: Path) -> Optional[Stamp]:
    """Return an environment's stamp, or None where there is none that can be read."""
    try:
        found = json.loads(stamp_file(venv).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return found if isinstance(found, dict) else None


def decide(present: bool, version: Optional[str], found: Optional[Stamp], wanted: Stamp) -> Tuple[str, str]:
    """Return "ready", "install" (over what is there) or "build" (from nothing), and why.

    An environment without a stamp was made by hand: it is completed, not thrown away.
    """
    if not present:
        return "build", "there is no .venv yet"
    if version is None:
        return "build", "the Python in .venv does not start"
    if version != wanted["python"]:
        return "build", f"the .venv has Python {version}, this is {wanted['python']}"
    if found is None:
        return "install", "the .venv was not made by start.py"
    if found.get("place") != wanted["place"]:
        return "build", f"the .venv was made for another folder, {found.get('place')}"
    if not found.get("complete"):
        return "build", "an earlier set-up did not finish"
    if found.get("pyproject") != wanted["pyproject"]:
        return "install", "pyproject.toml has changed"
    missing = sorted(set(wanted["groups"]) - set(found.get("groups", [])))
    if missing:
        return "install", "tools are missing: " + ", ".join(missing)
    return "ready", "nothing to do"


def base_python() -> str:
    """Return a Python outside any environment, since ours may be the one to be rebuilt."""
    return str(getattr(sys, "_base_executable", None) or sys.executable)


def ways(action: str, root: Path, groups: Sequence[str], uv: Optional[str], with_pip: bool) -> List[Way]:
    """Return the ways to try, fastest first; without uv and without ensurepip there is none."""
    venv = root / ".venv"
    python = str(interpreter_in(venv))
    goods = ["-e", str(root)]
    for group in groups:
        goods += ["--group", group]
    found = []
    if uv:
        make = [[uv, "venv", "-q", "--python", base_python(), str(venv)]] if action == "build" else []
        found.append(Way("uv", [*make, [uv, "pip", "install", "-q", "--python", python, *goods]]))
    if with_pip:
        pip = [python, "-m", "pip", "install", "-q", "--disable-pip-version-check", "--no-input"]
        make = [[base_python(), "-m", "venv", str(venv)]] if action == "build" else []
        newer_pip = [[*pip, "pip>=25.1"]] if groups else []  # older ones do not know --group
        found.append(Way("venv and pip", [*make, *newer_pip, [*pip, *goods]]))
    return found


def can_seed_pip() -> bool:
    """Return whether this Python can put pip into an environment; Debian's needs a package for that."""
    try:
        return importlib.util.find_spec("ensurepip.__main__") is not None
    except ImportError:
        return False


def advice_without_ensurepip(version: Tuple[int, ...], has_apt: bool, is_root: bool) -> str:
    """Return what to do about a Python that cannot make environments."""
    says = "This Python cannot make an environment for Fitworth: its module ensurepip is missing."
    if not has_apt:
        return says + " Install it with your system's package manager, or install uv."
    sudo = "" if is_root else "sudo "
    return says + f" This line brings it:\n\n    {sudo}apt install python{version[0]}.{version[1]}-venv\n"


def say(text: str) -> None:
    """Print a line at once, so that it stands before what a command prints."""
    print(text, flush=True)


def call(command: Command, folder: Optional[Path] = None) -> int:
    """Run a command and return its exit code; Ctrl-C reaches it too, and it decides when to end."""
    try:
        process = subprocess.Popen(command, cwd=str(folder) if folder else None)
    except OSError as error:
        say(f"{command[0]}: {error}")
        return 127
    while True:
        try:
            code = process.wait()
        except KeyboardInterrupt:
            continue
        return code if code >= 0 else 128 - code


def write_stamp(venv: Path, stamp: Stamp) -> None:
    """Write the stamp, where there is an environment to carry one."""
    if venv.is_dir():
        stamp_file(venv).write_text(json.dumps(stamp, indent=1) + "\n", encoding="utf-8")


def try_way(way: Way, venv: Path, wanted: Stamp) -> Optional[str]:
    """Return None once all commands of a way succeeded, else which one did not."""
    for command in way.commands:
        write_stamp(venv, dict(wanted, complete=False))
        code = call(command)
        if code:
            return f"{way.name}: `{' '.join(command)}` ended with {code}"
    write_stamp(venv, wanted)
    return None


def set_up(groups: Sequence[str] = ()) -> None:
    """Make, complete or rebuild the environment where that is needed."""
    venv = ROOT / ".venv"
    version = version_in(venv)
    found = read_stamp(venv)
    wanted = stamp_for(ROOT, groups, sys.version_info[:3])
    action, why = decide(venv.exists(), version, found, wanted)
    if action == "ready":
        return
    if found and action == "install":
        wanted["groups"] = sorted({*groups, *found.get("groups", [])})
    uv, with_pip = shutil.which("uv"), can_seed_pip()
    tried = []
    for now in ("install", "build") if action == "install" else ("build",):
        for way in ways(now, ROOT, wanted["groups"], uv, with_pip):
            say(f"Setting up with {way.name} ({why}); the first time takes a minute or two ...")
            if now == "build":
                shutil.rmtree(str(venv), ignore_errors=True)
            started = time.monotonic()
            failure = try_way(way, venv, wanted)
            if failure is None:
                say(f"Ready after {time.monotonic() - started:.0f} s.")
                return
            tried.append(failure)
            why = "the way before did not work"
    says = "".join("\n  tried " + line for line in tried)
    if not with_pip:
        is_root = hasattr(os, "geteuid") and os.geteuid() == 0
        has_apt = shutil.which("apt-get") is not None
        says += "\n" + advice_without_ensurepip(sys.version_info[:3], has_apt, is_root)
    raise SetUpError("Fitworth could not be set up." + says)


def module(name: str, *arguments: str) -> Command:
    """Return the command that runs a module in the environment.

    With -P the current folder cannot hide an installed package.
    """
    return [str(interpreter_in(ROOT / ".venv")), "-P", "-m", name, *arguments]


def hand_over(command: Command) -> int:
    """Become the command, so that signals and exit codes are its own; Windows can only wait for it."""
    sys.stdout.flush()
    if os.name != "nt":
        os.execv(command[0], command)  # noqa: S606 the command is ours, no shell is wanted
    return call(command)


def missing_browser(root: Path) -> Optional[str]:
    """Return the warning that browser tests will not run, or None."""
    if not any((root / "tests").rglob("test_browser*.py")) or any(shutil.which(name) for name in CHROMIUMS):
        return None
    line = "NO CHROMIUM FOUND: the tests of the pages in a browser DO NOT RUN (Debian: apt install chromium)"
    bar = "!" * len(line)
    return f"{bar}\n{line}\n{bar}"


def warn_without_browser() -> None:
    """Say loudly that browser tests are left out."""
    warning = missing_browser(ROOT)
    if warning:
        say(warning)


def test(arguments: Sequence[str]) -> int:
    """Run the tests."""
    warn_without_browser()
    return call(module("pytest", *arguments), ROOT)


def checks(arguments: Sequence[str]) -> List[Tuple[str, Command]]:
    """Return what a change must pass, in order, each with its command."""
    python = module("x")[0]
    lint_imports = "from importlinter.cli import lint_imports_command as main; main()"
    return [
        ("format", module("ruff", "format", "--check", ".")),
        ("lint", module("ruff", "check", ".")),
        ("types", module("mypy")),
        ("import arrows", [python, "-c", lint_imports]),
        ("tests", module("pytest", "--cov", "--cov-branch", "--cov-report=", *arguments)),
        (
            f"coverage of the core, {CORE_COVERAGE} %",
            module("coverage", "report", "--include=fitworth/*", f"--fail-under={CORE_COVERAGE}"),
        ),
        (
            f"coverage of everything, {WHOLE_COVERAGE} %",
            module("coverage", "report", f"--fail-under={WHOLE_COVERAGE}"),
        ),
    ]


def check(arguments: Sequence[str]) -> int:
    """Run every check even where one before it failed; return 1 if any did."""
    warn_without_browser()
    results = []
    for name, command in checks(arguments):
        say("\n== " + name)
        started = time.monotonic()
        results.append((name, call(command, ROOT), time.monotonic() - started))
    say("")
    for name, code, seconds in results:
        outcome = f"failed ({code})" if code else "ok"
        say(f"{name:<28} {outcome:<12} {seconds:6.1f} s")
    return 1 if any(code for _, code, _ in results) else 0


def main(arguments: Sequence[str]) -> int:
    """Set up, then do what was asked; return the exit code."""
    refusal = refuse_python(sys.version_info[:3])
    if refusal:
        say(refusal)
        return 1
    if arguments and arguments[0] in {"-h", "--help"}:
        say(str(__doc__))
        return 0
    command, rest = (arguments[0], arguments[1:]) if arguments else ("demo", [])
    if command.startswith("-"):
        command, rest = "demo", arguments
    if command not in {"demo", "run", "test", "check"}:
        say(f"start.py does not know '{command}'.\n\n{__doc__}")
        return 2
    try:
        set_up(["dev"] if command in {"test", "check"} else [])
    except SetUpError as error:
        say(str(error))
        return 1
    except KeyboardInterrupt:
        say("Stopped; the next start begins again.")
        return 130
    if command in {"test", "check"}:
        return (test if command == "test" else check)(rest)
    return hand_over(module("api.cli", *(rest if command == "run" else ["demo", *rest])))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
