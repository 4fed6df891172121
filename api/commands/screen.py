"""What commands print: tables that fit 80 columns, JSON as HTTP sends it, CSV; refusals go to stderr.

Nothing is said by colour alone. Text from the database cannot steer the terminal: control characters are
replaced.
"""

import re
import sys
from collections.abc import Callable, Mapping, Sequence
from enum import StrEnum
from typing import Annotated, Any, Literal

import typer
from pydantic_core import to_json
from rich import box
from rich.console import Console
from rich.table import Table as Grid

from api.tabular import Table, to_csv

UNSAFE = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
BAR = 10  # characters of a whole bar


class Format(StrEnum):
    """The forms in which a command shows data."""

    TABLE = "table"
    JSON = "json"
    CSV = "csv"


FormatOption = Annotated[Format, typer.Option("--format", help="How the answer is shown.")]


def screen() -> Console:
    """Return where answers are printed."""
    return Console(markup=False, highlight=False, emoji=False)


def notes() -> Console:
    """Return where everything else goes: refusals, notes, progress."""
    return Console(stderr=True, markup=False, highlight=False, emoji=False)


def plain(text: object) -> str:
    """Return a text that cannot steer the terminal."""
    return UNSAFE.sub("\N{REPLACEMENT CHARACTER}", str(text))


def say(text: str = "", *, bold: bool = False) -> None:
    """Print a paragraph, folded at words."""
    screen().print(plain(text), style="bold" if bold else "")


def headline(text: str) -> None:
    """Print a heading, underlined."""
    say()
    say(text, bold=True)
    say("=" * min(len(text), 78))


def bullets(lines: Sequence[str]) -> None:
    """Print a list, each entry folded beside its hyphen."""
    grid = Grid.grid(padding=(0, 1, 0, 0))
    for line in lines:
        grid.add_row("-", plain(line))
    screen().print(grid)


def grid(
    columns: Sequence[str],
    rows: Sequence[Sequence[object]],
    *,
    right: Sequence[str] = (),
    whole: Sequence[str] = (),
) -> None:
    """Print a table; long cells are folded, but for those of `whole`; columns of figures stand `right`."""
    shown = Grid(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1, 0, 0))
    for column in columns:
        justify: Literal["left", "right"] = "right" if column in right else "left"
        shown.add_column(column, justify=justify, overflow="fold", no_wrap=column in whole)
    for row in rows:
        shown.add_row(*(plain(cell) for cell in row))
    screen().print(shown)


def bar(chance: float) -> str:
    """Return a probability as a bar that reads without colour."""
    filled = round(chance * BAR)
    return "█" * filled + "·" * (BAR - filled)


def write(text: str) -> None:
    """Write text that other programs read, in UTF-8 and with its line ends as they are."""
    sys.stdout.flush()
    sys.stdout.buffer.write(text.encode())
    sys.stdout.flush()


def show(
    form: Format,
    body: Mapping[str, Any],
    table: Callable[[Mapping[str, Any]], Table],
    print_it: Callable[[Mapping[str, Any]], None],
) -> None:
    """Print an answer in the form asked for; JSON and CSV are what HTTP answers."""
    if form is Format.JSON:
        write(to_json(body, inf_nan_mode="null").decode() + "\n")
    elif form is Format.CSV:
        write(to_csv(table(body)))
    else:
        print_it(body)
