"""Nothing that the program has goes undocumented, and nothing is documented that it does not have."""

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
import typer
from fastapi.testclient import TestClient
from sqlalchemy.exc import OperationalError
from typer.core import TyperGroup

from api import problems
from api.cli import app as command_line
from api.main import create_app
from api.pages.problem_types import list_problem_types
from api.settings import Settings
from fitworth.vocabulary import Role

ROOT = Path(__file__).resolve().parents[1]
README, DEVELOPERS, CHANGELOG = (
    (ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "DEVELOPERS.md", "CHANGELOG.md")
)
FAMILIES = [*(ROOT / "fitworth/families").glob("*.toml"), *(ROOT / "seed_data/families").glob("*.toml")]
LONGEST_LINE = 125


def section(page: str, title: str) -> str:
    """Return what stands below a heading of the second order."""
    found = re.search(rf"^## {re.escape(title)}\n(.*?)(?=^## |\Z)", page, re.MULTILINE | re.DOTALL)
    assert found is not None, f"there is no section {title}"
    return found[1]


def rows(text: str) -> list[list[str]]:
    """Return the cells of a section's table rows, without its head."""
    lines = [line for line in text.splitlines() if line.startswith("|")]
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    return [row for row in cells[1:] if not set(row[0]) <= {"-", " "}]


def ticked(text: str) -> list[str]:
    """Return what stands in backticks, blocks left out."""
    return re.findall(r"`([^`]+)`", re.sub(r"^```.*?^```$", "", text, flags=re.MULTILINE | re.DOTALL))


def list_commands(group: TyperGroup, before: str = "") -> Iterator[str]:
    for name, command in group.commands.items():
        if isinstance(command, TyperGroup):
            yield from list_commands(command, f"{before}{name} ")
        else:
            yield f"{before}{name}"


def test_each_command_is_in_the_readme_and_none_besides() -> None:
    group = typer.main.get_command(command_line)
    assert isinstance(group, TyperGroup)
    documented = [re.sub(r" [A-Z\[].*", "", ticked(row[0])[0]) for row in rows(section(README, "Commands"))]
    assert sorted(documented) == sorted(list_commands(group))


def test_each_setting_is_in_the_readme_with_its_default() -> None:
    documented = {ticked(row[0])[0]: row[1] for row in rows(section(README, "Settings"))}
    assert set(documented) == {f"FITWORTH_{name.upper()}" for name in Settings.model_fields}
    for name, field in Settings.model_fields.items():
        if field.default_factory is None and field.default is not None:
            assert documented[f"FITWORTH_{name.upper()}"] == f"`{field.default}`"


@pytest.mark.parametrize("page", [README, DEVELOPERS, CHANGELOG], ids=["README", "DEVELOPERS", "CHANGELOG"])
def test_no_setting_is_named_that_there_is_not(page: str) -> None:
    known = {f"FITWORTH_{name.upper()}" for name in Settings.model_fields}
    assert set(re.findall(r"FITWORTH_[A-Z_]+", page)) <= known


def test_each_address_is_in_the_readme_and_none_besides(sqlite_url: str) -> None:
    app = create_app(Settings(database_url=sqlite_url))
    documented = [name for row in rows(section(README, "Addresses")) for name in ticked(row[0])]
    served = {re.sub(r"^(/v1/[\w-]+).*", r"\1", path) for path in app.openapi()["paths"]}
    assert served <= set(documented)
    with TestClient(app, base_url="http://127.0.0.1") as client:
        for address in set(documented) - served:
            assert client.get(address).status_code == 200, address


def problems_of_the_database() -> Iterator[tuple[str, str]]:
    for says in ("database or disk is full", "database is locked"):
        body = problems.of_database(OperationalError("", {}, Exception(says)))
        yield str(body["type"]).partition("#")[2], str(body["status"])


def slugs_in_the_code() -> Iterator[str]:
    """Yield the slugs that are written where a problem is made."""
    for file in (ROOT / "api").rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "problem":
                first = node.args[0]
                if isinstance(first, ast.Constant):
                    yield str(first.value)


def test_each_problem_type_is_in_the_developers_table_with_its_status() -> None:
    documented = {ticked(row[0])[0]: row[1] for row in rows(section(DEVELOPERS, "Problem types"))}
    known = {kind.slug: kind.status or "others" for kind in list_problem_types()}
    known |= dict(problems_of_the_database())
    assert set(slugs_in_the_code()) <= set(known)
    assert documented == known


def requirements() -> Iterator[str]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    lists = [
        project["project"]["dependencies"],
        *project["project"]["optional-dependencies"].values(),
        *project["dependency-groups"].values(),
    ]
    for entry in {entry for entries in lists for entry in entries}:
        found = re.match(r"[\w-]+", entry)
        assert found is not None
        yield found[0]


def test_each_dependency_is_justified_once() -> None:
    table = rows(section(DEVELOPERS, "Dependencies, and why each"))
    named = [name.strip() for row in table for name in re.sub(r"\([^)]*\)", "", row[0]).split(",")]
    assert all(row[1] for row in table)
    assert set(requirements()) <= set(named)
    assert len(named) == len(set(named))
    assert {name for name in named if name != "Swagger UI"} <= set(requirements())


def test_each_family_is_in_the_readme() -> None:
    keys = [tomllib.loads(file.read_text(encoding="utf-8"))["key"] for file in FAMILIES]
    assert len(keys) >= 7
    for key in keys:
        assert key in README, key


def test_each_role_is_in_the_readme_and_none_besides() -> None:
    roles = [ticked(row[0])[0] for row in rows(section(README, "A family of your own"))]
    assert sorted(roles) == sorted(Role)


def test_files_that_the_developers_page_names_are_there() -> None:
    named = [
        name for name in ticked(DEVELOPERS) if re.fullmatch(r"[a-z][\w./-]*(\.(py|toml|md|json)|/)", name)
    ]
    assert len(named) > 40
    missing = [
        name for name in named if not (ROOT / name).exists() and not any(ROOT.glob(f"[a-z]*/**/{name}"))
    ]
    assert missing == []


def test_each_module_of_the_map_is_there() -> None:
    page = section(DEVELOPERS, "The map").split("```")[1]
    folder = ""
    seen = 0
    for line in filter(None, page.splitlines()):
        if not line.startswith(" "):
            folder = line.split()[0]
            assert (ROOT / folder).exists(), folder
        for name in re.findall(r"(?<![\w/])(\w+(?:\.py|/))(?=[\s,;]|$)", line.removeprefix(folder)):
            assert any((ROOT / folder).rglob(name)), f"{folder}{name}"
            seen += 1
    assert seen > 20


def test_each_benchmark_is_explained() -> None:
    files = sorted((ROOT / "tests/benchmarks").glob("*.py"))
    assert files
    for file in files:
        assert f"tests/benchmarks/{file.name}" in DEVELOPERS, file.name


def test_the_changelog_begins_with_what_is_not_released() -> None:
    headings = re.findall(r"^## (.*)$", CHANGELOG, re.MULTILINE)
    assert headings[0] == "Unreleased"
    assert section(CHANGELOG, "Unreleased").count("\n- ") > 5


@pytest.mark.parametrize("page", [DEVELOPERS, CHANGELOG], ids=["DEVELOPERS", "CHANGELOG"])
def test_lines_are_short(page: str) -> None:
    assert [line for line in page.splitlines() if len(line) > LONGEST_LINE and "|" not in line] == []
