"""The answer to a query as the page shows it: sentences and texts made from the machine interface's body."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from api.pages.words import (
    CHANCES,
    EVIDENCE,
    GAINS,
    GRADES,
    NOTHING,
    ROLES,
    STATUSES,
    UNITS,
    VERDICTS,
    say_allowance,
    say_difference,
    say_inches,
    say_key,
    say_level,
    say_percent,
    say_value,
)
from fitworth.families.model import Family
from fitworth.matching.evidence import INTERCHANGE
from fitworth.matching.explain import BEFORE, HELD_BACK
from fitworth.matching.recalibrated import OUTCOMES
from fitworth.vocabulary import Grade, Role, Status, Verdict

Body = Mapping[str, Any]

OF_THE_SUM = {BEFORE, HELD_BACK}  # they make the weights add up, and are the same kind of line on every part
EVEN = 0.5  # above an even chance it is said first that nothing on file fits; own choice


@dataclass(frozen=True, slots=True)
class Read:
    """How one entry was read."""

    label: str
    entered: str
    value: str
    inches: str


@dataclass(frozen=True, slots=True)
class Row:
    """One dimension of a candidate beside the removed part's."""

    label: str
    role: str
    measured: str
    measured_inches: str
    listed: str
    listed_inches: str
    supposed: str
    difference: str
    allowance: str
    status: str
    sign: str
    words: str
    consequence: str


@dataclass(frozen=True, slots=True)
class Chance:
    """A probability as figure, as words, and as the length of a bar, 0 to 100."""

    percent: str
    words: str
    length: float


@dataclass(frozen=True, slots=True)
class Candidate:
    """One part on file."""

    name: str
    title: str
    grade: str
    chance: Chance
    verdict: str
    sign: str
    words: str
    work: str
    evidence: tuple[str, ...]
    differing: tuple[tuple[str, str], ...]
    compared: tuple[Row, ...]
    uncompared: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """A dimension worth measuring next."""

    key: str
    label: str
    how: str
    gain: str


@dataclass(frozen=True, slots=True)
class Answer:
    """All that stands below the form.

    Attributes:
        headline: the answer in one sentence.
        on_file: how many parts were compared.
        read: how each entry was read.
        candidates: those that may fit, likeliest first.
        ruled_out: those that do not fit.
        nothing: the chance that nothing on file fits.
        steps: what to measure next, the most telling first.
        enough: whether measuring more would hardly change which part to take.
        unproved: what must agree for safety and was not measured.
        warnings: what was assumed, and entries that look like slips.
    """

    headline: str
    on_file: int
    read: tuple[Read, ...]
    candidates: tuple[Candidate, ...]
    ruled_out: tuple[Candidate, ...]
    nothing: Chance
    steps: tuple[Step, ...]
    enough: bool
    unproved: tuple[Step, ...]
    warnings: tuple[str, ...]


def answer_of(family: Family, body: Body) -> Answer:
    """Return the answer that a body holds, for people."""
    all_candidates = [_candidate(family, fit) for fit in body["fits"]]
    candidates = tuple(found for found in all_candidates if found.verdict != Verdict.DOES_NOT_FIT)
    nothing = _chance(body["nothing_on_file_fits"])
    return Answer(
        headline=_headline(candidates, nothing, likely_nothing=body["nothing_on_file_fits"] > EVEN),
        on_file=body["catalogue"]["parts"],
        read=tuple(_read(family, key, raw) for key, raw in body["read"].items()),
        candidates=candidates,
        ruled_out=tuple(found for found in all_candidates if found.verdict == Verdict.DOES_NOT_FIT),
        nothing=nothing,
        steps=tuple(
            Step(
                step["key"],
                family.by_key[step["key"]].label,
                step["how"],
                say_level(step["gain_bits"], GAINS),
            )
            for step in body["measure_next"]
        ),
        enough=body["enough_measured"],
        unproved=tuple(
            Step(dimension.key, dimension.label, dimension.how, "")
            for dimension in family.fit_dimensions
            if dimension.role is Role.SAFE and dimension.key not in body["read"]
        ),
        warnings=tuple(body["warnings"]),
    )


def _headline(candidates: tuple[Candidate, ...], nothing: Chance, *, likely_nothing: bool) -> str:
    if likely_nothing or not candidates:
        return f"Probably nothing on file fits ({nothing.percent})."
    first = candidates[0]
    return f"The likeliest is {first.name}: {first.chance.percent}, {first.chance.words}."


def _chance(probability: float) -> Chance:
    return Chance(say_percent(probability), say_level(probability, CHANCES), round(probability * 100, 1))


def _read(family: Family, key: str, raw: Any) -> Read:
    dimension = family.by_key[key]
    value = say_value(dimension, raw)
    entered = raw["as_entered"] if isinstance(raw, Mapping) else value
    return Read(dimension.label, entered, value, say_inches(dimension, raw))


def _candidate(family: Family, fit: Body) -> Candidate:
    part, verdict = fit["part"], Verdict(fit["verdict"])
    rows = [_row(family, entry) for entry in fit["dimensions"]]
    sign, words = VERDICTS[verdict]
    return Candidate(
        name=f"{part['maker']} {part['number'] or '(no number)'}",
        title=part["title"],
        grade=GRADES[Grade(part["grade"])],
        chance=_chance(fit["fit_confidence"]),
        verdict=verdict.value,
        sign=sign,
        words=words,
        work=_work(fit["with_work"]),
        evidence=tuple(_evidence(item) for item in fit["evidence"] if item["kind"] not in OF_THE_SUM),
        differing=tuple(_differing(row) for row in rows if row.status == Status.DIFFERS),
        compared=tuple(row for row in rows if row.status in {Status.DIFFERS, Status.AGREES}),
        uncompared=tuple(row for row in rows if row.status in {Status.NOT_MEASURED, Status.NOT_LISTED}),
    )


def _row(family: Family, entry: Body) -> Row:
    dimension = family.by_key[entry["key"]]
    status = Status(entry["status"])
    sign, words = STATUSES[status]
    difference, ends = entry["difference"], entry["allowance"]
    return Row(
        label=dimension.label,
        role=ROLES[Role(entry["role"])],
        measured=say_value(dimension, entry["measured"]),
        measured_inches=say_inches(dimension, entry["measured"]),
        listed=say_value(dimension, entry["listed"]),
        listed_inches=say_inches(dimension, entry["listed"]),
        supposed="" if entry["supposed"] is None else say_value(dimension, entry["supposed"]),
        difference=NOTHING if difference is None else f"{say_difference(difference)}{UNITS[dimension.unit]}",
        allowance=say_allowance(dimension.unit, ends),
        status=status.value,
        sign=sign,
        words=words,
        consequence=entry["consequence"] or "",
    )


def _differing(row: Row) -> tuple[str, str]:
    """Return what differs, and a sentence on how much and what it does."""
    if row.difference == NOTHING:
        return row.label, f"{row.listed} in place of {row.measured}. {row.consequence}"
    return row.label, f"{row.difference}, where {row.allowance} is allowed. {row.consequence}"


def _work(work: Body) -> str:
    """Return what it takes where the candidate runs only after work, or nothing."""
    if not work["items"] and not work["minutes"]:
        return ""
    goods = ", ".join(say_key(item) for item in work["items"])
    minutes = f"{work['minutes']:.0f} minutes" if work["minutes"] else ""
    what = "; ".join(piece for piece in (goods, minutes) if piece)
    return f"{what} (chance that it comes to this: {say_percent(work['probability'])})"


def _evidence(item: Body) -> str:
    """Return a sentence on what speaks for or against a candidate besides its dimensions."""
    way = "speaks for it" if item["weight"] > 0 else "speaks against it"
    if item["kind"] == OUTCOMES:
        return f"What happened to parts tried before {way}."
    if item["kind"] == INTERCHANGE:
        sure = say_percent(item["similarity"])
        return f"Its number may stand in for the known one ({sure} by the statements on file)."
    what = EVIDENCE.get(item["kind"], say_key(item["kind"]).capitalize())
    return f"{what} is {say_percent(item['similarity'])} alike and {way}."
