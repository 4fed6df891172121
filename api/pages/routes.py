"""The pages for people: the measuring sheet, the machine interface explained, the kinds of problems."""

from pathlib import Path
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, HTMLResponse, Response
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from api.deps import FitsOf, Reading
from api.pages.problem_types import list_problem_types
from api.pages.sheet import sheet_of

HERE = Path(__file__).parent
STATIC: Path = HERE / "static"
TEMPLATES: Path = HERE / "templates"

OK = 200


def make_environment() -> Environment:
    """Return the templates: all that they show is escaped, and a name that they were not given is a fault."""
    return Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def make_page_router() -> APIRouter:
    """Return the routes of the pages."""
    router = APIRouter(include_in_schema=False)
    templates = make_environment()

    def page(name: str, status: int = OK, **shown: Any) -> Response:
        content = templates.get_template(name).render(**shown)
        return HTMLResponse(content, status, headers={"cache-control": "no-cache"})

    @router.get("/")
    def measuring_sheet(request: Request, call: Reading, fits: FitsOf) -> Response:
        sheet = sheet_of(call, fits, request.query_params.multi_items())
        return page("measure.html", sheet.status, sheet=sheet)

    @router.get("/docs")
    def machine_interface() -> Response:
        return page("docs.html")

    @router.get("/problems")
    def kinds_of_problems() -> Response:
        return page("problems.html", kinds=list_problem_types())

    @router.get("/favicon.ico")
    def icon() -> Response:
        return FileResponse(
            STATIC / "icon.svg", media_type="image/svg+xml", headers={"cache-control": "max-age=86400"}
        )

    return router
