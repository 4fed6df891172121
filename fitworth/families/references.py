"""Whether the names that a family file uses are names that it declares."""

from collections.abc import Mapping, Sequence

from fitworth.families.model import Dimension
from fitworth.families.reading import Reference, Section, nearest


def note_wrong_references(
    file: Section, sections: Sequence[Section], dimensions: Sequence[Dimension | None]
) -> None:
    """Note each name that stands for no dimension, or for one of the wrong kind; and names that stand twice.

    `dimensions` goes with `sections`; None is a dimension whose own faults are noted already, so that
    nothing more is said of it.
    """
    names: dict[str, Dimension | None] = {}
    for section, dimension in zip(sections, dimensions, strict=True):
        key = section.table.get("key")
        if isinstance(key, str) and key.strip() in names:
            section.note("key", f"“{key}” names a dimension above already; each key stands once.")
        elif isinstance(key, str):
            names[key.strip()] = dimension
    for reference in file.page.references:
        _note_reference(file, reference, names)
    read = [dimension for dimension in dimensions if dimension is not None]
    if read and len(read) == len(dimensions) and not any(dimension.counts_for_fit for dimension in read):
        says = "every dimension is a note, so nothing here counts for fit; give at least one another role."
        file.note("dimension", says)


def _note_reference(file: Section, reference: Reference, names: Mapping[str, Dimension | None]) -> None:
    name = reference.name
    if name not in names:
        file.page.note(reference.path, f"“{name}” is no dimension of this file{nearest(name, names)}")
        return
    dimension = names[name]
    if dimension is None:
        return
    if dimension.kind not in reference.kinds:
        right = " or ".join(sorted(kind.value for kind in reference.kinds))
        file.page.note(reference.path, f"“{name}” is a {dimension.kind.value}; here it must be a {right}.")
    elif reference.choice is not None and reference.choice not in dimension.choices:
        hint = nearest(reference.choice, dimension.choices)
        beside = (*reference.path[:-1], "value")
        file.page.note(beside, f"“{reference.choice}” is none of the choices of “{name}”{hint}")
