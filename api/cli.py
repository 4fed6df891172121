"""The command line. Each command asks the same services as HTTP does, and shows what they answer."""

import sys

import typer

from api.commands import catalogue, compare, demo, fits, serving, sheets, upkeep
from api.commands.refusals import Sentences

app = typer.Typer(
    name="fitworth",
    cls=Sentences,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="Which part fits, how sure that is, and what each way out costs by the time the machine runs.",
)
app.command()(demo.demo)
app.command()(serving.serve)
app.command()(fits.fits)
app.command()(compare.compare)
app.command()(catalogue.numbers)
app.command()(catalogue.families)
app.command("import")(sheets.import_)
app.command()(sheets.export)
app.add_typer(upkeep.database, name="database")
app.command()(upkeep.doctor)
app.command("show-settings")(upkeep.show_settings)


def main() -> None:
    """Run the command line; what the terminal cannot show is replaced, not a reason to fail."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    app(prog_name="fitworth")


if __name__ == "__main__":
    main()
