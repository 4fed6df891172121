"""The kinds of problems that an answer's `type` may name, gathered from where they are declared."""

from collections.abc import Iterator
from dataclasses import dataclass
from http import HTTPStatus

from api import problems
from api.errors import ServiceError


@dataclass(frozen=True, slots=True)
class ProblemType:
    """One kind of problem; `status` is empty where several may come."""

    slug: str
    title: str
    status: str
    says: str


def list_problem_types() -> list[ProblemType]:
    """Return every kind once, in the order of the slugs."""
    kinds: dict[str, ProblemType] = {}
    for kind in (*_of_service(), *_of_core(), *_of_database(), *_of_framework()):
        kinds.setdefault(kind.slug, kind)
    return sorted(kinds.values(), key=lambda kind: kind.slug)


def _of_service() -> Iterator[ProblemType]:
    for error in ServiceError.__subclasses__():
        yield ProblemType(error.slug, error.title, str(error.status), _first_line(error))


def _of_core() -> Iterator[ProblemType]:
    for error, (slug, title, status) in problems.CORE_PROBLEMS.items():
        yield ProblemType(slug, title, str(status), _first_line(error))


def _of_database() -> Iterator[ProblemType]:
    for slug, title, status, says in problems.DATABASE_PROBLEMS.values():
        yield ProblemType(slug, title, str(status), says)


def _of_framework() -> Iterator[ProblemType]:
    for status in (*problems.FRAMEWORK_PROBLEMS, HTTPStatus.BAD_REQUEST):
        body = problems.of_status(status)
        own = status in problems.FRAMEWORK_PROBLEMS
        slug = str(body["type"]).partition("#")[2]
        yield ProblemType(slug, body["title"], str(int(status)) if own else "", body["detail"])


def _first_line(error: type[Exception]) -> str:
    return (error.__doc__ or "").strip().partition("\n")[0]
