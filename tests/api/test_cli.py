"""The command line: every command in every form, and a sentence for whatever a user can do wrong."""

import csv
import io
import json
import socket
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from typer.testing import Result

from api.main import create_app
from api.services import demonstration
from api.settings import Settings

Run = Callable[..., Result]


@pytest.fixture
def client(file: Path) -> Iterator[TestClient]:
    """The application on the same file."""
    settings = Settings(database_url=f"sqlite:///{file}", families_dir=demonstration.FAMILIES)
    with TestClient(create_app(settings), base_url="http://127.0.0.1") as made:
        yield made


def refusal(result: Result) -> str:
    """Return what a refusal says, on one line; nothing of it is on stdout."""
    assert result.stdout == ""
    return " ".join(result.stderr.split())


# Refusals


def test_a_command_that_does_not_exist_and_a_missing_argument_are_usage_errors(run: Run) -> None:
    assert "No such command" in run("mend", code=2).stderr
    assert "Missing argument" in run("fits", code=2).stderr
    run("fits", "carburetor", "--limit", "0", code=2)
    run("families", "--format", "xml", code=2)
    run("compare", "1", "--as-of", "tomorrow", code=2)


def test_every_fault_of_a_query_is_told_at_once_by_its_key(run: Run) -> None:
    pieces = [
        "throttle_boar=19",
        "bolt_spacing=9/16",
        "foo",
        "limit=3",
        "body_length=62",
        "body_length=63",
        "=5",
    ]
    says = refusal(run("fits", "carburetor", *pieces, code=1))
    for key in ("throttle_boar: ", "bolt_spacing: ", "foo: ", "write --limit 3", "body_length: ", "=5: "):
        assert key in says
    assert "things must be mended" in says


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["fits", "toaster"], "family: There is no such family"),
        (["fits", "carburetor"], "measured: Nothing was measured"),
        (["families", "toaster"], "There is no such family"),
        (["numbers", "708", "--family", "toaster"], "family: The families are"),
        (["compare", "99"], "There is no job with this id"),
        (["compare", "no machine of mine"], "There is no job"),
        (["export", "toasters"], "There is no resource of this name"),
        (["export", "quotes", "--family", "carburetor"], "only parts have a family"),
        (["import", "nowhere.csv"], "nowhere.csv: No such file or directory"),
    ],
)
def test_what_is_not_there_is_said_in_a_sentence(run: Run, arguments: list[str], says: str) -> None:
    assert says in refusal(run(*arguments, code=1))


@pytest.mark.parametrize(
    ("env", "says"),
    [
        ({"FITWORTH_PORT": "abc"}, "FITWORTH_PORT: This must be a whole number."),
        ({"FITWORTH_DATABASE_URL": "nonsense"}, "The database URL cannot be read"),
        ({"FITWORTH_DATABASE_URL": "sqlite://"}, "in memory"),
        ({"FITWORTH_DATABASE_URL": "postgresql://nobody@127.0.0.1:1/none"}, "The database cannot be used"),
        ({"FITWORTH_FAMILIES_DIR": "/no/such/folder"}, "There is no folder"),
    ],
)
def test_a_setting_that_leads_nowhere_is_said_in_a_sentence(run: Run, env: dict[str, str], says: str) -> None:
    assert says in refusal(run("numbers", "708", code=1, **env))


def test_a_file_that_is_no_database_is_said_to_be_none(run: Run, tmp_path: Path) -> None:
    (tmp_path / "letter.sqlite").write_text("Dear Sir or Madam, " * 100)
    url = f"sqlite:///{tmp_path / 'letter.sqlite'}"
    assert "cannot be used" in refusal(run("numbers", "708", code=1, FITWORTH_DATABASE_URL=url))
    assert "cannot be used" in run("doctor", code=1, FITWORTH_DATABASE_URL=url).stdout


@pytest.mark.parametrize("host", ["0.0.0.0", "192.168.1.5", "example.org", "::"])  # noqa: S104 - refused
def test_no_other_host_than_this_machine_is_served(run: Run, host: str) -> None:
    says = refusal(run("serve", "--host", host, code=1))
    assert "Only this machine is served" in says
    assert "could read and change your records" in says


def test_a_port_that_is_taken_is_said_before_anything_starts(run: Run) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        assert f"Port {port} of 127.0.0.1 cannot be used" in refusal(run("serve", "--port", port, code=1))
        assert "cannot be used" in refusal(run("demo", "--port", port, code=1))


# Help


def test_help_documents_every_command(run: Run) -> None:
    said = run("--help").stdout
    for name in (
        "demo",
        "serve",
        "fits",
        "compare",
        "numbers",
        "families",
        "import",
        "export",
        "database",
        "doctor",
    ):
        assert f" {name} " in said
        assert len(run(name, "--help").stdout.splitlines()) > 5
    assert "show-settings" in said
    assert "upgrade" in run("database", "--help").stdout


# Questions


def test_fits_are_shown_with_bars_verdicts_and_what_to_measure_next(run: Run) -> None:
    said = run(
        "fits", "carburetor", "throttle_bore=19,1 mm", "choke_type=manual lever", "--marking", "7?8-21B"
    ).stdout
    assert "19,1 mm" in said
    assert "0.7520" in said
    assert "Harrowmere 708-21B" in said
    assert "█" in said
    assert "✓" in said or "?" in said
    assert "nothing on file fits" in said
    assert "Not measured, and a matter of safety" in said
    without_number = run("fits", "carburetor", "throttle_bore=19,1 mm", "choke_type=manual lever").stdout
    assert "What to measure next" in without_number


def test_what_differs_is_shown_with_the_work_that_it_takes(run: Run) -> None:
    said = run(
        "fits", "carburetor", "throttle_bore=19", "body_length=62", "fuel_inlet_side=right", "--limit", "40"
    ).stdout
    assert "min work" in said
    assert "Body length: " in said


@pytest.mark.parametrize(
    ("arguments", "address"),
    [
        (
            ["fits", "carburetor", "throttle_bore=19.1 mm", "--limit", "3", "--engine", "H206"],
            "/v1/fits?family=carburetor&throttle_bore=19.1 mm&limit=3&engine=H206",
        ),
        (["families"], "/v1/families"),
        (["families", "spark_plug"], "/v1/families/spark_plug"),
        (["numbers", "7?8-21B", "--limit", "4"], "/v1/numbers?like=7?8-21B&limit=4"),
        (["compare", "1"], "/v1/jobs/1/comparison"),
    ],
)
def test_json_and_csv_are_what_http_answers(
    run: Run, client: TestClient, arguments: list[str], address: str
) -> None:
    assert run(*arguments, "--format", "json").stdout == client.get(address).text + "\n"
    mark = "&" if "?" in address else "?"
    csv_ = client.get(f"{address}{mark}format=csv").text
    assert run(*arguments, "--format", "csv").stdout_bytes.decode() == csv_


def test_a_job_is_compared_by_its_id_or_its_machines_name(run: Run) -> None:
    said = run("compare", "1").stdout
    for words in ("What each way out costs", "Plan", "Answer", "Take care", "landed", "the machine is"):
        assert words in said
    assert run("compare", "tl-07").stdout == said == run("compare", "TL-07 tiller, front tine").stdout
    assert "The coil is good" in run("compare", "GN-03").stdout
    assert "2026" in run("compare", "1", "--as-of", "2026-11-20").stdout


def test_several_jobs_of_one_machine_are_told_apart_by_their_ids(run: Run, client: TestClient) -> None:
    job = client.get("/v1/jobs/1").json()
    kept = {name: job[name] for name in ("machine_id", "removed_part", "currency")}
    client.post("/v1/jobs", json=kept | {"symptom": "leaks again"})
    says = refusal(run("compare", "TL-07", code=1))
    assert "Several jobs are meant" in says
    assert "4: TL-07 tiller, front tine: leaks again" in says


def test_numbers_and_families_are_shown_as_tables(run: Run) -> None:
    assert "708-21B" in run("numbers", "7?8-21B").stdout
    assert "No number on file is like this one." in run("numbers", "???").stdout
    assert "oil_level_switch" in run("families").stdout
    for family in (
        "carburetor",
        "ignition_coil",
        "spark_plug",
        "flywheel_key",
        "contact_set",
        "oil_level_switch",
    ):
        assert "May differ by" in run("families", family).stdout


def test_stored_text_cannot_steer_the_terminal(run: Run, client: TestClient) -> None:
    evil = "\x1b[31mred\u202e [bold]x[/bold] :smile:"
    client.post("/v1/parts", json={"family": "carburetor", "maker": evil, "number": "ZZZ99", "grade": "oem"})
    said = run("numbers", "ZZZ99").stdout
    assert "\x1b" not in said
    assert "\u202e" not in said
    assert "[bold]" in said
    assert ":smile:" in said


# Files in and out


def test_an_export_imports_back_through_files(run: Run, tmp_path: Path) -> None:
    for name in ("parts", "quotes"):
        target = tmp_path / f"{name}.csv"
        assert "written" in run("export", name, "--output", str(target)).stderr
        assert target.read_bytes().startswith(b"\xef\xbb\xbfid,")
        said = run("import", str(target)).stdout
        assert f"0 {name} created, 0 updated" in said
    assert not list(tmp_path.glob("*.unfinished"))
    assert run("export", "parts").stdout_bytes == (tmp_path / "parts.csv").read_bytes()[3:]


def test_an_export_is_the_list_that_http_gives(run: Run, client: TestClient) -> None:
    for name in ("parts", "suppliers", "exchange-rates", "jobs"):
        listed = client.get(f"/v1/{name}?limit=500").json()
        assert json.loads(run("export", name, "--format", "json").stdout) == listed
    rows = list(csv.DictReader(io.StringIO(run("export", "parts", "--family", "spark_plug").stdout)))
    assert {row["family"] for row in rows} == {"spark_plug"}
    first = run("export", "quotes", "--decimal", "comma").stdout.splitlines()[1]
    assert ";64,90;USD;" in first


def test_an_export_that_fails_leaves_no_half_of_a_file(run: Run, tmp_path: Path) -> None:
    assert "no/such/folder" in refusal(
        run("export", "parts", "--output", str(tmp_path / "no/such/folder/x.csv"), code=1)
    )
    target = tmp_path / "kept.json"
    target.write_text("kept")
    refusal(run("export", "parts", "--family", "toaster", "--output", str(target), code=1))
    assert target.read_text() == "kept"
    run("export", "machines", "--format", "json", "--output", str(target))
    assert len(json.loads(target.read_text())["items"]) == 3


def test_a_bar_moves_along_with_a_long_export(
    run: Run, client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.commands.sheets.ROWS_A_STEP", 7)
    assert len(json.loads(run("export", "parts", "--format", "json").stdout)["items"]) == 60


def test_rows_that_were_not_taken_end_in_exit_code_1_and_in_a_file(run: Run, tmp_path: Path) -> None:
    source, faults = tmp_path / "in.csv", tmp_path / "faults.csv"
    bad = [f"carburetor,Quillon,N{number},shiny" for number in range(25)]
    source.write_text("\n".join(["family,maker,number,grade", "carburetor,Quillon,N99,oem", *bad]))
    said = " ".join(run("import", str(source), "--errors", str(faults), "--dry-run", code=1).stdout.split())
    assert "1 parts created" in said
    assert "25 rows not taken" in said
    assert "dry run: nothing was kept" in said
    assert "row 3, grade: " in said
    assert "5 more faults; all of them are in" in said
    rows = list(csv.DictReader(io.StringIO(faults.read_text(encoding="utf-8-sig"))))
    assert (len(rows), rows[0]["row"], rows[0]["column"]) == (25, "3", "grade")
    assert "--errors FILE.csv takes all of them" in run("import", str(source), code=1).stdout
    body = json.loads(run("import", str(source), "--format", "json", code=1).stdout)
    assert (body["unchanged"], body["failed"], body["errors"][0]["row"]) == (1, 25, "3")
    assert "row,column,detail" in run("import", str(source), "--format", "csv", code=1).stdout


def test_a_file_that_cannot_be_read_is_refused_with_the_reason(run: Run, tmp_path: Path) -> None:
    source = tmp_path / "in.csv"
    source.write_text("family,makr,grade\n")
    says = refusal(run("import", str(source), code=1))
    assert "row 1, makr: There is no such column. Was maker meant?" in says
    assert "jobs" not in refusal(run("import", str(source), "--resource", "jobs", code=1))
