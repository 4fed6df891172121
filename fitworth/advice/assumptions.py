"""The assumptions: what is taken for true until somebody knows better, with bounds and origin."""

import difflib
import tomllib
from collections.abc import Iterator, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

from fitworth.errors import Fault, InvalidValueError, escape_pointer, raise_faults
from fitworth.vocabulary import Origin

NEAR_NAMES = 3  # how many known names are offered in place of an unknown one


@dataclass(frozen=True, slots=True)
class Assumption:
    """One figure that is taken for true.

    Attributes:
        name: words joined by points: "dead_on_arrival.carburetor.oem".
        value: [unit].
        unit: of value, low and high.
        meaning: one sentence.
        low: the least value that makes sense.
        high: the greatest.
        origin: who says so.
    """

    name: str
    value: float
    unit: str
    meaning: str
    low: float
    high: float
    origin: Origin = Origin.DEFAULT


@dataclass(frozen=True, slots=True)
class Assumptions:
    """All assumptions of one computation; later layers have replaced earlier ones."""

    by_name: Mapping[str, Assumption]

    def get(self, name: str) -> Assumption:
        """Return the assumption of this name, or the row `other` that answers for it.

        Raises:
            InvalidValueError: neither is there.
        """
        found = self.by_name.get(name) or self.by_name.get(_name_other(name))
        if found is None:
            raise InvalidValueError(self._say_unknown(name))
        return found

    def value(self, name: str) -> float:
        """Return the value of the assumption of this name [its unit]; see `get`."""
        return self.get(name).value

    def with_overrides(
        self, raw: Mapping[str, object], origin: Origin, words: AbstractSet[str] = frozenset()
    ) -> "Assumptions":
        """Return these assumptions with others' values on top.

        Args:
            raw: values by name, as they came in.
            origin: who says so.
            words: families and needs without figures that may be given some: a user's own family.

        Raises:
            InvalidValueError: with every name that is not known and every value out of bounds.
        """
        faults: list[Fault] = []
        changed = dict(self.by_name)
        for name, value in raw.items():
            known = self.by_name.get(name) or self._find_own(name, words)
            says = self._say_unknown(name) if known is None else _say_unsound(known, value)
            if says or known is None:
                faults.append(Fault("/" + escape_pointer(name), says))
            else:
                changed[name] = replace(known, value=float(value), origin=origin)  # type: ignore[arg-type]
        raise_faults(faults)
        return Assumptions(MappingProxyType(changed))

    def _find_own(self, name: str, words: AbstractSet[str]) -> Assumption | None:
        """Return a copy of the row `other` under the name of a family or need without figures of its own."""
        other = self.by_name.get(_name_other(name))
        word = name.partition(".")[2].partition(".")[0]
        if other is None or word not in words:
            return None
        return replace(other, name=name, meaning=other.meaning.replace("other", word.replace("_", " "), 1))

    def _say_unknown(self, name: str) -> str:
        near = difflib.get_close_matches(name, self.by_name, NEAR_NAMES, cutoff=0.5)
        hint = f"; the nearest names are {', '.join(near)}" if near else ""
        return f'There is no assumption "{name}"{hint}.'


class Asked:
    """The assumptions of one computation with a list of those it asked for; made anew for each."""

    __slots__ = ("_asked", "assumptions")

    def __init__(self, assumptions: Assumptions) -> None:
        self.assumptions = assumptions
        self._asked: dict[str, Assumption] = {}

    def value(self, name: str) -> float:
        """Return a value and note that it was asked for; see `Assumptions.get`."""
        found = self.assumptions.get(name)
        self._asked[found.name] = found
        return found.value

    def list_asked(self) -> tuple[Assumption, ...]:
        """Return what was asked for, by name; a row `other` shows as such."""
        return tuple(self._asked[name] for name in sorted(self._asked))


def read_assumptions(data: bytes) -> Assumptions:
    """Return the defaults from the bytes of their file (TOML, one table a group; see the file's head).

    Raises:
        InvalidValueError: the bytes are no TOML, or groups lack something; with every fault.
    """
    try:
        groups = tomllib.loads(data.decode())
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise InvalidValueError(f"The assumptions are no readable TOML: {error}.") from error
    faults: list[Fault] = []
    by_name: dict[str, Assumption] = {}
    for key, group in groups.items():
        missing = [word for word in ("value", "unit", "low", "high", "meaning") if word not in group]
        if missing:
            faults.append(Fault(f"/{key}", f"The group lacks {', '.join(missing)}."))
            continue
        for assumption in _list_group(key, group):
            by_name[assumption.name] = assumption
            says = _say_unsound(assumption, assumption.value)
            faults.extend([Fault("/" + assumption.name, says)] if says else [])
    raise_faults(faults)
    return Assumptions(MappingProxyType(by_name))


def _list_group(key: str, group: Mapping[str, Any]) -> Iterator[Assumption]:
    """Yield the assumptions of one table, its meaning filled with the words of their names."""
    for words, value in _list_leaves(group["value"]):
        spoken = [word.replace("_", " ") for word in words]
        yield Assumption(
            name=".".join((key, *words)),
            value=value,
            unit=group["unit"],
            meaning=group["meaning"].format(*spoken),
            low=group["low"],
            high=group["high"],
        )


def _list_leaves(node: Any, words: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Yield each figure below a node with the words that lead to it."""
    if isinstance(node, Mapping):
        for word, below in node.items():
            yield from _list_leaves(below, (*words, word))
    else:
        yield words, node


def _name_other(name: str) -> str:
    """Return the name of the row that answers where a family or need has none: its second word is `other`."""
    group, *words = name.split(".")
    return ".".join((group, "other", *words[1:])) if words else name


def _say_unsound(known: Assumption, value: object) -> str:
    """Return what is wrong with a value, or "" where it may stand."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return f'"{known.name}" must be a number, in the unit {known.unit}.'
    if not known.low <= value <= known.high:
        return f'"{known.name}" must lie from {known.low:g} to {known.high:g} ({known.unit}).'
    return ""
