"""Which parts on file run in place of the removed part, and how sure that is.

The one question that the rest of the program asks; `find_fits` answers it in these steps:

    rules        which allowance holds for each dimension (allowances.py)
    groups       the interchange groups of the catalogue (groups/estimate.py), kept until parts change
    weights      how heavy "it is of group g's design" and "on no file" are, by the measurements
                 (groups/query.py), numbers and engines (evidence.py)
    running      the probability that a candidate runs if the design is g's (groups/running.py)
    fit          (1 - unlisted misfit) * sum over g of weight g * P(runs | g)
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from fitworth.errors import Fault, InvalidValueError, NotComputableError, escape_pointer
from fitworth.families.model import Family
from fitworth.matching.allowances import Rule, rules_of
from fitworth.matching.answer import NOT_ON_FILE, CandidateFit, FitAnswer, FitQuery, Floats, Ints
from fitworth.matching.breakdown import break_down
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.doubtful_readings import list_doubtful_readings
from fitworth.matching.evidence import ENGINE, EvidenceRatio, NumberEvidence, engine_ratio, number_ratio
from fitworth.matching.explain import Explained, explain_dimensions, explain_evidence, list_works
from fitworth.matching.groups.candidates import Lineup, Question, line_up, runs_of, shorten
from fitworth.matching.groups.estimate import groups_of
from fitworth.matching.groups.evidence import group_prior, named_shares
from fitworth.matching.groups.membership import Groups
from fitworth.matching.groups.query import readings_of, representatives, tell, weigh_designs
from fitworth.matching.layout import find_kind_fault
from fitworth.matching.next_measurement import Outlook, advise
from fitworth.matching.own_listing import code_seen, listed_agreement
from fitworth.matching.parameters import FitModel
from fitworth.matching.proportions import list_odd_proportions
from fitworth.matching.sides import Mask
from fitworth.matching.verdicts import Standing, are_safe_known, does_sheet_agree, verdict_of
from fitworth.vocabulary import Role

DEFAULT_MODEL = FitModel()
TELLING_DIGITS = 6  # of a probability that order candidates; tables in single precision know no more
DIGITS = 12  # of a probability; the rest is noise of the arithmetic and would order equal candidates


@dataclass(frozen=True, slots=True)
class _Case:
    """One query on one catalogue, with all that is settled before candidates are looked at."""

    catalogue: Catalogue
    query: FitQuery
    rules: tuple[Rule, ...]
    evidence: tuple[EvidenceRatio, ...]
    question: Question

    @property
    def groups(self) -> Groups:
        return self.question.groups

    @property
    def model(self) -> FitModel:
        return self.question.model


@dataclass(frozen=True, slots=True)
class _Field:
    """The candidates of a case with what becomes of them.

    Attributes:
        lineup: the candidates and the designs that they may be of.
        own: by key, how each candidate's own listing agrees with what was measured.
        held: (n_candidates,) what is left of a chance once it is held back for what is not recorded, for
            scales of one maker, and for mismatches that are a matter of safety.
        vetoed: (n_candidates,) whether a `safe` mismatch removes it.
        mended: (n_candidates,) whether its own sheet differs in what work can cure.
        as_it_comes: (n_candidates, 1 + n_h) chance of running under "on no file" and each hypothesis.
        in_all: the same with the cures.
    """

    lineup: Lineup
    own: dict[str, Floats]
    held: Floats
    vetoed: Mask
    mended: Mask
    as_it_comes: Floats
    in_all: Floats


def find_fits(
    catalogue: Catalogue,
    query: FitQuery,
    model: FitModel = DEFAULT_MODEL,
    *,
    number_evidence: Sequence[NumberEvidence] = (),
    part_ids: Iterable[int] = (),
) -> FitAnswer:
    """Return the parts on file that would do in place of the removed part.

    Args:
        catalogue: the parts of the family.
        query: what is known of the removed part.
        model: the parameters.
        number_evidence: parts whose number is like the removed part's, found by whoever keeps the numbers.
        part_ids: parts whose fit is wanted whether or not they are among the likeliest.

    Raises:
        InvalidValueError: the query measures what the family does not have, all faults at once; or a part
            asked for is not on file.
        NotComputableError: nothing is on file, or nothing that counts for fit is known of the removed part.
    """
    wanted = tuple(dict.fromkeys(part_ids))
    _check(catalogue, query, number_evidence, wanted)
    rules, assumed = rules_of(catalogue.family, query.measured, model)
    case = _open_case(catalogue, query, rules, number_evidence, model)
    field = _line_up(case, catalogue.rows_of(wanted))
    odd = list_odd_proportions(catalogue.family, query.measured)
    warnings = (*odd, *list_doubtful_readings(catalogue, case.question), *assumed)
    return _answer(case, field, wanted, warnings)


def _check(
    catalogue: Catalogue, query: FitQuery, numbers: Sequence[NumberEvidence], wanted: tuple[int, ...]
) -> None:
    family = catalogue.family
    faults = [Fault(f"/measured/{escape_pointer(key)}", says) for key, says in _list_faults(family, query)]
    rows = catalogue.rows_of(wanted)
    faults += [
        Fault(f"/part_ids/{place}", f"Part {part} is not on file in the family {family.label}.")
        for place, part in enumerate(wanted)
        if rows[place] < 0
    ]
    if faults:
        raise InvalidValueError(faults)
    if not len(catalogue):
        raise NotComputableError(
            f"No part of the family {family.label} is on file: enter or import some first."
        )
    counts = any(family.by_key[key].counts_for_fit for key in query.measured)
    if counts or numbers or query.engine or query.marking or query.known_number:
        return
    some = ", ".join(dimension.label for dimension in family.fit_dimensions[:3])
    why = "What was measured says nothing of fit" if query.measured else "Nothing was measured"
    raise NotComputableError(
        Fault("/measured", f"{why}: measure {some} or another dimension, or give a number.")
    )


def _list_faults(family: Family, query: FitQuery) -> Iterable[tuple[str, str]]:
    for key, value in query.measured.items():
        dimension = family.by_key.get(key)
        says = (
            f"{family.label} has no dimension “{key}”; it has {', '.join(family.by_key)}."
            if dimension is None
            else find_kind_fault(dimension, value)
        )
        if says:
            yield key, says


def _open_case(
    catalogue: Catalogue,
    query: FitQuery,
    rules: tuple[Rule, ...],
    numbers: Sequence[NumberEvidence],
    model: FitModel,
) -> _Case:
    groups = groups_of(catalogue, model)
    by_key = {rule.dimension.key: rule for rule in rules}
    grouping = tuple(by_key[rule.dimension.key] for rule in groups.rules)
    codes = [
        None if rule.measured is None or rule.number else float(code_seen(catalogue, rule))
        for rule in grouping
    ]
    evidence = [number_ratio(catalogue, one, model) for one in numbers]
    if query.engine:
        evidence.append(engine_ratio(catalogue, query.engine, model))
    readings = readings_of(grouping, codes, model)
    told = tell(groups, readings)
    prior = group_prior(groups, evidence)
    weights = weigh_designs(prior, told, groups.partition.learned, model.not_on_file)
    question = Question(groups, grouping, readings, told, weights, shorten(weights, model), model)
    return _Case(catalogue, query, rules, tuple(evidence), question)


def _line_up(case: _Case, wanted: Ints) -> _Field:
    """Compare the candidates with every hypothesis."""
    model, question = case.model, case.question
    lineup = line_up(question, wanted)
    rows = lineup.rows
    usual = {
        rule.dimension.key: float(share)
        for rule, share in zip(question.rules, case.groups.usual.as_it_comes, strict=True)
    }
    own = listed_agreement(case.catalogue, case.rules, rows, case.query.maker, usual, model)
    vetoed, mended, scale = np.zeros(len(rows), np.bool_), np.zeros(len(rows), np.bool_), np.ones(len(rows))
    for rule in case.rules:
        agrees = own.get(rule.dimension.key)
        if agrees is None or not rule.dimension.counts_for_fit:
            continue
        if rule.dimension.role is Role.SAFE:
            vetoed |= agrees < model.safe_threshold  # not-a-number is no mismatch
        if rule.dimension.cure:
            mended |= agrees < model.safe_threshold
        if rule.dimension.scale_of:
            scale *= np.nan_to_num(agrees, nan=1.0)
    legible = np.zeros(len(rows), np.bool_)
    for piece in case.evidence:
        legible |= (piece.kind != ENGINE) & (piece.similarity[rows] >= 1.0)
    unlisted = np.where(legible, model.unlisted_misfit_with_number, model.unlisted_misfit)
    held = np.where(vetoed, 0.0, (1.0 - unlisted) * scale)
    runs, away = runs_of(lineup.standings, question.kin)
    named = named_shares(case.groups, case.evidence, rows, question.hypotheses.groups)
    tables = [
        np.concatenate(
            ((lineup.designs @ by_away)[:, None], named.lift(lineup.designs @ by_design - scattered)), axis=1
        )
        * held[:, None]
        for by_design, by_away, scattered in (
            (runs.as_it_comes, away.as_it_comes, lineup.scattered.as_it_comes),
            (runs.in_all, away.in_all, lineup.scattered.in_all),
        )
    ]
    return _Field(
        lineup, own, held, vetoed, mended, np.clip(tables[0], 0.0, 1.0), np.clip(tables[1], 0.0, 1.0)
    )


def _answer(case: _Case, field: _Field, wanted: tuple[int, ...], warnings: tuple[str, ...]) -> FitAnswer:
    hypotheses = case.question.hypotheses
    weights = np.concatenate(([hypotheses.away], hypotheses.weights))
    as_it_comes, confidence = (
        np.round(table @ weights, DIGITS) for table in (field.as_it_comes, field.in_all)
    )
    confidence = np.maximum(confidence, as_it_comes)
    # What a sheet says of itself where makers do change things is believed before its design.
    as_it_comes = np.where(
        field.mended, np.minimum(as_it_comes, (1.0 - case.model.sheet_right) * confidence), as_it_comes
    )
    ids = case.catalogue.ids[field.lineup.rows]
    order = np.lexsort((ids, -np.round(confidence, TELLING_DIGITS), field.vetoed))
    first = np.arange(len(order)) < case.query.limit
    shown = order[first | np.isin(ids[order], wanted)]
    best = _something_fits(case, field)
    # A part on file that is of no group runs in place of itself.
    lone = case.question.weights.lone * max(0.0, 1.0 - case.model.unlisted_misfit - float(best[0]))
    own_rows = representatives(case.groups, hypotheses.groups)
    advice = advise(case.question, Outlook(weights, field.in_all[order]))
    return FitAnswer(
        fits=_list_candidates(case, field, shown, (as_it_comes, confidence)),
        nothing_on_file_fits=float(np.clip(1.0 - best @ weights - lone, 0.0, 1.0)),
        hypotheses=np.concatenate(([NOT_ON_FILE], case.catalogue.ids[own_rows])),
        weights=weights,
        fits_given=field.in_all[shown],
        measure_next=advice.steps,
        enough_measured=advice.enough,
        warnings=warnings,
    )


def _something_fits(case: _Case, field: _Field) -> Floats:
    """Return the probability that some part on file runs, under "on no file" and each hypothesis, (1 + n_h,).

    At least that of the best candidate. If the removed part is of a group's design, one of the group's parts
    is of that design, even where nobody knows which; then only what is not recorded can spoil it.
    """
    best = field.in_all.max(axis=0)
    labels = case.groups.partition.labels[field.lineup.rows]
    members = labels[:, None] == case.question.hypotheses.groups
    best[1:] = np.maximum(best[1:], np.where(members, field.held[:, None], 0.0).max(axis=0))
    return np.asarray(best)


def _list_candidates(
    case: _Case, field: _Field, shown: Ints, chances: tuple[Floats, Floats]
) -> tuple[CandidateFit, ...]:
    as_it_comes, confidence = (chance[shown] for chance in chances)
    breakdown = break_down(case.question, case.evidence, field.lineup, shown, confidence)
    explained = Explained(
        case.catalogue, case.rules, case.question, field.lineup, shown, field.own, breakdown
    )
    works = list_works(explained, confidence - as_it_comes)
    dimensions, evidence = explain_dimensions(explained), explain_evidence(case.evidence, explained)
    return tuple(
        CandidateFit(
            part_id=int(part),
            fit_confidence=float(confidence[place]),
            verdict=verdict_of(
                Standing(
                    fit_confidence=float(confidence[place]),
                    as_it_comes=float(as_it_comes[place]),
                    vetoed=bool(field.vetoed[shown[place]]),
                    safe_known=are_safe_known(dimensions[place]),
                    sheet_agrees=does_sheet_agree(dimensions[place]),
                ),
                case.model,
            ),
            vetoed=bool(field.vetoed[shown[place]]),
            with_work=works[place],
            dimensions=dimensions[place],
            evidence=evidence[place],
        )
        for place, part in enumerate(case.catalogue.ids[field.lineup.rows[shown]])
    )
