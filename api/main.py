"""The application: made by a function, never at import."""

from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager
from datetime import UTC, datetime

from fastapi import FastAPI
from prometheus_client import CollectorRegistry
from prometheus_fastapi_instrumentator import Instrumentator
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Receive, Scope, Send

from api import logs, problems
from api.database import open_database
from api.guard import Guard
from api.openapi import describe
from api.pages.routes import STATIC, make_page_router
from api.routes import (
    assumptions,
    comparisons,
    doubtful_entries,
    exports,
    families,
    fit_reliability,
    fits,
    health,
    interchange,
    numbers,
    records,
)
from api.schemas.context import reading_with
from api.services.fits import FitService
from api.services.idempotency import forget_old
from api.services.knowledge import load_knowledge
from api.settings import Settings, get_settings
from fitworth.families.model import Family

SUMMARY = (
    "Measure the part you took off: which parts on file fit, how sure that is, "
    "and what each way out costs by the time the machine runs."
)


class FamiliesOnHand:
    """The ASGI middleware that lets input models check dimensions against the families."""

    def __init__(self, app: ASGIApp, families: Mapping[str, Family]) -> None:
        self.app = app
        self.families = families

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on with the families on hand."""
        with reading_with(self.families):
            await self.app(scope, receive, send)


def create_app(settings: Settings | None = None) -> FastAPI:
    """Return the application; its database is brought up to date when it starts."""
    settings = settings or get_settings()
    logs.configure(settings.log_level)

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        with open_database(settings) as database:
            app.state.engine = database.engine
            app.state.readers = database.readers
            app.state.writers = database.writers
            with database.writers.begin() as session:
                forget_old(session, datetime.now(UTC))
            yield

    app = FastAPI(
        title="Fitworth", version="0.1.0", summary=SUMMARY, lifespan=lifespan, docs_url=None, redoc_url=None
    )
    app.state.settings = settings
    app.state.knowledge = load_knowledge(settings.families_dir)
    app.state.fits = FitService()

    # A registry of its own: several applications can then live in one process.
    Instrumentator(excluded_handlers=["/metrics", "/static.*"], registry=CollectorRegistry()).instrument(
        app
    ).expose(app, include_in_schema=False)
    app.add_middleware(FamiliesOnHand, families=app.state.knowledge.families)
    app.add_middleware(Guard, json_limit_bytes=settings.json_limit_bytes)
    problems.install(app)
    for router in (
        families.router,
        fits.router,
        comparisons.router,
        numbers.router,
        doubtful_entries.router,
        interchange.make_router(),
        records.make_router(),
        exports.router,
        assumptions.router,
        fit_reliability.router,
    ):
        app.include_router(router, prefix="/v1")
    app.include_router(health.router)
    app.include_router(make_page_router())
    app.openapi = lambda: describe(app)  # type: ignore[method-assign]
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    return app
