"""What each measurement, number or engine added to the confidence in a candidate, in bits of log odds.

The confidence is computed again with the evidence taken in one piece at a time, in the family's order and in
the reverse; what a piece adds is the mean of the two steps that it makes (own choice: the two orders stand
for all, as in the Shapley value, and a sum of steps is the whole way, so that the contributions add up).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fitworth.matching.answer import Floats, Ints
from fitworth.matching.evidence import EvidenceRatio
from fitworth.matching.groups.candidates import Lineup, Question, stand
from fitworth.matching.groups.evidence import group_prior, named_shares
from fitworth.matching.groups.query import Told, Weights, weigh_designs
from fitworth.matching.groups.running import Terms, runs_of_terms, runs_when_away

SUREST = 1e-9  # no odds beyond those of this probability are shown


@dataclass(frozen=True, slots=True)
class Breakdown:
    """The contributions to the confidence in some candidates, in bits of log odds.

    Attributes:
        before: (n,) the odds before anything was known of the removed part.
        by_reading: (n_readings, n) what each reading added.
        by_evidence: (n_evidence, n) what each number or engine added.
        held_back: (n,) what is taken off for all that is not recorded.
    """

    before: Floats
    by_reading: Floats
    by_evidence: Floats
    held_back: Floats


def odds_bits(probability: Floats) -> Floats:
    """Return log odds [bit], bounded by SUREST."""
    p = np.clip(probability, SUREST, 1.0 - SUREST)
    return np.asarray(np.log2(p / (1.0 - p)))


def break_down(
    question: Question,
    evidence: Sequence[EvidenceRatio],
    lineup: Lineup,
    shown: Ints,
    confidence: Floats,
) -> Breakdown:
    """Return what made the confidence in the candidates shown.

    Args:
        question: the query.
        evidence: numbers and engines.
        lineup: the candidates.
        shown: places of those to be explained.
        confidence: (n_shown,) as it is told in the end.
    """
    walk = _Walk.of(question, evidence, lineup, shown)
    n_readings, n_steps = len(question.readings), len(question.readings) + len(evidence)
    added = np.zeros((n_steps, len(shown)))
    for order in (range(n_steps), range(n_steps - 1, -1, -1)):
        taken: set[int] = set()
        reached = odds_bits(walk.confidence(taken))
        for step in order:
            taken.add(step)
            further = odds_bits(walk.confidence(taken))
            added[step] += (further - reached) / 2.0
            reached = further
    before = odds_bits(walk.confidence(set()))
    # What single steps cannot show (hypotheses that stand for others) goes with what is held back.
    held_back = odds_bits(confidence) - before - added.sum(axis=0)
    return Breakdown(before, added[:n_readings], added[n_readings:], held_back)


@dataclass(frozen=True, slots=True)
class _Walk:
    """All that the confidence with some of the evidence is computed from.

    Steps are numbered: the readings first, then numbers and engines. Terms are (n_designs, n_h, n_readings)
    with a reading and without it; `rest` is the sum over the dimensions that were not measured.
    """

    question: Question
    evidence: tuple[EvidenceRatio, ...]
    lineup: Lineup
    shown: Ints
    rows: Ints
    designs: Floats
    columns: Ints
    rest: Terms
    with_reading: Terms
    without: Terms
    away_rest: Terms
    away_with: Terms
    away_without: Terms

    @classmethod
    def of(
        cls, question: Question, evidence: Sequence[EvidenceRatio], lineup: Lineup, shown: Ints
    ) -> "_Walk":
        designs = lineup.designs[shown]
        columns = np.flatnonzero((designs > 0.0).any(axis=0))
        standings = lineup.standings
        measured = np.array([reading.dim for reading in question.readings], np.int64)
        others = np.setdiff1d(np.arange(len(question.rules)), measured)
        terms, away = standings.terms.of(columns), standings.away_terms.of(columns)
        blank = stand(
            question,
            lineup.centres.of(columns),
            lineup.sizes[columns],
            lineup.own[columns],
            (),
            measured.tolist(),
        )
        return cls(
            question,
            tuple(evidence),
            lineup,
            shown,
            lineup.rows[shown],
            designs[:, columns],
            columns,
            terms.at(others).summed(),
            terms.at(measured),
            blank.terms.at(measured),
            away.at(others).summed(),
            away.at(measured),
            blank.away_terms.at(measured),
        )

    def confidence(self, taken: set[int]) -> Floats:
        """Return the confidence in the candidates with some steps taken, (n_shown,)."""
        question, model = self.question, self.question.model
        groups = question.groups
        n_readings = len(question.readings)
        readings = np.array([step in taken for step in range(n_readings)], np.bool_)
        pieces = [piece for place, piece in enumerate(self.evidence) if n_readings + place in taken]
        told = Told(question.told.same[readings], question.told.related[readings])
        learned = groups.partition.learned
        weights = weigh_designs(group_prior(groups, pieces), told, learned, model.not_on_file)
        sums, away_sums = self._sums(readings)
        places = question.hypotheses.groups
        runs = runs_of_terms(sums, self.lineup.standings.odds[self.columns], question.kin).in_all
        runs[self.lineup.standings.certain[self.columns]] = 1.0
        kin = self._away_kin(weights)
        away = runs_when_away(away_sums, kin).in_all
        named = named_shares(groups, pieces, self.rows, places)
        scattered = self.lineup.scattered.in_all[self.shown]
        likely = named.lift(self.designs @ runs - scattered) @ self._of_hypotheses(weights)
        return np.asarray(likely + (self.designs @ away) * weights.away)

    def _of_hypotheses(self, weights: Weights) -> Floats:
        """Return the weights of the hypotheses, those that stand for others with theirs."""
        question = self.question
        own = question.weights.group[question.hypotheses.groups]
        stands_for = question.hypotheses.weights / np.maximum(own, 1e-300)
        found = weights.group[question.hypotheses.groups] * np.where(own > 0.0, stands_for, 1.0)
        whole = float(found.sum())
        return found * min(1.0, (1.0 - weights.away) / whole) if whole > 0.0 else found

    def _away_kin(self, weights: Weights) -> Floats:
        return weights.relative[self.lineup.own[self.columns]] / max(weights.away, 1e-300)

    def _sums(self, readings: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> tuple[Terms, Terms]:
        read, unread = np.flatnonzero(readings), np.flatnonzero(~readings)
        sums = self.rest.plus(self.with_reading.at(read).summed()).plus(self.without.at(unread).summed())
        away = self.away_rest.plus(self.away_with.at(read).summed())
        return sums, away.plus(self.away_without.at(unread).summed())
