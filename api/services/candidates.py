"""The parts that a comparison considers, and the joint belief about which of them fit."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from api.schemas.bench import RemovedPartIn
from api.schemas.fits import FitsIn
from api.services.call import Call
from api.services.fits import FitService, part_short
from db import parts as stored_parts
from db.models import Part
from fitworth.advice.assumptions import Assumption, Assumptions
from fitworth.advice.case import Candidate, WithWork
from fitworth.costing.fallback import Belief
from fitworth.matching.recalibration import Recalibration
from fitworth.vocabulary import Grade, Origin, Verdict

MOST_CANDIDATES = 60  # own choice: beyond them the fit confidence is too small to change an order

FIT_ASSUMPTIONS = ("not_on_file", "unlisted_misfit")
STATED_BY_USER = "wrong_part_share.engine_designation"

Body = dict[str, Any]


@dataclass(frozen=True, slots=True)
class CandidateSet:
    """The candidates with their belief, row by row.

    Attributes:
        candidates: as the core takes them.
        belief: the joint belief about them, or None where the user vouches for them.
        shown: what names each part in an answer.
        rows: the parts as stored.
        warnings: of the match.
        assumed: the assumptions that the confidence stands on.
    """

    candidates: tuple[Candidate, ...]
    belief: Belief | None
    shown: Mapping[int, Body]
    rows: Mapping[int, Part]
    warnings: tuple[str, ...]
    assumed: tuple[Assumption, ...]


def find_candidates(
    call: Call,
    fits: FitService,
    removed: RemovedPartIn | None,
    part_ids: Sequence[int],
    held_true: Assumptions,
) -> CandidateSet:
    """Return the candidates: those that may fit the removed part, or the parts that the user says fit.

    With both given, the parts named are weighed against the removed part. Without a removed part the user
    vouches for them, and the share of wrong parts among those chosen by the engine's designation remains.
    """
    if removed is None:
        return vouched_for(call, part_ids, held_true)
    found = fits.find(call, question_about(removed), part_ids, held_true)
    wanted = set(part_ids) or set(found.parts)
    places = [place for place, fit in enumerate(found.answer.fits) if fit.part_id in wanted]
    chosen = [found.answer.fits[place] for place in places]
    candidates = tuple(
        named(
            found.parts[fit.part_id],
            fit.fit_confidence,
            fit.verdict,
            WithWork(
                fit.with_work.probability,
                fit.with_work.items,
                fit.with_work.minutes,
                Decimal(str(fit.with_work.cost)),
            ),
        )
        for fit in chosen
    )
    belief = Belief(found.answer.weights, found.answer.fits_given[places]) if places else None
    rows = {fit.part_id: found.parts[fit.part_id] for fit in chosen}
    assumed = list_assumed(held_true, found.learned)
    return CandidateSet(candidates, belief, shown(rows), rows, found.answer.warnings, assumed)


def question_about(removed: RemovedPartIn) -> FitsIn:
    """Return what is asked of the match about a job's removed part."""
    return FitsIn.model_construct(
        family=removed.family,
        instrument=removed.instrument,
        measured=removed.measured,
        marking=removed.marking,
        known_number=removed.known_number,
        engine=removed.engine,
        limit=MOST_CANDIDATES,
    )


def list_assumed(held_true: Assumptions, learned: Recalibration) -> tuple[Assumption, ...]:
    """Return the assumptions that the fit confidence stands on, the share of misfits as outcomes taught it.

    A share that the job itself sets is shown as set; what was learned moves the confidence all the same.
    """
    not_on_file, misfit = map(held_true.get, FIT_ASSUMPTIONS)
    if not learned.is_identity and misfit.origin is not Origin.JOB:
        value = round(learned.learned_misfit(misfit.value), 6)
        misfit = replace(misfit, value=value, origin=Origin.OUTCOMES)
    return not_on_file, misfit


def vouched_for(call: Call, part_ids: Sequence[int], held_true: Assumptions) -> CandidateSet:
    """Return the parts that the user says fit."""
    confidence = 1.0 - held_true.value(STATED_BY_USER)
    rows = {part.id: part for part in stored_parts.list_parts_by_ids(call.session, part_ids)}
    candidates = tuple(named(part, confidence, Verdict.BOLTS_ON, WithWork()) for part in rows.values())
    return CandidateSet(candidates, None, shown(rows), rows, (), (held_true.get(STATED_BY_USER),))


def named(part: Part, confidence: float, verdict: Verdict, work: WithWork) -> Candidate:
    """Return a stored part as a candidate."""
    return Candidate(
        part_id=part.id,
        label=label_of(part),
        maker=part.maker,
        number=part.number or "",
        grade=Grade(part.grade),
        fit_confidence=confidence,
        verdict=verdict,
        with_work=work,
    )


def label_of(part: Part) -> str:
    """Return what a part is called in a sentence."""
    return f"{part.maker} {part.number}" if part.number else f"{part.maker} {part.title}".strip()


def shown(rows: Mapping[int, Part]) -> dict[int, Body]:
    """Return what names each part in an answer."""
    return {part_id: part_short(part) for part_id, part in rows.items()}
