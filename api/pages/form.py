"""The measuring form of a family: which fields it has, what stands in them, and the faults beside them."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from api.pages.words import INSTRUMENTS, ROLES, UNIT_NAMES, say_key
from fitworth.families.model import BoltPlay, Dimension, Family
from fitworth.vocabulary import Instrument, Kind

# The drawings that there are, and the dimensions in the order of the numbers in them.
DRAWN: Mapping[str, tuple[str, ...]] = {
    "carburetor": (
        "throttle_bore",
        "bolt_spacing",
        "bolt_hole_diameter",
        "air_inlet_diameter",
        "body_length",
        "flange_thickness",
        "throttle_shaft_distance",
        "fuel_inlet_diameter",
        "bowl_depth",
    ),
}


@dataclass(frozen=True, slots=True)
class Option:
    """One of the choices of a field."""

    value: str
    label: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class Field:
    """One labelled field.

    Attributes:
        key: the parameter that it sends.
        label: what it asks for.
        how: how that is measured or read.
        control: "text", "select" or "boxes".
        value: the entry as it was written.
        options: of a select or of boxes.
        faults: what is wrong with the entry.
        unit: of a bare number; empty where there is none.
        role: what a mismatch touches, in a word; empty for what is no dimension.
        mark: its number in the drawing; empty where it is not drawn.
    """

    key: str
    label: str
    how: str
    control: str
    value: str
    options: tuple[Option, ...]
    faults: tuple[str, ...]
    unit: str = ""
    role: str = ""
    mark: str = ""

    @property
    def described_by(self) -> str:
        """The ids of the texts that describe the field."""
        return f"{self.key}-how {self.key}-fault" if self.faults else f"{self.key}-how"


@dataclass(frozen=True, slots=True)
class Group:
    """Fields that are filled in together."""

    key: str
    title: str
    fields: tuple[Field, ...]


@dataclass(frozen=True, slots=True)
class Entries:
    """What was entered: the text of each parameter, and the faults found in it."""

    given: Mapping[str, str]
    faults: Mapping[str, Sequence[str]]

    def field(
        self, key: str, label: str, how: str, options: Iterable[tuple[str, str]] = (), **more: str
    ) -> Field:
        """Return a field with its entry and its faults; with options it is a select."""
        value = self.given.get(key, "")
        choices = [Option(name, words, _same(name, value)) for name, words in options]
        control = more.pop("control", "select" if choices else "text")
        if choices:
            choices += [Option(item, item, True) for item in _unknown(choices, value, control)]
        faults = tuple(self.faults.get(key, ()))
        return Field(key, label, how, control, value, tuple(choices), faults, **more)


def groups_of(family: Family, entries: Entries) -> tuple[Group, ...]:
    """Return the fields in groups: what is read off, measured, looked at, and the machine's own."""
    shown = [dimension for dimension in family.dimensions if _is_asked(family, dimension, entries)]
    counting = [dimension for dimension in shown if dimension.counts_for_fit]
    measured = [dimension for dimension in counting if dimension.kind.is_numeric]
    named = [dimension for dimension in counting if not dimension.kind.is_numeric]
    own = [dimension for dimension in shown if not dimension.counts_for_fit]
    drawn = DRAWN.get(family.key, ())
    measured.sort(key=lambda dimension: drawn.index(dimension.key) if dimension.key in drawn else len(drawn))

    def fields(dimensions: Iterable[Dimension]) -> tuple[Field, ...]:
        return tuple(_field_of(dimension, drawn, entries) for dimension in dimensions)

    found = (
        Group("read", "Read it off", _reading_fields(entries)),
        Group("measure", "Measure it", (_instrument_field(entries), *fields(measured)) if measured else ()),
        Group("look", "Look at it", fields(named)),
        Group("machine", "Look at the engine and the machine", fields(own)),
    )
    return tuple(group for group in found if group.fields)


def driving_keys(family: Family) -> frozenset[str]:
    """Return the dimensions that the allowance of another depends on."""
    keys: set[str] = set()
    for dimension in family.dimensions:
        rules = [dimension.allowance, *(when.allowance for when in dimension.allowance_when)]
        keys.update(when.dimension for when in dimension.allowance_when)
        for rule in rules:
            if isinstance(rule, BoltPlay):
                keys.update((rule.hole, rule.stud))
    return frozenset(keys)


def _is_asked(family: Family, dimension: Dimension, entries: Entries) -> bool:
    """Return whether a dimension has a field: it counts, another depends on it, or it was given anyhow."""
    return dimension.counts_for_fit or dimension.key in driving_keys(family) or dimension.key in entries.given


def _reading_fields(entries: Entries) -> tuple[Field, ...]:
    return (
        entries.field(
            "marking",
            "Marking on the part",
            "What can be read of its number, with ? for each character that cannot: 7?8-21B.",
        ),
        entries.field(
            "known_number", "Known number", "Its number, if that is certain: from the old box or the manual."
        ),
        entries.field("engine", "Engine", "Model, type or code from the engine's plate."),
    )


def _instrument_field(entries: Entries) -> Field:
    options = [(name.value, words) for name, words in INSTRUMENTS.items() if name is not Instrument.LISTING]
    return entries.field(
        "instrument",
        "Measured with",
        "How exact a reading is depends on it. Left open, each dimension's usual instrument counts.",
        [("", "each dimension's usual instrument"), *options],
    )


def _field_of(dimension: Dimension, drawn: Sequence[str], entries: Entries) -> Field:
    options: list[tuple[str, str]] = []
    control = "text"
    if dimension.kind is Kind.CHOICE:
        control, options = (
            "select",
            [("", "not looked at"), *((key, say_key(key)) for key in dimension.choices)],
        )
    elif dimension.kind is Kind.FLAG:
        control, options = "select", [("", "unknown"), ("yes", "yes"), ("no", "no")]
    elif dimension.kind is Kind.SET and dimension.choices:
        control, options = "boxes", [(key, say_key(key)) for key in dimension.choices]
    how = (
        dimension.how
        if control != "text" or dimension.kind is not Kind.SET
        else f"{dimension.how} Commas between."
    )
    return entries.field(
        dimension.key,
        dimension.label,
        how,
        options,
        control=control,
        unit=UNIT_NAMES[dimension.unit] if dimension.kind.is_numeric else "",
        role=ROLES[dimension.role],
        mark=str(drawn.index(dimension.key) + 1) if dimension.key in drawn else "",
    )


def _unknown(choices: Sequence[Option], entered: str, control: str) -> list[str]:
    """Return what was entered and is none of the choices: it stays in the form, beside its fault."""
    items = entered.split(",") if control == "boxes" else [entered]
    return [item for item in items if item and not any(_same(choice.value, item) for choice in choices)]


def _same(choice: str, entered: str) -> bool:
    """Return whether an entry is, or has among others, a choice; case, spaces and signs do not matter."""
    if not choice or not entered:
        return choice == entered
    return _bare(choice) in {_bare(item) for item in entered.split(",")}


def _bare(text: str) -> str:
    plain = "".join(character for character in text.casefold() if character.isalnum())
    return {"true": "yes", "y": "yes", "false": "no", "n": "no"}.get(plain, plain)
