"""Fits: catalogues kept in memory, caught up with the database before each query, and the answer as shown."""

import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from threading import RLock
from typing import Any, TypeVar

from api.schemas.fits import FitsIn
from api.services import assumptions, interchange
from api.services.call import Call
from api.services.fit_learning import FitLearning
from api.services.held_numbers import HeldNumbers, weigh_number
from api.services.held_ties import HeldTies
from db import parts as stored_parts
from db import records
from db.models import Part
from db.parts import PackedParts
from fitworth.advice.assumptions import Assumptions
from fitworth.errors import InvalidValueError
from fitworth.families.model import Family
from fitworth.matching.answer import CandidateFit, ComparedDimension, FitAnswer, FitQuery
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.evidence import ENGINE, NumberEvidence
from fitworth.matching.fit import find_fits
from fitworth.matching.layout import OldLayoutError
from fitworth.matching.measurements import read_values, write_value
from fitworth.matching.numbers import NumberMatch, normalise
from fitworth.matching.parameters import FitModel
from fitworth.matching.recalibrated import recalibrated
from fitworth.matching.recalibration import STATEMENT_OF, Recalibration, find_leaning
from fitworth.quantities.quantity import Value
from fitworth.vocabulary import Instrument

T = TypeVar("T")
Body = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Found:
    """An answer with what it was made of."""

    family: Family
    query: FitQuery
    answer: FitAnswer
    parts: Mapping[int, Part]
    in_catalogue: int
    revision: int
    learned: Recalibration


class FitService:
    """Keeps catalogues and numbers. One query at a time: they are shared, and NumPy holds the lock anyhow."""

    def __init__(self) -> None:
        self._catalogues: dict[str, Catalogue] = {}
        self._numbers = HeldNumbers()
        self._ties = HeldTies()
        self._learning = FitLearning()
        self._lock = RLock()

    def find(
        self, call: Call, data: FitsIn, part_ids: Sequence[int] = (), held_true: Assumptions | None = None
    ) -> Found:
        """Return the fits for what is known of a removed part.

        Args:
            call: the request's surroundings.
            data: what is known.
            part_ids: parts that are to be among the candidates whatever their place.
            held_true: the assumptions of one job, or None for those that hold for every job.

        Raises:
            NotComputableError: nothing is on file, or nothing is known of the removed part.
        """
        family = call.knowledge.families[data.family]
        with self._lock:
            catalogue, evidence, query = self._ask(call, data)
            learned = self._learning.learned(call, family.key)
            model = learned.taught(fit_model(assumptions.current(call) if held_true is None else held_true))
            answer = find_fits(catalogue, query, model, number_evidence=evidence, part_ids=part_ids)
            count, revision = len(catalogue), catalogue.revision
        answer = recalibrated(answer, learned, model)
        ids = [fit.part_id for fit in answer.fits]
        parts = {part.id: part for part in stored_parts.list_parts_by_ids(call.session, ids)}
        return Found(family, query, of_those_seen(answer, parts), parts, count, revision, learned)

    def say(
        self, call: Call, data: FitsIn, part_id: int, held_true: Assumptions, settled: int | None
    ) -> tuple[float, dict[str, float]]:
        """Return the fit confidence of one part before anything learned, and what it leans on.

        Args:
            call: the request's surroundings.
            data: what is known of the removed part.
            part_id: the part.
            held_true: the assumptions of the job.
            settled: the last revision that cannot be taken back any more, for a call that is about to write;
                None: whatever the call sees.

        Raises:
            InvalidValueError: the part is not on file.
            NotComputableError: nothing is on file, or nothing is known of the removed part.
        """
        with self._lock:
            catalogue, evidence, query = self._ask(call, data, settled)
            alone = replace(query, limit=1)

            def confidence_under(model: FitModel) -> float:
                answer = find_fits(catalogue, alone, model, number_evidence=evidence, part_ids=[part_id])
                return next(fit.fit_confidence for fit in answer.fits if fit.part_id == part_id)

            kinds = [piece.kind for piece in evidence] + ([ENGINE] if query.engine else [])
            stated = {STATEMENT_OF[kind] for kind in kinds if kind in STATEMENT_OF}
            return find_leaning(confidence_under, sorted(stated), fit_model(held_true))

    def list_like_numbers(self, call: Call, worn: str, family: str | None, limit: int) -> list[NumberMatch]:
        """Return the numbers on file most like a worn one, nearest first; of one family or of all."""
        families = stored_parts.list_families(call.session) if family is None else [family]
        with self._lock:
            revision = records.get_revision(call.session)
            return self._numbers.list_like(call, worn, families, revision, limit)

    def with_catalogue(self, call: Call, family: Family, use: Callable[[Catalogue], T]) -> T:
        """Return what a function makes of a family's parts, as they are when the call begins or later."""
        with self._lock:
            return use(self._caught_up(call, family, records.get_revision(call.session)))

    def _ask(
        self, call: Call, data: FitsIn, settled: int | None = None
    ) -> tuple[Catalogue, list[NumberEvidence], FitQuery]:
        """Return what a match works on: the family's catalogue, what numbers say, and the question."""
        family = call.knowledge.families[data.family]
        revision = records.get_revision(call.session) if settled is None else settled
        catalogue = self._caught_up(call, family, revision)
        numbers = (("marking", data.marking), ("known_number", data.known_number))
        evidence = [
            weigh_number(self._numbers.caught_up(call, family.key, revision), kind, read)
            for kind, read in numbers
            if read is not None
        ]
        query = FitQuery(
            measured=dict(data.measured),
            maker=self._maker_of(call, data),
            marking=data.marking,
            known_number=data.known_number,
            engine=data.engine,
            limit=data.limit,
        )
        linked = interchange.list_evidence(call, family.key, data.known_number)
        return catalogue, [*evidence, *linked], query

    def _maker_of(self, call: Call, data: FitsIn) -> str | None:
        """Return whose part a known number is, where the number leaves no doubt."""
        if data.known_number is None:
            return None
        bearers = stored_parts.list_parts_by_number(
            call.session, normalise(data.known_number), family=data.family
        )
        makers = {part.maker for part in bearers}
        return makers.pop() if len(makers) == 1 else None

    def _caught_up(self, call: Call, family: Family, revision: int) -> Catalogue:
        """Return a family's catalogue, brought to a revision by reading only what changed since its last."""
        catalogue = self._catalogues.get(family.key)
        if catalogue is None:
            catalogue = self._catalogues[family.key] = Catalogue(family)
        # A call that began before the last one may see an earlier state than what is held.
        if revision > catalogue.revision:
            changed = False
            for chunk in stored_parts.iter_packed(call.session, family.key, catalogue.revision):
                take_in(call, catalogue, chunk)
                changed = True
            self._ties.put_into(catalogue, call, parts_changed=changed)
            catalogue.revision = revision
        return catalogue


def of_those_seen(answer: FitAnswer, parts: Mapping[int, Part]) -> FitAnswer:
    """Return an answer without the candidates that a call does not see: stored after it began."""
    places = [place for place, fit in enumerate(answer.fits) if fit.part_id in parts]
    if len(places) == len(answer.fits):
        return answer
    fits = tuple(answer.fits[place] for place in places)
    return replace(answer, fits=fits, fits_given=answer.fits_given[places])


def take_in(call: Call, catalogue: Catalogue, chunk: PackedParts) -> None:
    """Put changed parts into a catalogue, and take deleted ones out."""
    gone = [part_id for part_id, deleted in zip(chunk.ids, chunk.deleted, strict=True) if deleted]
    catalogue.remove(gone)
    kept = [place for place, deleted in enumerate(chunk.deleted) if not deleted]
    ids = [chunk.ids[place] for place in kept]
    packed = [chunk.packed[place] for place in kept]
    makers = [chunk.makers[place] for place in kept]
    stated = [
        () if chunk.stated_for[place] == "[]" else json.loads(chunk.stated_for[place]) for place in kept
    ]
    try:
        catalogue.upsert(ids, packed, makers, stated)
    except OldLayoutError:
        catalogue.upsert(ids, packed_anew(call, catalogue.family, ids), makers, stated)


def packed_anew(call: Call, family: Family, part_ids: Sequence[int]) -> list[bytes]:
    """Return the rows of parts that were packed under an earlier file of their family.

    What the family no longer knows, or takes for no value, is left out of the row; the part keeps it.
    """
    layout = call.knowledge.layouts[family.key]
    listed = {part.id: part.dimensions for part in stored_parts.list_parts_by_ids(call.session, part_ids)}
    return [layout.pack(still_readable(family, listed[part_id])) for part_id in part_ids]


def still_readable(family: Family, dimensions: Mapping[str, Any]) -> dict[str, Value]:
    """Return those stored dimensions that a family's present file still reads."""
    values: dict[str, Value] = {}
    for key, raw in dimensions.items():
        try:
            values.update(read_values(family, {key: raw}, Instrument.LISTING))
        except InvalidValueError:
            continue
    return values


def fit_model(held_true: Assumptions) -> FitModel:
    """Return the match's parameters with some assumptions in them."""
    return replace(
        FitModel(),
        not_on_file=held_true.value("not_on_file"),
        unlisted_misfit=held_true.value("unlisted_misfit"),
    )


def fits_body(found: Found) -> Body:
    """Return an answer as it is shown."""
    family, answer = found.family, found.answer
    return {
        "catalogue": {"parts": found.in_catalogue, "revision": found.revision},
        "read": {key: write_value(family.by_key[key], value) for key, value in found.query.measured.items()},
        "fits": [fit_body(family, fit, found.parts[fit.part_id]) for fit in answer.fits],
        "nothing_on_file_fits": rounded(answer.nothing_on_file_fits),
        "measure_next": [
            {
                "key": step.key,
                "gain_bits": rounded(step.gain_bits),
                "how": step.how,
                "raises_best": rounded(step.raises_best),
            }
            for step in answer.measure_next
        ],
        "enough_measured": answer.enough_measured,
        "warnings": list(answer.warnings),
    }


def fit_body(family: Family, fit: CandidateFit, part: Part) -> Body:
    """Return one candidate as it is shown."""
    return {
        "part": part_short(part),
        "fit_confidence": rounded(fit.fit_confidence),
        "verdict": fit.verdict,
        "with_work": {
            "probability": rounded(fit.with_work.probability),
            "items": list(fit.with_work.items),
            "minutes": fit.with_work.minutes,
        },
        "dimensions": [dimension_body(family, compared, part) for compared in fit.dimensions],
        "evidence": [
            {"kind": item.kind, "similarity": rounded(item.similarity), "weight": rounded(item.weight)}
            for item in fit.evidence
        ],
    }


def part_short(part: Part) -> Body:
    """Return what names a part."""
    return {
        "id": str(part.id),
        "maker": part.maker,
        "number": part.number,
        "grade": part.grade,
        "title": part.title,
    }


def dimension_body(family: Family, compared: ComparedDimension, part: Part) -> Body:
    """Return one compared dimension as it is shown; what the part lists stands as it was entered."""
    measured, supposed = compared.measured, compared.supposed
    ends = compared.allowance
    return {
        "key": compared.key,
        "role": compared.role,
        "measured": None if measured is None else write_value(family.by_key[compared.key], measured),
        "listed": part.dimensions.get(compared.key),
        "supposed": None if supposed is None else write_value(family.by_key[compared.key], supposed),
        "difference": None if compared.difference is None else rounded(compared.difference),
        "allowance": None if ends is None else [end if math.isfinite(end) else None for end in ends],
        "probability": None if compared.probability is None else rounded(compared.probability),
        "status": compared.status,
        "weight": rounded(compared.weight),
        "consequence": compared.consequence,
    }


def rounded(number: float) -> float:
    """Return a number with the digits that mean something: six decimals."""
    return round(number, 6)
