"""Which parts on file run in place of the removed part, and how sure that is.

The one question that the rest of the program asks; `find_fits` answers it in these steps:

    rules         which allowance holds for each dimension (allowances.py)
    likelihood    what each measurement says of every part on file (likelihood.py), numbers and engines
    (evidence.py) hypotheses    the weight of "its design is part j's" and of "on no file" (hypotheses.py)
    pairs         how the likely parts agree with each other, dimension by dimension (pairs.py) kinship
    the probability that candidate c runs if the design is j's, holes and errors counted (kinship.py) fit
    (1 - unlisted misfit) * sum over j of weight j * P(c runs | j)

Under "on no file" nothing is taken to run: own choice, and the cautious one, because parts of one design fit
or fail together, so that a design none of which is on file has no stand-in on file either.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fitworth.errors import Fault, InvalidValueError, NotComputableError, escape_pointer
from fitworth.families.model import Family
from fitworth.matching.allowances import Rule, rules_of
from fitworth.matching.answer import (
    NOT_ON_FILE,
    CandidateFit,
    FitAnswer,
    FitQuery,
    Floats,
    Ints,
    MeasureNext,
)
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.evidence import EvidenceRatio, NumberEvidence, engine_ratio, number_ratio
from fitworth.matching.explain import Comparison, explain_dimensions, explain_evidence, list_works
from fitworth.matching.hypotheses import Hypotheses, weigh
from fitworth.matching.kinship import (
    UNRELATED,
    Fits,
    Kinship,
    counting_rules,
    fits_given,
    learn_kinship,
    usual_agreement,
)
from fitworth.matching.layout import find_kind_fault
from fitworth.matching.likelihood import (
    DimensionLikelihood,
    Usual,
    number_agreement,
    number_likelihood,
    wide_of,
    word_agreement,
    word_likelihood,
)
from fitworth.matching.next_measurement import Outlook, propose
from fitworth.matching.pairs import Pairs, Seats, compare_pairs
from fitworth.matching.parameters import FitModel
from fitworth.matching.proportions import list_odd_proportions
from fitworth.matching.sides import Mask, listed_side
from fitworth.matching.verdicts import Standing, verdict_of
from fitworth.vocabulary import Role

DEFAULT_MODEL = FitModel()
DIGITS = 12  # of a probability; the rest is noise of the arithmetic and would order equal candidates


@dataclass(frozen=True, slots=True)
class _Case:
    """One query on one catalogue, with all that is settled before candidates are looked at."""

    catalogue: Catalogue
    query: FitQuery
    model: FitModel
    rules: tuple[Rule, ...]
    likelihoods: Mapping[str, DimensionLikelihood]
    evidence: tuple[EvidenceRatio, ...]
    hypotheses: Hypotheses


@dataclass(frozen=True, slots=True)
class _Field:
    """The candidates of a case: `rows` begin with those of the hypotheses, in their order."""

    rows: Ints
    pairs: Pairs
    kinship: Kinship
    agreement: Mapping[str, Floats]
    vetoed: Mask
    unlisted: Floats
    fits: Fits


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
    return _answer(case, field, wanted, (*list_odd_proportions(catalogue.family, query.measured), *assumed))


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
    likelihoods = {
        rule.dimension.key: _likelihood(catalogue, query, rule, model)
        for rule in rules
        if rule.measured is not None and rule.dimension.counts_for_fit
    }
    evidence = [number_ratio(catalogue, one, model) for one in numbers]
    if query.engine:
        evidence.append(engine_ratio(catalogue, query.engine, model))
    hypotheses = weigh(len(catalogue), tuple(likelihoods.values()), evidence, model)
    return _Case(catalogue, query, model, rules, likelihoods, tuple(evidence), hypotheses)


def _likelihood(catalogue: Catalogue, query: FitQuery, rule: Rule, model: FitModel) -> DimensionLikelihood:
    if rule.number is None:
        return word_likelihood(catalogue, rule, model)
    same_scale = catalogue.makers == catalogue.maker_code(query.maker) if rule.dimension.scale_of else None
    return number_likelihood(catalogue, rule, rule.number, same_scale, model)


def _line_up(case: _Case, wanted: Ints) -> _Field:
    """Compare the likely parts, and those asked for, with every hypothesis."""
    catalogue, model, hypotheses = case.catalogue, case.model, case.hypotheses
    rows = np.concatenate((hypotheses.rows, wanted[~np.isin(wanted, hypotheses.rows)]))
    counting = counting_rules(catalogue, case.rules)
    pairs = compare_pairs(catalogue, counting, Seats(rows, len(hypotheses.rows), case.query.maker), model)
    kinship = learn_kinship(pairs, hypotheses.weights, usual_agreement(catalogue, model), model)
    agreement = _measured_agreement(case, rows, kinship)
    vetoed = np.zeros(len(rows), np.bool_)
    for rule in counting:
        if rule.dimension.role is Role.SAFE and rule.dimension.key in agreement:
            vetoed |= agreement[rule.dimension.key] < model.safe_threshold  # not-a-number is no mismatch
    legible = np.zeros(len(rows), np.bool_)
    for piece in case.evidence:
        legible |= (piece.kind != "engine") & (piece.similarity[rows] >= 1.0)
    unlisted = np.where(legible, model.unlisted_misfit_with_number, model.unlisted_misfit)
    fits = fits_given(pairs, kinship)
    own = np.arange(len(hypotheses.rows))
    for table in (fits.as_it_comes, fits.in_all):
        table[own, own] = 1.0  # a part of the removed part's own design stands in for it
        np.multiply(table, np.where(vetoed, 0.0, 1.0 - unlisted)[:, None], out=table)
    return _Field(rows, pairs, kinship, agreement, vetoed, unlisted, fits)


def _measured_agreement(case: _Case, rows: Ints, kinship: Kinship) -> dict[str, Floats]:
    """Return the probability that each candidate agrees in each measured dimension, notes included."""
    counting = [rule.dimension.key for rule in counting_rules(case.catalogue, case.rules)]
    usual = dict(zip(counting, kinship.agrees[UNRELATED].tolist(), strict=True))
    maker = case.catalogue.maker_code(case.query.maker)
    found = {}
    for rule in case.rules:
        if rule.measured is None:
            continue
        key, listed = rule.dimension.key, listed_side(case.catalogue, rule, rows)
        share = usual.get(key, case.model.unrelated_agrees)
        if rule.number is None:
            agrees = word_agreement(rule, case.catalogue, listed, share, case.model)
        else:
            usually = Usual(share, wide_of(case.catalogue, rule, case.model))
            agrees = number_agreement(rule, rule.number, listed, usually, case.model)
        comparable = listed.known & (listed.makers == maker) if rule.dimension.scale_of else listed.known
        found[key] = np.where(comparable, agrees, np.nan)
    return found


def _answer(case: _Case, field: _Field, wanted: tuple[int, ...], warnings: tuple[str, ...]) -> FitAnswer:
    weights = np.concatenate(([case.hypotheses.not_on_file], case.hypotheses.weights))
    as_it_comes, confidence = (
        np.round(table @ case.hypotheses.weights, DIGITS)
        for table in (field.fits.as_it_comes, field.fits.in_all)
    )
    ids = case.catalogue.ids[field.rows]
    order = np.lexsort((ids, -confidence, field.vetoed))
    asked = np.isin(ids[order], wanted)
    first = np.arange(len(order)) < case.query.limit
    shown = order[first | asked]
    best = field.fits.in_all.max(axis=0)
    return FitAnswer(
        fits=_list_candidates(case, field, shown, (as_it_comes, np.maximum(confidence, as_it_comes))),
        nothing_on_file_fits=1.0 - float(best @ case.hypotheses.weights),
        hypotheses=np.concatenate(([NOT_ON_FILE], case.catalogue.ids[case.hypotheses.rows])),
        weights=weights,
        fits_given=np.concatenate((np.zeros((len(shown), 1)), field.fits.in_all[shown]), axis=1),
        measure_next=_measure_next(case, field, order),
        warnings=warnings,
    )


def _list_candidates(
    case: _Case, field: _Field, shown: Ints, chances: tuple[Floats, Floats]
) -> tuple[CandidateFit, ...]:
    comparison = Comparison(case.catalogue, case.rules, case.likelihoods, field.agreement)
    rows = field.rows[shown]
    as_it_comes, confidence = (chance[shown] for chance in chances)
    runs = field.fits.in_all[shown] * case.hypotheses.weights
    own = shown[:, None] == np.arange(runs.shape[1])
    runs[own] = 0.0  # a part of the removed part's own design needs no work
    works = list_works(field.pairs.only(shown), field.kinship, runs, confidence - as_it_comes, case.model)
    explained = explain_dimensions(comparison, shown, rows, case.model)
    return tuple(
        CandidateFit(
            part_id=int(case.catalogue.ids[row]),
            fit_confidence=float(confidence[place]),
            verdict=verdict_of(
                Standing(
                    fit_confidence=float(confidence[place]),
                    as_it_comes=float(as_it_comes[place]),
                    vetoed=bool(field.vetoed[shown[place]]),
                    safe_known=all(
                        one.probability is not None for one in explained[place] if one.role is Role.SAFE
                    ),
                ),
                case.model,
            ),
            vetoed=bool(field.vetoed[shown[place]]),
            with_work=works[place],
            dimensions=explained[place],
            evidence=explain_evidence(case.evidence, int(row)),
        )
        for place, row in enumerate(rows)
    )


def _measure_next(case: _Case, field: _Field, order: Ints) -> tuple[MeasureNext, ...]:
    designs = tuple(listed_side(case.catalogue, rule, case.hypotheses.rows) for rule in field.pairs.rules)
    kin = field.fits.in_all[: len(case.hypotheses.rows)]
    outlook = Outlook(case.hypotheses.weights, field.fits.in_all[order], kin)
    return propose(field.pairs.rules, designs, outlook, case.model)
