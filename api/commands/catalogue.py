"""`fitworth numbers` and `fitworth families`: what is on file, and what is known of it."""

from collections.abc import Mapping
from typing import Annotated, Any

import typer

from api.commands.opening import reading
from api.commands.refusals import read_settings
from api.commands.screen import Format, FormatOption, bar, grid, headline, say, show
from api.pages.words import GRADES, ROLES, say_allowance, say_key, say_percent
from api.routes import families as family_routes
from api.routes import numbers as number_routes
from api.services import families as family_service
from api.services import numbers as number_service
from api.services.fits import FitService
from api.services.knowledge import load_knowledge
from fitworth.vocabulary import Grade, Role

Body = Mapping[str, Any]


def numbers(
    like: Annotated[str, typer.Argument(help="what can be read, ? for what cannot", show_default=False)],
    family: Annotated[str | None, typer.Option(help="Only numbers of this family.")] = None,
    limit: Annotated[int, typer.Option(help="How many at most.", min=1, max=100)] = 10,
    form: FormatOption = Format.TABLE,
) -> None:
    """Find the stored numbers most like a worn or misread one."""
    with reading() as call:
        body = {
            "items": number_service.list_like(call, FitService(), like, family, limit),
            "next_cursor": None,
        }
    show(form, body, number_routes.table, print_numbers)


def print_numbers(body: Body) -> None:
    """Print numbers with how alike they are."""
    if not body["items"]:
        say("No number on file is like this one.")
        return
    grid(
        ("Number", "Alike", "Maker", "Grade", "Family", "Part"),
        [
            (
                item["number"],
                f"{bar(item['similarity'])} {say_percent(item['similarity'])}",
                item["maker"],
                GRADES[Grade(item["grade"])],
                say_key(item["family"]),
                item["part_id"],
            )
            for item in body["items"]
        ],
        right=("Part",),
    )


def families(
    family: Annotated[str | None, typer.Argument(help="one family's key, to see its dimensions")] = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """List the families of parts, or the dimensions of one: how each is measured, how far it may differ."""
    knowledge = load_knowledge(read_settings().families_dir)
    if family is None:
        body = {"items": family_service.list_families(knowledge), "next_cursor": None}
        show(form, body, family_routes.table, print_families)
    else:
        one = family_service.family_body(family_service.get_family(knowledge, family))
        show(form, one, family_routes.table, print_family)


def print_families(body: Body) -> None:
    """Print the families."""
    grid(
        ("Key", "Family", "Dimensions", "Usually needed besides"),
        [
            (
                item["key"],
                item["label"],
                len(item["dimensions"]),
                ", ".join(say_key(need) for need in item["needs"]),
            )
            for item in body["items"]
        ],
        right=("Dimensions",),
    )


def print_family(body: Body) -> None:
    """Print a family's dimensions."""
    headline(body["label"])
    say(f"{body['view'].capitalize()}.")
    grid(
        ("Key", "What it is, how it is measured", "Role", "May differ by"),
        [
            (
                item["key"],
                f"{item['label']}. {item['how']}",
                ROLES[Role(item["role"])].lower(),
                say_rule(item),
            )
            for item in body["dimensions"]
        ],
    )


def say_rule(dimension: Body) -> str:
    """Return how far a candidate may differ, in words."""
    allowance = dimension["allowance"]
    if allowance is None:
        return "anything"
    match allowance["rule"]:
        case "interval":
            return say_allowance(dimension["unit"], (allowance["low"], allowance["high"]))
        case "percent":
            return say_allowance("", (allowance["low"], allowance["high"])) + " per cent"
        case "around":
            return say_allowance("", (allowance["low"], allowance["high"])) + f" of {allowance['cycle']:g}"
        case "bolt_play":
            return "play of the bolts"
        case "accepts":
            return "what takes its place"
        case _:
            return "nothing"
