"""A family file of one's own, and what tells its faults."""

from collections.abc import Callable
from pathlib import Path

import pytest

from fitworth.errors import FamilyFileError, Fault
from fitworth.families.parse import parse_family


@pytest.fixture(scope="session")
def recoil_starter() -> str:
    """The text of a full family of one's own."""
    return (Path(__file__).parent / "recoil_starter.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def list_faults() -> Callable[[str | bytes], list[tuple[int, str]]]:
    """A reader that returns the faults of a family file as (line, sentence)."""

    def faults_of(content: str | bytes) -> list[tuple[int, str]]:
        content = content.encode() if isinstance(content, str) else content
        told: tuple[Fault, ...] = ()
        try:
            parse_family(content, "own.toml")
        except FamilyFileError as error:
            told = error.faults
        assert all(fault.says.startswith("own.toml: ") for fault in told)
        return [
            (int(fault.where.removeprefix("line ")), fault.says.removeprefix("own.toml: ")) for fault in told
        ]

    return faults_of
