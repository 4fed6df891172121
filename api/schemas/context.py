"""The families on hand while a request's input is read: input models check dimensions against them."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar

from fitworth.families.model import Family

_families: ContextVar[Mapping[str, Family]] = ContextVar("families")


@contextmanager
def reading_with(families: Mapping[str, Family]) -> Iterator[None]:
    """Read input against these families inside the `with` block."""
    token = _families.set(families)
    try:
        yield
    finally:
        _families.reset(token)


def known_families() -> Mapping[str, Family]:
    """Return the families that input is read against."""
    return _families.get()
