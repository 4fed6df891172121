"""What start.py decides, without a network; the set-up itself is run by whoever runs these tests."""

import ast
import importlib.util
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[1]


def load_start() -> Any:
    spec = importlib.util.spec_from_file_location("start", ROOT / "start.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


start = load_start()


@pytest.fixture
def checkout(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "pyproject.toml").write_text("[project]\n")
    monkeypatch.setattr(start, "ROOT", tmp_path)
    monkeypatch.setattr(start.shutil, "which", lambda name: "/usr/bin/apt-get" if name == "apt-get" else None)
    return tmp_path


def stamp(**changes: Any) -> dict[str, Any]:
    whole = {"pyproject": "abc", "place": "/bench", "python": "3.11", "groups": ["dev"], "complete": True}
    return {**whole, **changes}


def test_a_python_that_is_too_old_is_told_which_one_is_needed() -> None:
    assert "Python 3.11 or newer is needed" in start.refuse_python((3, 10, 13))
    assert "3.8.18" in start.refuse_python((3, 8, 18))
    assert start.refuse_python((3, 11, 0)) is None
    assert start.refuse_python((4, 0, 0)) is None


def test_a_python_of_the_year_2019_can_read_the_script() -> None:
    ast.parse((ROOT / "start.py").read_text(encoding="utf-8"), feature_version=(3, 8))


@pytest.mark.parametrize(
    ("present", "version", "found", "action", "reason"),
    [
        pytest.param(False, None, None, "build", "no .venv yet", id="a fresh checkout"),
        pytest.param(True, None, stamp(), "build", "does not start", id="its Python was removed"),
        pytest.param(True, "3.12", stamp(), "build", "has Python 3.12", id="another Python"),
        pytest.param(True, "3.11", stamp(place="/attic"), "build", "/attic", id="the folder was moved"),
        pytest.param(True, "3.11", stamp(complete=False), "build", "did not finish", id="half made"),
        pytest.param(True, "3.11", None, "install", "not made by start.py", id="made by hand"),
        pytest.param(True, "3.11", stamp(pyproject="old"), "install", "has changed", id="new dependencies"),
        pytest.param(True, "3.11", stamp(groups=[]), "install", "missing: dev", id="no developers' tools"),
        pytest.param(True, "3.11", stamp(), "ready", "nothing", id="all there"),
    ],
)
def test_what_happens_to_an_environment(
    present: bool, version: str | None, found: dict[str, Any] | None, action: str, reason: str
) -> None:
    decided, why = start.decide(present, version, found, stamp())
    assert decided == action
    assert reason in why


def test_an_environment_with_developers_tools_serves_users_too() -> None:
    assert start.decide(True, "3.11", stamp(groups=["dev"]), stamp(groups=[]))[0] == "ready"


def test_the_stamp_changes_with_the_project_file_the_place_and_the_python(tmp_path: Path) -> None:
    places = [tmp_path / "here", tmp_path / "there"]
    for place in places:
        place.mkdir()
        (place / "pyproject.toml").write_text("[project]\n")
    here, there = (start.stamp_for(place, ["dev"], (3, 11, 7)) for place in places)
    assert here["pyproject"] == there["pyproject"]
    assert here["place"] != there["place"]
    assert start.stamp_for(places[0], ["dev"], (3, 11, 9)) == here
    assert start.stamp_for(places[0], ["dev"], (3, 12, 1))["python"] == "3.12"
    (places[0] / "pyproject.toml").write_text("[project]\ndependencies = []\n")
    assert start.stamp_for(places[0], ["dev"], (3, 11, 7))["pyproject"] != here["pyproject"]


@pytest.mark.parametrize("text", ["", "not json", "[]", "\udcff"])
def test_a_stamp_that_cannot_be_read_counts_as_none(tmp_path: Path, text: str) -> None:
    start.stamp_file(tmp_path).write_bytes(text.encode("utf-8", "surrogateescape"))
    assert start.read_stamp(tmp_path) is None
    assert start.read_stamp(tmp_path / "nowhere") is None


def test_a_python_that_is_not_there_or_is_no_python_has_no_version(tmp_path: Path) -> None:
    assert start.version_in(tmp_path) is None
    interpreter = start.interpreter_in(tmp_path)
    interpreter.parent.mkdir()
    interpreter.write_text("no program")
    assert start.version_in(tmp_path) is None


def test_windows_keeps_its_python_elsewhere() -> None:
    assert start.interpreter_in(Path("v"), "nt") == Path("v", "Scripts", "python.exe")
    assert start.interpreter_in(Path("v"), "posix") == Path("v", "bin", "python")


def test_uv_comes_first_and_pip_is_made_new_enough_for_groups() -> None:
    uv, pip = start.ways("build", ROOT, ["dev"], "/bin/uv", True)
    assert [command[:2] for command in uv.commands] == [["/bin/uv", "venv"], ["/bin/uv", "pip"]]
    assert [command[-1] for command in pip.commands[1:]] == ["pip>=25.1", "dev"]
    assert uv.commands[-1][-4:] == ["-e", str(ROOT), "--group", "dev"]


def test_users_get_no_developers_tools_and_what_is_there_is_not_made_again() -> None:
    (pip,) = start.ways("install", ROOT, [], None, True)
    assert len(pip.commands) == 1
    assert "--group" not in pip.commands[0]


def test_without_ensurepip_and_uv_the_one_line_that_helps_is_printed(
    checkout: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "ensurepip", None)
    assert start.main(["run", "families"]) == 1
    version = f"{sys.version_info[0]}.{sys.version_info[1]}"
    assert f"apt install python{version}-venv\n" in capsys.readouterr().out
    assert not (checkout / ".venv").exists()


def test_the_advice_fits_the_system() -> None:
    assert "\n    sudo apt install python3.11-venv\n" in start.advice_without_ensurepip(
        (3, 11, 2), True, False
    )
    assert "\n    apt install python3.12-venv\n" in start.advice_without_ensurepip((3, 12, 1), True, True)
    assert "apt" not in start.advice_without_ensurepip((3, 11, 2), False, False)


def failing(program: str) -> Any:
    return start.Way("a broken pip", [[sys.executable, "-c", program]])


def test_a_set_up_that_fails_says_what_was_tried_and_is_begun_anew_next_time(
    checkout: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    program = "import pathlib, sys; pathlib.Path('.venv').mkdir(exist_ok=True); sys.exit(3)"
    steps = start.Way("a broken pip", [[sys.executable, "-c", "pass"], [sys.executable, "-c", program]])
    monkeypatch.chdir(checkout)
    monkeypatch.setattr(start, "ways", lambda *_: [steps, steps])
    assert start.main(["test"]) == 1
    said = capsys.readouterr().out
    assert said.count("tried a broken pip: `") == 2
    assert "ended with 3" in said


def test_an_interrupted_set_up_leaves_a_stamp_that_says_so(tmp_path: Path) -> None:
    wanted = stamp(place=str(tmp_path))
    assert "ended with 3" in start.try_way(failing("raise SystemExit(3)"), tmp_path, wanted)
    assert start.read_stamp(tmp_path) == stamp(place=str(tmp_path), complete=False)
    assert start.try_way(failing("pass"), tmp_path, wanted) is None
    assert json.loads(start.stamp_file(tmp_path).read_text()) == wanted


def test_exit_codes_are_passed_on() -> None:
    assert start.call([sys.executable, "-c", "raise SystemExit(7)"]) == 7
    assert start.call(["/no/such/program"]) == 127


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such signals")
def test_a_program_ended_by_a_signal_gives_the_code_a_shell_would_give() -> None:
    assert start.call([sys.executable, "-c", "import os; os.kill(os.getpid(), 15)"]) == 128 + 15


def test_a_word_that_is_no_command_is_refused_with_the_usage(capsys: pytest.CaptureFixture[str]) -> None:
    assert start.main(["tset"]) == 2
    said = capsys.readouterr().out
    assert "does not know 'tset'" in said
    assert "python3 start.py check" in said


def test_help_needs_no_set_up(checkout: Path) -> None:
    script = [sys.executable, str(ROOT / "start.py"), "--help"]
    answer = subprocess.run(script, capture_output=True, text=True, check=True, cwd=checkout)
    assert "python3 start.py run ARGS" in answer.stdout


def test_browser_tests_without_a_browser_are_announced_loudly(checkout: Path) -> None:
    (checkout / "tests").mkdir()
    assert start.missing_browser(checkout) is None
    (checkout / "tests" / "test_browser_bench.py").touch()
    assert "NO CHROMIUM FOUND" in start.missing_browser(checkout)


@pytest.mark.parametrize(
    ("words", "command"),
    [
        ([], ["api.cli", "demo"]),
        (["--no-serve"], ["api.cli", "demo", "--no-serve"]),
        (["demo", "--no-serve"], ["api.cli", "demo", "--no-serve"]),
        (["run", "families", "--format", "json"], ["api.cli", "families", "--format", "json"]),
        (["test", "-k", "key"], ["pytest", "-k", "key"]),
    ],
)
def test_words_become_the_right_command(
    monkeypatch: pytest.MonkeyPatch, words: list[str], command: list[str]
) -> None:
    calls: list[list[str]] = []
    groups: list[list[str]] = []

    def record(started: list[str], _folder: Path | None = None) -> int:
        calls.append(started)
        return 4

    monkeypatch.setattr(start, "set_up", groups.append)
    monkeypatch.setattr(start, "hand_over", record)
    monkeypatch.setattr(start, "call", record)
    assert start.main(words) == 4
    assert calls == [start.module(*command)]
    assert groups == [["dev"] if words[:1] == ["test"] else []]


def test_check_runs_everything_even_after_a_failure_and_then_fails(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    codes = iter([1, 0, 0, 0, 0, 2, 0])
    monkeypatch.setattr(start, "set_up", lambda groups: None)
    monkeypatch.setattr(start, "call", lambda command, folder: next(codes))
    assert start.main(["check"]) == 1
    lines = capsys.readouterr().out.splitlines()[-7:]
    assert [("failed" in line, "ok" in line.split()) for line in lines] == [
        (True, False),
        *[(False, True)] * 4,
        (True, False),
        (False, True),
    ]
