"""The cautions, and where each belongs: shown beside what it is about, not in a list that nobody reads."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from fitworth.families.file import open_file
from fitworth.families.layout import Layout
from fitworth.families.model import Family
from fitworth.families.reading import Section
from fitworth.vocabulary import OptionKind

FILE = Layout("the list of cautions", ("caution",))
CAUTION = Layout("a caution", ("key", "where", "danger", "text"), ("options", "symptoms", "everywhere"))


@dataclass(frozen=True, slots=True)
class Caution:
    """What can hurt, and what to do about it.

    Attributes:
        key: what family files name it by.
        where: the work that it belongs to, in words.
        danger: what can happen.
        text: what to do.
        options: the ways to go that it belongs to; empty for all.
        symptoms: the searches for a fault that it belongs to.
        everywhere: whether it is shown whatever the part is.
    """

    key: str
    where: str
    danger: str
    text: str
    options: frozenset[OptionKind] = frozenset()
    symptoms: frozenset[str] = frozenset()
    everywhere: bool = False


def parse_cautions(content: bytes) -> tuple[Caution, ...]:
    """Return the cautions of a TOML file, in its order.

    Raises:
        FamilyFileError: with every fault and its line.
    """
    file = open_file(content, "cautions.toml", FILE)
    cautions = tuple(_read_caution(section) for section in file.list_sections("caution", CAUTION))
    keys = [caution.key for caution in cautions]
    for position, key in enumerate(keys):
        if key in keys[:position]:
            file.page.note(
                ("caution", position, "key"), f"“{key}” stands twice; each caution has a key of its own."
            )
    file.page.raise_faults()
    return cautions


def list_for(
    cautions: Sequence[Caution], families: Iterable[Family], options: Collection[OptionKind]
) -> tuple[Caution, ...]:
    """Return the cautions that belong beside a comparison, in the file's order.

    Args:
        cautions: all of them.
        families: of the parts compared; those name their cautions.
        options: the ways to go that are compared.

    Raises nothing; a caution that a family names but no file has is left out (`list_unknown` finds it).
    """
    named = {key for family in families for key in family.cautions}
    return tuple(
        caution
        for caution in cautions
        if (caution.everywhere or caution.key in named)
        and (not caution.options or not caution.options.isdisjoint(options))
    )


def list_for_symptom(cautions: Sequence[Caution], symptom: str) -> tuple[Caution, ...]:
    """Return the cautions that belong beside the search for a fault, those for everything first."""
    always = tuple(caution for caution in cautions if caution.everywhere)
    return always + tuple(
        caution for caution in cautions if symptom in caution.symptoms and not caution.everywhere
    )


def list_unknown(cautions: Sequence[Caution], family: Family) -> tuple[str, ...]:
    """Return the keys that a family names and no caution has."""
    known = {caution.key for caution in cautions}
    return tuple(key for key in family.cautions if key not in known)


def _read_caution(section: Section) -> Caution:
    everywhere = section.table.get("everywhere", False)
    if not isinstance(everywhere, bool):
        section.note("everywhere", "“everywhere” is true or false.")
    return Caution(
        key=section.find_key("key") or "",
        where=section.find_text("where") or "",
        danger=section.find_text("danger") or "",
        text=section.find_text("text") or "",
        options=frozenset(section.list_words("options", OptionKind)),
        symptoms=frozenset(section.list_keys("symptoms")),
        everywhere=everywhere is True,
    )
