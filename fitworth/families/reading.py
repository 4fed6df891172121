"""How the plain values of a family file are read.

Every reader notes what is wrong on the page and goes on, so that one reading finds every fault.
"""

import math
import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from enum import StrEnum
from typing import Any, TypeVar

from fitworth.errors import FamilyFileError, Fault
from fitworth.families.layout import Layout
from fitworth.families.lines import Path, get_line
from fitworth.vocabulary import Kind

E = TypeVar("E", bound=StrEnum)

KEY_GRAMMAR = re.compile(r"[a-z][a-z0-9_]{0,39}")
# A choice may also begin with a digit or have a point (m14x1.25); a comma would part a list in a query.
CHOICE_GRAMMAR = re.compile(r"[a-z0-9][a-z0-9_.+-]{0,39}")
# Own choice: far above anything measured on a small engine, in any unit, and safe to turn into a float.
LARGEST_NUMBER = 1e9
KEY_RULE = "a key begins with a small letter and has small letters, digits and underscores, 40 at most."
CHOICE_RULE = "a choice has small letters, digits, underscores, points, plus and minus, 40 at most."


@dataclass(frozen=True, slots=True)
class Reference:
    """A place that names a dimension of certain kinds, and perhaps in “value” a choice; checked last."""

    path: Path
    name: str
    kinds: frozenset[Kind]
    choice: str | None = None


@dataclass(frozen=True, slots=True)
class Page:
    """The file being read: its name, the lines of its keys, and what was noted so far."""

    name: str
    lines: Mapping[Path, int]
    faults: list[Fault] = field(default_factory=list)
    references: list[Reference] = field(default_factory=list)

    def note(self, path: Path, says: str) -> None:
        """Note a fault at the line of a path."""
        self.faults.append(Fault(f"line {get_line(self.lines, path)}", f"{self.name}: {says}"))

    def raise_faults(self) -> None:
        """Raise FamilyFileError with all faults in the order of their lines, or do nothing."""
        if self.faults:
            by_line = sorted(self.faults, key=lambda fault: int(fault.where.removeprefix("line ")))
            raise FamilyFileError(by_line)


@dataclass(frozen=True, slots=True)
class Section:
    """One table of the file; its readers return None (or nothing) where the value is missing or faulty."""

    layout: Layout
    table: Mapping[str, Any]
    path: Path
    page: Page

    def note(self, key: str, says: str) -> None:
        """Note a fault at the line of one of this table's keys."""
        self.page.note((*self.path, key), says)

    def refer(self, key: str, name: str, kinds: frozenset[Kind], choice: str | None = None) -> None:
        """Note that one of this table's keys names a dimension, to be checked once all are read."""
        self.page.references.append(Reference((*self.path, key), name, kinds, choice))

    def check_keys(self) -> None:
        """Note keys that are missing and keys that mean nothing here."""
        what, keys = self.layout.what, self.layout.keys
        for key in self.layout.required:
            if key not in self.table:
                self.page.note(self.path, f"“{key}” is missing; {what} must say it.")
        for key in self.table:
            if key not in keys:
                hint = nearest(key, keys)
                self.note(key, f"“{key}” is nothing that {what} says{hint} It may say: {', '.join(keys)}.")

    def find_text(self, key: str) -> str | None:
        """Return a text, stripped; noted where empty though required, or where it has control characters."""
        if key not in self.table:
            return None
        value = self.table[key]
        if not isinstance(value, str):
            self.note(key, f"“{key}” should be text in quotes, but is {describe(value)}.")
            return None
        if any(unicodedata.category(sign) == "Cc" and sign not in "\n\t" for sign in value):
            self.note(key, f"“{key}” holds a control character; retype it.")
        if not value.strip() and key in self.layout.required:
            self.note(key, f"“{key}” is empty; write what it is.")
        return value.strip()

    def find_key(self, key: str) -> str | None:
        """Return a text that serves as a key, noted where it breaks the grammar of keys."""
        value = self.find_text(key)
        if value and not KEY_GRAMMAR.fullmatch(value):
            self.note(key, f"“{key}” is “{value}”; {KEY_RULE}")
        return value

    def find_word(self, key: str, words: type[E]) -> E | None:
        """Return a word of the vocabulary, noted with the nearest where it is none."""
        value = self.find_text(key)
        if value is None:
            return None
        return self._match_word(key, value, words)

    def list_words(self, key: str, words: type[E]) -> tuple[E, ...]:
        """Return a list of words of the vocabulary."""
        found = (self._match_word(key, value, words) for value in self.list_texts(key))
        return tuple(word for word in found if word is not None)

    def list_keys(self, key: str, grammar: re.Pattern[str] = KEY_GRAMMAR) -> tuple[str, ...]:
        """Return a list of keys, or of choices by their own grammar."""
        values = self.list_texts(key)
        rule = KEY_RULE if grammar is KEY_GRAMMAR else CHOICE_RULE
        for value in values:
            if not grammar.fullmatch(value):
                self.note(key, f"“{value}” in “{key}” cannot stand; {rule}")
        return values

    def list_texts(self, key: str) -> tuple[str, ...]:
        """Return a list of texts, noted where it is none, or where one stands twice."""
        value = self.table.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            self.note(
                key, f'“{key}” should be a list of texts like ["one", "two"], but is {describe(value)}.'
            )
            return ()
        for item in sorted({item for item in value if value.count(item) > 1}):
            self.note(key, f"“{item}” stands twice in “{key}”; once is enough.")
        return tuple(value)

    def find_number(self, key: str, low: float, high: float) -> float | None:
        """Return a number within [low, high]."""
        if key not in self.table:
            return None
        value = read_number(self.table[key])
        if value is None or not low <= value <= high:
            given = describe(self.table[key])
            self.note(key, f"“{key}” should be a number from {low:g} to {high:g}, but is {given}.")
            return None
        return value

    def find_pair(self, key: str) -> tuple[float, float] | None:
        """Return two numbers [low, high], the lower first; either may be infinite."""
        if key not in self.table:
            return None
        given = self.table[key]
        numbers = [read_number(item) for item in given] if isinstance(given, list) else []
        match numbers:
            case [float(low), float(high)] if low <= high:
                return low, high
            case [float(low), float(high)]:
                self.note(key, f"“{key}” goes from {low:g} to {high:g}; write the lower number first.")
            case _:
                self.note(
                    key,
                    f"“{key}” should be two numbers like [-0.5, inf], but is {describe(given)}.",
                )
        return None

    def find_section(self, key: str, layout: Layout) -> "Section | None":
        """Return a table inside this one, its keys checked."""
        if key not in self.table:
            return None
        value = self.table[key]
        if not isinstance(value, dict):
            self.note(
                key, f"“{key}” should be one table with {', '.join(layout.keys)}, but is {describe(value)}."
            )
            return None
        return open_section(layout, value, (*self.path, key), self.page)

    def list_sections(self, key: str, layout: Layout) -> "tuple[Section, ...]":
        """Return the tables of an array of tables, their keys checked."""
        value = self.table.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            self.note(
                key,
                f"each “{key}” should stand under its own line [[{key}]], but this is {describe(value)}.",
            )
            return ()
        return tuple(
            open_section(layout, item, (*self.path, key, position), self.page)
            for position, item in enumerate(value)
        )

    def _match_word(self, key: str, value: str, words: type[E]) -> E | None:
        known = [word.value for word in words]
        if value in known:
            return words(value)
        self.note(
            key,
            f"“{value}” is no {key.removesuffix('s')}{nearest(value, known)} Known are: {', '.join(known)}.",
        )
        return None


def open_section(layout: Layout, table: Mapping[str, Any], path: Path, page: Page) -> Section:
    """Return a table of the file as a section, its keys checked."""
    section = Section(layout, table, path, page)
    section.check_keys()
    return section


def read_number(value: object) -> float | None:
    """Return a TOML integer or float as a float, or None where it is none, is nan or is far too large."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) if abs(value) <= LARGEST_NUMBER or value in {math.inf, -math.inf} else None


def nearest(value: str, known: Iterable[str]) -> str:
    """Return "; did you mean ...?" with the nearest known word, or a full stop where none is near."""
    close = get_close_matches(value, list(known), n=1)
    return f"; did you mean “{close[0]}”?" if close else "."


def describe(value: object) -> str:
    """Return what a TOML value is, in words."""
    match value:
        case bool():
            return "true or false"
        case float() if math.isnan(value):
            return "nan (not a number)"
        case int() | float() if abs(value) <= LARGEST_NUMBER or value in (math.inf, -math.inf):
            return f"{value:g}"
        case int() | float():
            return "a number far too large"
        case str():
            return f"the text “{value[:40]}”"
        case list():
            return f"a list of {len(value)}"
        case dict():
            return "a table"
        case _:
            return "a date or a time"
