"""What a candidate's figures look like beside the removed part's, and what work it would take."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fitworth.families.model import Dimension
from fitworth.matching.allowances import Rule, allowed_range, difference
from fitworth.matching.answer import ComparedDimension, Evidence, Floats, Ints, WithWork
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.evidence import EvidenceRatio, bits
from fitworth.matching.kinship import LEAST_CHANCE, Kinship, pair_chances, product
from fitworth.matching.likelihood import DimensionLikelihood
from fitworth.matching.pairs import Pairs
from fitworth.matching.parameters import FitModel
from fitworth.quantities.quantity import Quantity, Value
from fitworth.vocabulary import Status

NOT_COMPARED = np.array([math.nan])
LIKELY = 0.5  # own choice: a dimension is worked on where that is likelier than not


@dataclass(frozen=True, slots=True)
class Comparison:
    """All that the dimensions of every candidate are explained from.

    Attributes:
        catalogue: the parts.
        rules: of all dimensions.
        likelihoods: of the measured ones that count, by key.
        agreement: by key of the measured ones, (n_candidates,) probability within the allowance; not-a-number
            where the candidate lists nothing or on another scale.
    """

    catalogue: Catalogue
    rules: tuple[Rule, ...]
    likelihoods: Mapping[str, DimensionLikelihood]
    agreement: Mapping[str, Floats]


def explain_dimensions(
    comparison: Comparison, places: Ints, rows: Ints, model: FitModel
) -> list[tuple[ComparedDimension, ...]]:
    """Return for each candidate its dimensions beside the removed part's, in the family's order.

    Args:
        comparison: what it is explained from.
        places: (n,) of the candidates among all candidates.
        rows: (n,) of the candidates in the catalogue.
        model: for the width of "equal".
    """
    return list(
        zip(*(_explain(comparison, rule, places, rows, model) for rule in comparison.rules), strict=True)
    )


def _explain(
    comparison: Comparison, rule: Rule, places: Ints, rows: Ints, model: FitModel
) -> list[ComparedDimension]:
    dimension = rule.dimension
    listed = comparison.catalogue.list_values(dimension, rows)
    agreement = comparison.agreement.get(dimension.key, NOT_COMPARED)[
        places if rule.measured is not None else 0 * places
    ]
    likelihood = comparison.likelihoods.get(dimension.key)
    weights = np.log2(likelihood.ratio[rows]).tolist() if likelihood else [0.0] * len(rows)
    differs, allowance = _figures(rule, listed, model)
    counts, measured = dimension.counts_for_fit, rule.measured is not None
    explained = []
    for place, probability in enumerate(agreement.tolist()):
        status = _status(probability, measured=measured)
        explained.append(
            ComparedDimension(
                key=dimension.key,
                role=dimension.role,
                measured=rule.measured,
                listed=listed[place],
                difference=differs[place],
                allowance=allowance,
                probability=probability if counts and not math.isnan(probability) else None,
                status=status,
                weight=weights[place],
                consequence=dimension.consequence or None if status is Status.DIFFERS else None,
            )
        )
    return explained


def _status(probability: float, *, measured: bool) -> Status:
    if math.isnan(probability):
        return Status.NOT_LISTED if measured else Status.NOT_MEASURED
    return Status.AGREES if probability >= LIKELY else Status.DIFFERS


def _figures(
    rule: Rule, listed: Sequence[Value | None], model: FitModel
) -> tuple[list[float | None], tuple[float, float] | None]:
    """Return candidate minus removed for each, and the allowed range, where there are such numbers."""
    x = rule.number
    if x is None:
        return [None] * len(listed), None
    reference = np.array([x.value])
    allowance = None
    if rule.allowance is not None:
        low, high = allowed_range(rule, reference, model)
        allowance = float(low[0]), float(high[0])
    values = [value.value if isinstance(value, Quantity) else math.nan for value in listed]
    found = difference(rule, np.array(values), reference).tolist()
    # Six places are a nanometre; they hide what binary floats add.
    return [None if math.isnan(one) else round(one, 6) for one in found], allowance


def explain_evidence(pieces: Sequence[EvidenceRatio], row: int) -> tuple[Evidence, ...]:
    """Return what else was weighed for the part in a row."""
    return tuple(
        Evidence(piece.kind, float(piece.similarity[row]), bits(float(piece.ratio[row])))
        for piece in pieces
        if not piece.silent[row]
    )


def list_works(
    pairs: Pairs, kinship: Kinship, runs: Floats, needs_work: Floats, model: FitModel
) -> list[WithWork]:
    """Return the work of some candidates: for each the cures of the dimensions that then likely differ.

    Args:
        pairs: of these candidates.
        kinship: the classes of pairs.
        runs: (n_candidates, n_h) weight of each hypothesis times the probability that the candidate runs
            under it.
        needs_work: (n_candidates,) probability that it runs only after work.
        model: what is worth telling.
    """
    chances = pair_chances(pairs, kinship)
    running = chances.agreeing[chances.curable] + chances.cured
    rigid = product(np.delete(chances.agreeing, chances.curable, axis=0))
    classes = kinship.shares[:, None, None] * rigid * product(running)
    belongs = classes / np.maximum(classes.sum(axis=0), LEAST_CHANCE)
    needed = np.einsum("kch,dkch,ch->cd", belongs, chances.cured / running, runs)
    dimensions = [pairs.rules[place].dimension for place in chances.curable]
    return [
        WithWork(share) if share < model.work_worth_telling else _sum_up(dimensions, row / share, share)
        for row, share in zip(needed, needs_work.tolist(), strict=True)
    ]


def _sum_up(dimensions: Sequence[Dimension], needed: Floats, needs_work: float) -> WithWork:
    """Return the cures of the dimensions that differ likelier than not, or of the likeliest."""
    likely = [place for place, share in enumerate(needed) if share >= LIKELY] or [int(needed.argmax())]
    cures = [cure for place in likely if (cure := dimensions[place].cure)]
    return WithWork(
        probability=needs_work,
        items=tuple(dict.fromkeys(need for cure in cures for need in cure.needs)),
        minutes=sum(cure.minutes for cure in cures),
        cost=sum(cure.cost for cure in cures),
    )
