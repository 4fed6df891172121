"""Text as it is searched: words that all stand somewhere in a record's text, whatever their case."""

import unicodedata
from collections.abc import Iterable

from sqlalchemy import ColumnElement
from sqlalchemy.orm import InstrumentedAttribute


def fold(text: str) -> str:
    """Return a text without differences of case, character width and the composition of accents."""
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", text).casefold())


def fold_lines(lines: Iterable[str | None]) -> str:
    """Return the searched text of a record: its lines, folded, empty ones left out."""
    return fold("\n".join(line for line in lines if line))


def contains_words(column: InstrumentedAttribute[str], query: str) -> list[ColumnElement[bool]]:
    """List the conditions that a column of folded text contains every word of a query."""
    return [column.contains(word, autoescape=True) for word in fold(query).split()]
