"""What a candidate's figures look like beside the removed part's, and what work it would take."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fitworth.families.model import Dimension
from fitworth.matching.allowances import Rule, allowed_range, difference
from fitworth.matching.answer import ComparedDimension, Evidence, Floats, Ints, WithWork
from fitworth.matching.breakdown import Breakdown
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.evidence import EvidenceRatio
from fitworth.matching.groups.candidates import Lineup, Question
from fitworth.matching.parameters import FitModel
from fitworth.matching.supposed import list_supposed
from fitworth.quantities.quantity import Quantity, Value
from fitworth.vocabulary import Status

LIKELY = 0.5  # own choice: a dimension is worked on, or differs, where that is likelier than not
BEFORE = "before_measuring"
HELD_BACK = "not_recorded"
LEAST_CHANCE = 1e-300


@dataclass(frozen=True, slots=True)
class Explained:
    """All that the candidates shown are explained from.

    Attributes:
        catalogue: the parts.
        rules: of all dimensions.
        question: the query on groups.
        lineup: the candidates.
        shown: (n,) places of those shown.
        own: by key, how each candidate's own listing agrees with what was measured.
        breakdown: of the confidence in those shown.
    """

    catalogue: Catalogue
    rules: tuple[Rule, ...]
    question: Question
    lineup: Lineup
    shown: Ints
    own: Mapping[str, Floats]
    breakdown: Breakdown


def explain_dimensions(explained: Explained) -> list[tuple[ComparedDimension, ...]]:
    """Return for each candidate shown its dimensions beside the removed part's, in the family's order."""
    agreement = _agreement(explained)
    weights = {
        explained.question.rules[reading.dim].dimension.key: bits
        for reading, bits in zip(explained.question.readings, explained.breakdown.by_reading, strict=True)
    }
    columns = [_explain(explained, rule, agreement, weights) for rule in explained.rules]
    return list(zip(*columns, strict=True))


def _agreement(explained: Explained) -> dict[str, Floats]:
    """Return by key the probability that each candidate shown agrees, (n,), averaged over designs."""
    question, lineup = explained.question, explained.lineup
    standings = lineup.standings
    designs = lineup.designs[explained.shown]
    agrees = np.where(standings.certain[..., None], 1.0, standings.agrees.as_it_comes)
    under = np.einsum("dhk,h->dk", agrees, question.hypotheses.weights)
    under += standings.agrees_away.as_it_comes[:, 0] * question.hypotheses.away
    whole = np.maximum(designs.sum(axis=1, keepdims=True), LEAST_CHANCE)
    table = designs @ under / whole
    return {rule.dimension.key: table[:, place] for place, rule in enumerate(question.rules)}


def _explain(
    explained: Explained, rule: Rule, agreement: Mapping[str, Floats], weights: Mapping[str, Floats]
) -> list[ComparedDimension]:
    dimension, shown = rule.dimension, explained.shown
    rows = explained.lineup.rows[shown]
    listed = explained.catalogue.list_values(dimension, rows)
    supposed = list_supposed(explained.catalogue, explained.question.groups, dimension.key, rows)
    measured = rule.measured is not None
    of_listing = explained.own[dimension.key][shown] if measured else np.full(len(shown), np.nan)
    of_design = agreement.get(dimension.key, of_listing)
    differs, allowance = _figures(rule, listed, explained.question.model)
    bits = weights.get(dimension.key, np.zeros(len(shown)))
    found = []
    for place in range(len(shown)):
        status = _status(of_listing[place], measured=measured)
        probability = float(of_design[place])
        counts = dimension.counts_for_fit and measured and not np.isnan(probability)
        found.append(
            ComparedDimension(
                key=dimension.key,
                role=dimension.role,
                measured=rule.measured,
                listed=listed[place],
                supposed=supposed[place],
                difference=differs[place],
                allowance=allowance,
                probability=probability if counts else None,
                status=status,
                weight=float(bits[place]),
                consequence=dimension.consequence or None if status is Status.DIFFERS else None,
            )
        )
    return found


def _status(of_listing: float, *, measured: bool) -> Status:
    """Return how a candidate's own sheet compares; what its design makes of it is the probability."""
    if not measured:
        return Status.NOT_MEASURED
    if np.isnan(of_listing):
        return Status.NOT_LISTED
    return Status.AGREES if of_listing >= LIKELY else Status.DIFFERS


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
    values = [value.value if isinstance(value, Quantity) else np.nan for value in listed]
    found = difference(rule, np.array(values), reference).tolist()
    # Six places are a nanometre; they hide what binary floats add.
    return [None if np.isnan(one) else round(one, 6) for one in found], allowance


def explain_evidence(pieces: Sequence[EvidenceRatio], explained: Explained) -> list[tuple[Evidence, ...]]:
    """Return for each candidate shown what else was weighed; with the dimensions' weights it adds up.

    First the odds before anything was known of the removed part, last what is held back.
    """
    breakdown = explained.breakdown
    rows = explained.lineup.rows[explained.shown]
    return [
        (
            Evidence(BEFORE, 1.0, float(breakdown.before[place])),
            *(
                Evidence(piece.kind, float(piece.similarity[row]), float(breakdown.by_evidence[which, place]))
                for which, piece in enumerate(pieces)
            ),
            Evidence(HELD_BACK, 1.0, float(breakdown.held_back[place])),
        )
        for place, row in enumerate(rows)
    ]


def list_works(explained: Explained, needs_work: Floats) -> list[WithWork]:
    """Return the work of the candidates shown: the cures of the dimensions that then likely differ.

    Where a candidate runs only after work, a dimension needs it with its chance of being out of the allowance
    but not beyond the cure, given that at least one does.

    Args:
        explained: the candidates.
        needs_work: (n,) probability that each runs only after work.
    """
    question, lineup, model = explained.question, explained.lineup, explained.question.model
    curable = [place for place, rule in enumerate(question.rules) if rule.dimension.cure]
    if not curable:
        return [WithWork(share) for share in needs_work.tolist()]
    unmeasured = np.full(len(lineup.rows), np.nan)
    dimensions = [question.rules[place].dimension for place in curable]
    standings = lineup.standings
    within = standings.agrees.as_it_comes[..., curable]
    bridged = np.maximum(standings.agrees.in_all[..., curable], LEAST_CHANCE)
    weight = question.hypotheses.weights * ~standings.certain * standings.agrees.in_all.prod(axis=-1)
    weight = weight * (1.0 - (within / bridged).prod(axis=-1))
    needed = np.einsum("dhk,dh->dk", 1.0 - within / bridged, _over_any(within / bridged) * weight)
    shares = lineup.designs[explained.shown] @ needed
    whole = np.maximum(lineup.designs[explained.shown] @ weight.sum(axis=1), LEAST_CHANCE)
    shares = shares / whole[:, None]
    differs = np.stack(
        [explained.own.get(dimension.key, unmeasured)[explained.shown] < LIKELY for dimension in dimensions],
        axis=1,
    )  # not-a-number differs from nothing
    # Where the sheet itself says what differs, that is worked on, whatever the design has.
    shares = np.where(differs.any(axis=1, keepdims=True), differs, shares)
    return [
        WithWork(share) if share < model.work_worth_telling else _sum_up(dimensions, row, share)
        for row, share in zip(shares, needs_work.tolist(), strict=True)
    ]


def _over_any(unneeded: Floats) -> Floats:
    """Return one over the chance that at least one dimension needs work, (n_designs, n_h)."""
    return np.asarray(1.0 / np.maximum(1.0 - unneeded.prod(axis=-1), LEAST_CHANCE))


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
