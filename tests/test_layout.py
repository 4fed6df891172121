"""Where files lie, how long they are and what they are called."""

import importlib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
MOST_LINES = 500
VAGUE_NAMES = {"util", "utils", "helper", "helpers", "manager", "managers"}


def own_files(*suffixes: str) -> list[Path]:
    """Return the files that people write and read here: not data, not migrations, not third-party files."""
    folders = ("fitworth", "api", "db", "tests")
    files = [path for folder in folders for path in (ROOT / folder).rglob("*") if path.suffix in suffixes]
    return [ROOT / "start.py", *(path for path in files if "vendor" not in path.parts)]


@pytest.mark.parametrize("name", ["fitworth", "api", "db"])
def test_each_package_is_the_one_of_this_checkout(name: str) -> None:
    package = importlib.import_module(name)
    assert [Path(path) for path in package.__path__] == [ROOT / name]


def test_no_file_is_longer_than_a_person_reads() -> None:
    lengths = {
        path.relative_to(ROOT).as_posix(): len(path.read_text(encoding="utf-8").splitlines())
        for path in own_files(".py", ".html", ".css", ".js")
    }
    assert {name: length for name, length in lengths.items() if length > MOST_LINES} == {}


def test_no_module_has_a_name_that_says_nothing() -> None:
    modules = own_files(".py")
    assert [path for path in modules if VAGUE_NAMES & {path.stem, *path.relative_to(ROOT).parts}] == []
    assert [path for path in modules if VAGUE_NAMES & set(path.stem.split("_"))] == []


def test_test_folders_are_no_packages_so_that_two_may_hold_files_of_one_name() -> None:
    assert list((ROOT / "tests").rglob("__init__.py")) == []
