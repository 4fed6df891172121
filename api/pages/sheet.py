"""The measuring sheet: what was entered in an address, what that asks, and all that the page shows of it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from api import problems
from api.errors import ServiceError
from api.pages.answer import Answer, answer_of
from api.pages.form import DRAWN, Entries, Group, groups_of
from api.query import read_query
from api.services.call import Call
from api.services.fits import FitService, fits_body
from api.services.parts import PARTS
from api.services.resource import list_bodies
from fitworth.advice.cautions import Caution
from fitworth.families.model import Family
from fitworth.vocabulary import Kind

# Their first sentences are shown before anything is measured, and all cautions in full below; own choice.
FIRST_CAUTIONS = frozenset({"first_of_all", "blade", "fuel", "key_material", "plug_reach", "stop_lead"})
ANY_WORK = frozenset({"fuel"})  # named besides those for everything while no family is chosen

COMPUTED = tuple(problems.CORE_PROBLEMS)  # errors of the core that the caller can mend; others are bugs


@dataclass(frozen=True, slots=True)
class Complaint:
    """A fault in the list at the head of the page: the field that it is about, where there is one."""

    key: str
    label: str
    says: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """All that the page shows.

    Attributes:
        families: to choose from.
        family: the one chosen, or None.
        groups: the fields of its form.
        drawn: the labels of the numbers in its drawing, in their order; empty where there is none.
        empty: whether nothing of the family is on file.
        trouble: the sentence above the complaints; empty where there are none.
        complaints: every fault.
        answer: what fits, or None.
        address: of the same question by the machine interface.
        short_cautions: what to read before anything is touched.
        cautions: those of this family's work, in full.
        status: of the response.
    """

    families: tuple[Family, ...]
    family: Family | None
    groups: tuple[Group, ...] = ()
    drawn: tuple[str, ...] = ()
    empty: bool = False
    trouble: str = ""
    complaints: tuple[Complaint, ...] = ()
    answer: Answer | None = None
    address: str = ""
    short_cautions: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()
    status: int = 200


def sheet_of(call: Call, fits: FitService, pairs: Iterable[tuple[str, str]]) -> Sheet:
    """Return the sheet for the parameters of an address."""
    pairs = list(pairs)
    families = call.knowledge.families
    family = next((families[value] for name, value in pairs if name == "family" and value in families), None)
    given, repeated = gather(family, pairs)
    asked = any(name != "family" for name, _ in pairs) or ("family" in given and family is None)
    answer, problem = _ask(call, fits, given, repeated) if asked else (None, None)
    faults = _faults_by_name(problem)
    groups = () if family is None else groups_of(family, Entries(given, faults))
    empty = (
        family is not None and not list_bodies(call, PARTS, {"family": family.key}, limit=1, after_id=0)[0]
    )
    cautions = _cautions(call.knowledge.cautions, family)
    return Sheet(
        families=tuple(families.values()),
        family=family,
        groups=groups,
        drawn=() if family is None else tuple(family.by_key[key].label for key in DRAWN.get(family.key, ())),
        empty=empty,
        trouble="" if problem is None else f"{problem['title']}. {problem['detail']}",
        complaints=_complaints(groups, faults),
        answer=answer,
        address=f"/v1/fits?{urlencode(given)}",
        short_cautions=tuple(_first_sentence(one.text) for one in cautions if one.key in FIRST_CAUTIONS),
        cautions=cautions,
        status=200 if problem is None else int(problem["status"]),
    )


def gather(family: Family | None, pairs: Iterable[tuple[str, str]]) -> tuple[dict[str, str], list[str]]:
    """Return the entries by name, empty ones dropped and ticked boxes joined, and the names given twice."""
    found: dict[str, list[str]] = {}
    for name, value in pairs:
        if value.strip():
            found.setdefault(name, []).append(value)
    kinds = {} if family is None else {dimension.key: dimension.kind for dimension in family.dimensions}
    repeated = [name for name, values in found.items() if len(values) > 1 and kinds.get(name) is not Kind.SET]
    return {name: ",".join(values) for name, values in found.items()}, repeated


def _ask(
    call: Call, fits: FitService, given: Mapping[str, str], repeated: list[str]
) -> tuple[Answer | None, dict[str, Any] | None]:
    """Return the answer, or the problem that the machine interface would answer with."""
    try:
        found = fits.find(call, read_query(given, call.knowledge.families, repeated=repeated))
    except ServiceError as error:
        return None, problems.of_service(error)
    except COMPUTED as error:
        return None, problems.of_core(error, "parameter")
    return answer_of(found.family, fits_body(found)), None


def _faults_by_name(problem: Mapping[str, Any] | None) -> dict[str, list[str]]:
    faults: dict[str, list[str]] = {}
    for entry in () if problem is None else problem.get("errors", ()):
        name = str(entry.get("parameter", "")).removeprefix("measured").removeprefix("/")
        faults.setdefault(name, []).append(entry["detail"])
    return faults


def _complaints(groups: Iterable[Group], faults: Mapping[str, Iterable[str]]) -> tuple[Complaint, ...]:
    labels = {field.key: field.label for group in groups for field in group.fields}
    return tuple(
        Complaint(name if name in labels else "", labels.get(name, name), says)
        for name, sentences in faults.items()
        for says in sentences
    )


def _cautions(cautions: Iterable[Caution], family: Family | None) -> tuple[Caution, ...]:
    """Return the cautions that belong to a family's work, or to any work where none is chosen."""
    named = ANY_WORK if family is None else set(family.cautions)
    return tuple(caution for caution in cautions if caution.everywhere or caution.key in named)


def _first_sentence(text: str) -> str:
    return text.partition(". ")[0].rstrip(".") + "."
