"""`fitworth compare`: what each way out of a job costs by the time the machine runs."""

from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Annotated, Any

import typer

from api.commands.opening import reading
from api.commands.screen import Format, FormatOption, bullets, grid, headline, say, show
from api.pages.words import say_key, say_percent
from api.routes.comparisons import table
from api.schemas.comparisons import ComparisonIn
from api.services import comparisons
from api.services.fits import FitService
from api.services.job_lookup import find_job_id
from fitworth.vocabulary import MachineVerdict

Body = Mapping[str, Any]

KINDS = {
    "clean": "Clean the old part",
    "rebuild": "Rebuild it",
    "replace": "Buy",
    "stop": "Leave the machine",
}
LINES = {"wrong_part": "if it is the wrong part", "failures_as_oem": "failures, were it OEM"}
VERDICTS = {
    MachineVerdict.WORTH_IT: "the machine is worth it",
    MachineVerdict.MARGINAL: "whether the machine is worth it is open",
    MachineVerdict.NOT_WORTH_IT: "the machine is not worth it",
}


def compare(
    job: Annotated[
        str,
        typer.Argument(help="the job's id, or the name of its machine or its beginning", show_default=False),
    ],
    as_of: Annotated[
        datetime | None,
        typer.Option(formats=["%Y-%m-%d"], help="The day of prices and rates.", show_default="today"),
    ] = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """Rank the ways out of a job by what each costs by the time the machine runs."""
    day = None if as_of is None else as_of.replace(tzinfo=UTC).date()
    with reading() as call:
        body = comparisons.answer(call, FitService(), ComparisonIn(job_id=find_job_id(call, job), as_of=day))
    show(form, body, table, print_comparison)


def print_comparison(body: Body, most: int | None = None) -> None:
    """Print a comparison for people, its first options where there are many."""
    headline("What each way out costs")
    day: date = body["as_of"]
    say(f"Amounts in {body['currency']}, prices and rates of {day}.")
    options = body["options"]
    print_options(options if most is None else options[:most])
    if most is not None and len(options) > most:
        say(f"{len(options) - most} more ways out follow.")
    if any(option["undominated"] for option in options):
        say("* no other is at least as good in fit, landed cost and reliability penalty, and better in one.")
    names = {option["id"]: name_of(option) for option in options}
    if body["plan"] is not None:
        print_plan(body["plan"], body["currency"], names)
    headline("Answer")
    say(body["answer"], bold=True)
    if body["warnings"]:
        headline("Mind")
        bullets(body["warnings"])
    print_cautions(body["cautions"])
    changed = sum(used["origin"] != "default" for used in body["assumptions"])
    say()
    say(f"{len(body['assumptions'])} assumptions stand behind this, {changed} of them yours (--format json).")


def print_options(options: list[Body]) -> None:
    """Print the options with every line of their cost."""
    rows = [
        (
            f"{option['rank']}{'*' if option['undominated'] else ''}",
            f"{name_of(option)}\n{lines_of(option)}",
            chance_of(option),
            option["landed_cost"],
            option["expected_cost"],
            f"{option['cost_90'][0]} to\n{option['cost_90'][1]}",
        )
        for option in options
    ]
    grid(
        ("", "Way out", "Works", "Landed", "Expected", "9 of 10"),
        rows,
        right=("Works", "Landed", "Expected", "9 of 10"),
    )


def name_of(option: Body) -> str:
    """Return what an option is called: what is done, with what, from whom."""
    part = option.get("part", {})
    what = " ".join(str(part[name]) for name in ("maker", "number") if part.get(name)) or part.get(
        "title", ""
    )
    words = [KINDS[option["kind"]], *([what] if what else [])]
    supplier = option.get("supplier")
    return ": ".join(words) + (f", {supplier}" if supplier else "")


def lines_of(option: Body) -> str:
    """Return the lines that an option's expected cost is the sum of, those that are nothing left out."""
    lines = [line for line in option["lines"] if float(line["amount"])]
    return " + ".join(f"{line['amount']} {LINES.get(line['line'], say_key(line['line']))}" for line in lines)


def chance_of(option: Body) -> str:
    """Return the chance that an option does it."""
    chance = option.get("fit_confidence", option.get("cure_chance"))
    return "" if chance is None else say_percent(chance)


def print_plan(plan: Body, currency: str, names: Mapping[str, str]) -> None:
    """Print what to try in which order, and whether the machine deserves it."""
    headline("Plan")
    steps = "; if that fails: ".join(names.get(step, step) for step in plan["steps"])
    say(f"{steps}.")
    verdict = VERDICTS[MachineVerdict(plan["verdict"])]
    say(
        f"{plan['expected_cost']} {currency} are to be expected, at most {plan['ceiling']} are "
        f"reasonable: {verdict}."
    )


def print_cautions(cautions: list[Body]) -> None:
    """Print what can hurt, and what to do about it."""
    headline("Take care")
    bullets(
        [f"{caution['where'].capitalize()}: {caution['text']} ({caution['danger']})" for caution in cautions]
    )
