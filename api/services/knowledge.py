"""What the program knows before anything is entered: families, assumptions and cautions from their files."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from importlib import resources
from pathlib import Path

from fitworth.advice.assumptions import Assumptions, read_assumptions
from fitworth.advice.cautions import Caution, parse_cautions
from fitworth.errors import FamilyFileError, Fault
from fitworth.families.model import Family
from fitworth.families.parse import check_families, parse_family
from fitworth.matching.layout import RowLayout


@dataclass(frozen=True)
class Knowledge:
    """The families by key, the default assumptions, and the cautions."""

    families: Mapping[str, Family]
    assumptions: Assumptions
    cautions: tuple[Caution, ...]

    @cached_property
    def family_keys(self) -> str:
        """The keys of the families, for a sentence."""
        return ", ".join(sorted(self.families))

    @cached_property
    def layouts(self) -> Mapping[str, RowLayout]:
        """How the rows of each family are packed."""
        return {key: RowLayout(family) for key, family in self.families.items()}

    @cached_property
    def assumption_words(self) -> frozenset[str]:
        """The families and needs that assumptions may be about, those of own families among them."""
        words = set(self.families)
        for family in self.families.values():
            words.update(family.needs)
            for dimension in family.dimensions:
                words.update(dimension.cure.needs if dimension.cure else ())
                words.update(dimension.choices if dimension.key == family.needs_from else ())
        return frozenset(words)


def load_knowledge(families_dir: Path | None) -> Knowledge:
    """Return what the files say: the built-in ones, and the user's own families beside them.

    Raises:
        FamilyFileError: with every fault of every file of the user's folder.
    """
    files = [
        (entry.name, entry.read_bytes())
        for entry in sorted(resources.files("fitworth.families").iterdir(), key=lambda entry: entry.name)
        if entry.name.endswith(".toml")
    ]
    families = [*(parse_family(content, name) for name, content in files), *own_families(families_dir)]
    check_families(families)
    advice = resources.files("fitworth.advice")
    return Knowledge(
        {family.key: family for family in families},
        read_assumptions(advice.joinpath("assumptions.toml").read_bytes()),
        parse_cautions(advice.joinpath("cautions.toml").read_bytes()),
    )


def own_families(folder: Path | None) -> list[Family]:
    """Return the families of the user's folder, in the order of their file names.

    Raises:
        FamilyFileError: the folder cannot be read, or with every fault of every file in it.
    """
    if folder is None:
        return []
    if not folder.is_dir():
        raise FamilyFileError(
            f"There is no folder {folder}; FITWORTH_FAMILIES_DIR must name one with *.toml files."
        )
    families: list[Family] = []
    faults: list[Fault] = []
    for file in sorted(folder.glob("*.toml")):
        try:
            families.append(parse_family(file.read_bytes(), file.name))
        except FamilyFileError as error:
            faults += [
                Fault(f"{file.name}, {fault.where}", fault.says.removeprefix(f"{file.name}: "))
                for fault in error.faults
            ]
    if faults:
        raise FamilyFileError(faults)
    return families
