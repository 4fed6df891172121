"""`fitworth fits`: which parts on file fit what was measured."""

from collections.abc import Mapping
from typing import Annotated, Any

import typer

from api.commands.opening import reading
from api.commands.screen import Format, FormatOption, bar, bullets, grid, headline, say, show
from api.errors import InputFault, InvalidInputError
from api.faults import count
from api.pages.answer import Answer, answer_of
from api.pages.words import GRADES, NOTHING, UNITS, VERDICTS, say_difference, say_key, say_percent, say_value
from api.query import OWN_PARAMETERS, read_query
from api.routes.fits import table
from api.schemas.fits import FitsIn
from api.services.fits import FitService, fits_body
from fitworth.families.model import Family
from fitworth.vocabulary import Grade, Status, Verdict

Body = Mapping[str, Any]


def fits(
    family: Annotated[str, typer.Argument(help="the family, such as carburetor", show_default=False)],
    measured: Annotated[
        list[str] | None,
        typer.Argument(metavar="KEY=VALUE...", help='measurements, such as throttle_bore="19.1 mm"'),
    ] = None,
    marking: Annotated[
        str | None, typer.Option(help="What is legible of its number, ? for what is not.")
    ] = None,
    known_number: Annotated[str | None, typer.Option(help="Its number, where that is certain.")] = None,
    engine: Annotated[str | None, typer.Option(help="The engine's model, type or code.")] = None,
    instrument: Annotated[
        str | None, typer.Option(help="What all of it was measured with, such as caliper_outside.")
    ] = None,
    limit: Annotated[int, typer.Option(help="How many parts are shown at most.", min=1, max=100)] = 10,
    form: FormatOption = Format.TABLE,
) -> None:
    """Ask which parts on file fit in place of the removed one, and how sure that is."""
    given = {"family": family, "limit": str(limit)}
    stated = {"marking": marking, "known_number": known_number, "engine": engine, "instrument": instrument}
    given |= {name: value for name, value in stated.items() if value is not None}
    values, repeated, faults = take_apart(measured or [])
    with reading() as call:
        data = read_all(given | values, call.knowledge.families, repeated, faults)
        body = fits_body(FitService().find(call, data))
        known = call.knowledge.families[family]
        show(form, body, table, lambda shown: print_fits(known, shown))


def take_apart(pieces: list[str]) -> tuple[dict[str, str], list[str], list[InputFault]]:
    """Return the measurements by key, the keys that stand twice, and what is no measurement at all."""
    values: dict[str, str] = {}
    repeated: list[str] = []
    faults: list[InputFault] = []
    for piece in pieces:
        key, equals, value = piece.partition("=")
        if not equals or not key:
            faults.append(
                InputFault("Write it as KEY=VALUE, in quotes where there are blanks.", "path", piece)
            )
        elif key in OWN_PARAMETERS:
            option = key.replace("_", "-")
            faults.append(InputFault(f"This is no dimension; write --{option} {value}.", "path", key))
        elif key in values:
            repeated.append(key)
        else:
            values[key] = value
    return values, repeated, faults


def read_all(
    given: Mapping[str, str],
    families: Mapping[str, Family],
    repeated: list[str],
    faults: list[InputFault],
) -> FitsIn:
    """Return the query.

    Raises:
        InvalidInputError: with every fault, those found before among them.
    """
    try:
        data = read_query(given, families, repeated=repeated)
    except InvalidInputError as error:
        faults = [*faults, *error.faults]
    if faults:
        raise InvalidInputError(count(faults), faults)
    return data


def print_fits(family: Family, body: Body) -> None:
    """Print an answer for people."""
    answer = answer_of(family, body)
    if answer.read:
        headline("As it was read")
        print_read(answer)
    headline("What fits")
    say(f"{answer.headline} {answer.on_file} parts of this family are on file.")
    print_candidates(family, body["fits"])
    say(f"The chance that nothing on file fits: {answer.nothing.percent}, {answer.nothing.words}.")
    if answer.steps:
        headline("What to measure next")
        bullets([f"{step.label} ({step.key}), {step.gain}: {step.how}" for step in answer.steps])
    if answer.enough:
        say("Measuring more would hardly change which part to take.")
    if answer.unproved:
        headline("Not measured, and a matter of safety")
        bullets([f"{step.label} ({step.key}): {step.how}" for step in answer.unproved])
    if answer.warnings:
        headline("Mind")
        bullets(answer.warnings)


def print_read(answer: Answer) -> None:
    """Print each measurement as it was entered and as it was read."""
    grid(
        ("Dimension", "Entered", "Read as", "In inches"),
        [(entry.label, entry.entered, entry.value, entry.inches) for entry in answer.read],
    )


def print_candidates(family: Family, fits: list[Body]) -> None:
    """Print the candidates with their confidence, and what differs in each."""
    rows = []
    for fit in fits:
        part, chance = fit["part"], fit["fit_confidence"]
        sign, words = VERDICTS[Verdict(fit["verdict"])]
        rows.append(
            (
                f"{part['maker']} {part['number'] or part['title']}\n{GRADES[Grade(part['grade'])]}",
                f"{bar(chance)} {say_percent(chance)}",
                f"{sign} {words}",
                "\n".join(differences(family, fit)) or NOTHING,
            )
        )
    grid(("Part", "Fit confidence", "Verdict", "What differs, what it takes"), rows)


def differences(family: Family, fit: Body) -> list[str]:
    """List what differs in a candidate, and the work that it may take."""
    lines = []
    for entry in fit["dimensions"]:
        if entry["status"] == Status.DIFFERS:
            dimension = family.by_key[entry["key"]]
            off = entry["difference"]
            how = (
                say_value(dimension, entry["listed"])
                if off is None
                else f"{say_difference(off)}{UNITS[dimension.unit]}"
            )
            lines.append(f"{dimension.label}: {how}")
    work = fit["with_work"]
    if work["items"] or work["minutes"]:
        goods = "".join(f"{say_key(item)}, " for item in work["items"])
        lines.append(f"{goods}{work['minutes']:.0f} min work ({say_percent(work['probability'])})")
    return lines
