"""`fitworth import` and `fitworth export`: CSV files in and out."""

import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from enum import StrEnum
from io import TextIOWrapper
from pathlib import Path
from typing import Annotated, Any, TextIO, TypeVar

import typer
from pydantic_core import to_json
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

from api.commands.opening import opened, reading
from api.commands.screen import Format, FormatOption, bullets, notes, plain, say, show
from api.database import ACTOR
from api.services import exports
from api.services.import_report import ImportReport
from api.services.imports import import_csv
from api.tabular import Table, to_csv, write_csv

T = TypeVar("T")
Advance = Callable[[int, int | None], None]

ROWS_A_STEP = 500  # between two moves of the bar of an export
MOST_SHOWN = 20  # faults on the screen; the file of --errors has all of them
BOM = "\ufeff"  # at the head of a file, so that spreadsheets take it for UTF-8


class Decimal(StrEnum):
    """The signs between whole and broken numbers."""

    POINT = "point"
    COMMA = "comma"


class FileForm(StrEnum):
    """The forms of an export."""

    CSV = "csv"
    JSON = "json"


def import_(
    file: Annotated[Path, typer.Argument(help="a CSV file in UTF-8", show_default=False)],
    resource: Annotated[
        str | None, typer.Option(help="parts or quotes.", show_default="told by the columns")
    ] = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Do all of it and keep nothing.")] = False,
    errors: Annotated[
        Path | None, typer.Option(help="A CSV file for every fault, with its row and column.")
    ] = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """Read parts or quotes from a CSV file; every sound row is taken, the same file twice changes nothing."""
    with opened() as here, counting(file.name) as advance:
        report = import_csv(
            here.database.writers,
            here.knowledge,
            file.read_bytes(),
            now=datetime.now(UTC),
            actor=ACTOR,
            resource=resource,
            dry_run=dry_run,
            progress=advance,
        )
    if errors is not None:
        errors.write_bytes((BOM + to_csv(fault_table(report.body()))).encode())
    show(form, report.body(), fault_table, lambda _: print_report(report, errors))
    if report.failed:
        raise typer.Exit(1)


def fault_table(body: Mapping[str, Any]) -> Table:
    """Return an import's faults as a table."""
    names = ("row", "column", "detail")
    return Table(names, ([fault.get(name, "") for name in names] for fault in body["errors"]))


def print_report(report: ImportReport, errors: Path | None) -> None:
    """Print what came of an import."""
    say(
        f"{report.created} {report.resource} created, {report.updated} updated, "
        f"{report.unchanged} unchanged, {report.failed} rows not taken."
    )
    if report.dry_run:
        say("This was a dry run: nothing was kept.")
    shown = report.faults[:MOST_SHOWN]
    bullets([f"row {fault.at}, {fault.column or 'whole row'}: {fault.detail}" for fault in shown])
    if len(report.faults) > MOST_SHOWN:
        where = f"all of them are in {errors}" if errors else "--errors FILE.csv takes all of them"
        say(f"{len(report.faults) - MOST_SHOWN} more faults; {where}.")


@contextmanager
def counting(name: str) -> Iterator[Advance]:
    """Yield a function that moves a bar along on stderr, where somebody is looking."""
    console = notes()
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=console, disable=not console.is_terminal, transient=True) as progress:
        task = progress.add_task(name, total=None)
        yield lambda done, all_: progress.update(task, completed=done, total=all_)


def export(
    resource: Annotated[
        str, typer.Argument(help=f"one of {', '.join(exports.RESOURCES)}", show_default=False)
    ],
    family: Annotated[str | None, typer.Option(help="Only parts of this family.")] = None,
    output: Annotated[Path | None, typer.Option(help="The file to write.", show_default="the screen")] = None,
    decimal: Annotated[
        Decimal,
        typer.Option(help="The decimal sign in CSV; with a comma, cells are separated by semicolons."),
    ] = Decimal.POINT,
    form: Annotated[FileForm, typer.Option("--format", help="The form of the file.")] = FileForm.CSV,
) -> None:
    """Write everything of a resource, as it can be imported again."""
    spec = exports.get_resource(resource)
    with reading() as call, counting(resource) as advance:
        wanted = exports.filters_of(call, spec, family)
        with destination(output) as out:
            if form is FileForm.JSON:
                write_json(counted(exports.items(call, spec, wanted), advance), out)
            else:
                found = exports.table(call, spec, wanted)
                rows = counted(found.rows, advance)
                write_csv(Table(found.header, rows), out, decimal_comma=decimal is Decimal.COMMA)
    if output is not None:
        notes().print(plain(f"The {resource} were written to {output}."))


@contextmanager
def destination(output: Path | None) -> Iterator[TextIO]:
    """Yield where an export goes: the screen, or a file that takes its name once it is whole."""
    if output is None:
        sys.stdout.flush()
        out = TextIOWrapper(sys.stdout.buffer, encoding="utf-8", newline="")
        yield out
        out.flush()
        out.detach()
        return
    unfinished = output.with_name(f"{output.name}.unfinished")
    try:
        with unfinished.open("w", encoding="utf-8", newline="") as file:
            file.write(BOM if output.suffix.lower() == ".csv" else "")
            yield file
        unfinished.replace(output)
    finally:
        unfinished.unlink(missing_ok=True)


def write_json(items: Iterable[Mapping[str, Any]], out: TextIO) -> None:
    """Write records as HTTP lists them, all on one page."""
    out.write('{"items":[')
    out.writelines(("," if place else "") + to_json(item).decode() for place, item in enumerate(items))
    out.write('],"next_cursor":null}\n')


def counted(items: Iterable[T], advance: Advance) -> Iterator[T]:
    """Yield the items, and move the bar along every so often."""
    for done, item in enumerate(items, start=1):
        if done % ROWS_A_STEP == 0:
            advance(done, None)
        yield item
