"""The description of the machine interface, OpenAPI 3.1."""

from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from api.schemas.common import Problem

REFUSALS_OF_ALL = {
    "403": "Another host name, or a page of another site.",
    "422": "Something entered is wrong; every fault is listed.",
}


def describe(app: FastAPI) -> dict[str, Any]:
    """Return the description, made once: every refusal is a problem, on every operation."""
    if app.openapi_schema is None:
        spec = get_openapi(
            title=app.title,
            version=app.version,
            summary=app.summary,
            routes=app.routes,
            openapi_version="3.1.0",
        )
        schemas = spec["components"]["schemas"]
        for unused in ("HTTPValidationError", "ValidationError"):
            schemas.pop(unused, None)
        problem = Problem.model_json_schema(ref_template="#/components/schemas/{model}")
        schemas |= {**problem.pop("$defs"), "Problem": problem}
        content = {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}}
        for operations in spec["paths"].values():
            for operation in operations.values():
                for status, meaning in REFUSALS_OF_ALL.items():
                    operation["responses"].setdefault(status, {"description": meaning, "content": content})
        app.openapi_schema = spec
    return app.openapi_schema
