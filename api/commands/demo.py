"""`fitworth demo`: the invented workshop's jobs, answered on the screen and then in the browser."""

from collections.abc import Mapping
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Annotated, Any

import typer

from api.commands.compare import print_comparison
from api.commands.fits import print_fits
from api.commands.opening import opened
from api.commands.refusals import read_settings
from api.commands.screen import headline, say
from api.commands.serving import PortOption, check_address, run
from api.database import open_call
from api.main import create_app
from api.schemas.comparisons import ComparisonIn
from api.schemas.fits import FitsIn
from api.services import comparisons, demonstration
from api.services.bench import JOBS, MACHINES
from api.services.call import Call
from api.services.fits import FitService, fits_body
from api.services.resource import get

KNOWN = ("family", "instrument", "measured", "marking", "known_number", "engine")
MOST_FITS = 6
MOST_OPTIONS = 6


def demo(
    serving: Annotated[bool, typer.Option("--serve/--no-serve", help="Serve the page afterwards.")] = True,
    port: PortOption = None,
) -> None:
    """Show what Fitworth does, on an invented workshop's jobs; their database is thrown away afterwards."""
    with TemporaryDirectory(prefix="fitworth-demonstration-") as folder:
        url = f"sqlite:///{Path(folder) / 'demonstration.sqlite'}"
        settings = read_settings(
            database_url=url, families_dir=demonstration.FAMILIES, port=port, host="127.0.0.1", workers=1
        )
        if serving:
            check_address(settings)
        with opened(settings) as here:
            with open_call(here.database.writers, here.knowledge) as call:
                jobs = demonstration.load(call)
            with here.reading() as call:
                show_jobs(call, jobs)
        if serving:
            say()
            run(create_app(settings), settings)


def show_jobs(call: Call, jobs: list[str]) -> None:
    """Print the main job in full, and what the others come to."""
    say("The winter overhaul at a tool-lending library. Names, numbers and prices are invented.")
    main, *others = jobs
    fits = FitService()
    introduce(call, main)
    removed = get(call, JOBS, main).body["removed_part"]
    asked = FitsIn.model_validate({name: removed[name] for name in KNOWN} | {"limit": MOST_FITS})
    print_fits(call.knowledge.families[asked.family], fits_body(fits.find(call, asked)))
    print_comparison(answer(call, fits, main), MOST_OPTIONS)
    for job in others:
        introduce(call, job)
        say(answer(call, fits, job)["answer"])


def introduce(call: Call, job: str) -> None:
    """Print whose job it is, and what was found so far."""
    body = get(call, JOBS, job).body
    machine = get(call, MACHINES, body["machine_id"]).body
    headline(f"{machine['name']}: {body['symptom'].replace('_', ' ')}")
    for check in body["checks"]:
        say(f"{check['check'].replace('_', ' ').capitalize()}: {check['result']}.")


def answer(call: Call, fits: FitService, job: str) -> Mapping[str, Any]:
    """Return a job's comparison."""
    return comparisons.answer(call, fits, ComparisonIn(job_id=job))
