"""Errors of the core. None of them knows of HTTP.

CoreError                  everything below; carries every fault found, not only the first
├── InvalidValueError      a value does not mean what it should: unit, size, notation, currency, dimension
├── FamilyFileError        a family file has faults; each names its line
└── NotComputableError     every value is sound, but no answer follows from them
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong: where (a JSON pointer, "" for the value itself) and what would be right."""

    where: str
    says: str

    def under(self, prefix: str) -> "Fault":
        """Return the same fault seen from further out, its pointer prefixed."""
        return replace(self, where=prefix + self.where)


class CoreError(Exception):
    """The base of all errors of the core; `faults` lists everything wrong at once."""

    def __init__(self, faults: str | Fault | Iterable[Fault]) -> None:
        if isinstance(faults, str):
            faults = Fault("", faults)
        self.faults: tuple[Fault, ...] = (faults,) if isinstance(faults, Fault) else tuple(faults)
        lines = (f"{fault.where}: {fault.says}" if fault.where else fault.says for fault in self.faults)
        super().__init__("; ".join(lines))


class InvalidValueError(CoreError):
    """A value does not mean what it should."""


class FamilyFileError(CoreError):
    """A family file has faults; `where` is "line N"."""


class NotComputableError(CoreError):
    """No answer follows from sound values: no measurement, an empty catalogue, a missing exchange rate."""


def raise_faults(faults: Iterable[Fault]) -> None:
    """Raise InvalidValueError with all faults, or do nothing where there are none."""
    found = tuple(faults)
    if found:
        raise InvalidValueError(found)


def escape_pointer(token: str) -> str:
    """Return a name as a JSON pointer token (RFC 6901, section 3)."""
    return token.replace("~", "~0").replace("/", "~1")
