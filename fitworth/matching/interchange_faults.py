"""Statements that cannot all be right: two that contradict each other, and rings of superseding numbers.

Which of them is wrong, no rule can tell; they are shown together, to be looked at again.

Two claims about one pair of numbers contradict each other where

    A supersedes B, and B supersedes A                     only one is the newer
    A supersedes B, and either is the same as the other    one way only, against both ways
    A replaces B with changes, and they are the same       with changes, against without
    A replaces B with changes, and A supersedes B          the same

That A supersedes B while B replaces A with changes is none: the old part may go on in place of the new one
with a bracket. A ring is a walk from number to number, each superseding the next or being the same as it,
that comes back to its start and supersedes at least once: every number in it would be newer than itself.
"""

from collections import deque
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from fitworth.matching.interchange import Claim, Statement, list_claims
from fitworth.vocabulary import Objection, Relation

VERBS: Mapping[Relation, str] = {
    Relation.SUPERSEDES: "supersedes",
    Relation.SAME_AS: "is the same as",
    Relation.REPLACES_WITH_CHANGES: "replaces",
}
SHORTEST_RING = 3  # claims; a shorter one is a contradiction


@dataclass(frozen=True, slots=True)
class StatementFault:
    """Statements that cannot all be right.

    Attributes:
        kind: what speaks against them.
        statement_ids: those involved, in rising order.
        numbers: those involved, as they are compared, in the order of the sentence.
        says: a sentence.
    """

    kind: Objection
    statement_ids: tuple[int, ...]
    numbers: tuple[str, ...]
    says: str


def list_statement_faults(
    statements: Iterable[Statement], shown: Mapping[str, str]
) -> tuple[StatementFault, ...]:
    """Return what statements have against each other, in the order of the latest statement involved.

    Args:
        statements: all that are on file; those of confidence 0 claim nothing.
        shown: numbers as they are written, by number as it is compared.
    """
    claims = list_claims(statements)
    faults = [*_contradictions(claims, shown), *_rings(claims, shown)]
    return tuple(sorted(faults, key=lambda fault: (fault.statement_ids[-1], fault.statement_ids)))


def say(claim: Claim, shown: Mapping[str, str]) -> str:
    """Return a claim as a part of a sentence."""
    after = " with changes" if claim.with_changes else ""
    return f"{shown[claim.from_number]} {VERBS[claim.relation]} {shown[claim.to_number]}{after}"


def _contradictions(claims: Iterable[Claim], shown: Mapping[str, str]) -> Iterator[StatementFault]:
    pairs: dict[frozenset[str], list[Claim]] = {}
    for claim in claims:
        pairs.setdefault(frozenset((claim.from_number, claim.to_number)), []).append(claim)
    for same_pair in pairs.values():
        for one, other in combinations(same_pair, 2):
            why = _why_not_both(one, other)
            if why:
                says = f"{say(one, shown)}, and {say(other, shown)}: {why}"
                yield _fault(Objection.CONTRADICTION, (one, other), says)


def _why_not_both(one: Claim, other: Claim) -> str | None:
    """Return why two claims about one pair cannot both be right, or None."""
    relations = {one.relation, other.relation}
    if relations == {Relation.SUPERSEDES}:  # one claim for each direction
        return "only one of them can be the newer."
    if Relation.SAME_AS in relations:
        if Relation.SUPERSEDES in relations:
            return "either one stands in for the other both ways, or one way only."
        return "either it takes changes, or it does not."
    if len(relations) > 1 and one.from_number == other.from_number:
        return "either it takes changes, or it does not."
    return None


def _rings(claims: Sequence[Claim], shown: Mapping[str, str]) -> Iterator[StatementFault]:
    seen: set[frozenset[int]] = set()
    onward = _list_onward(claims)
    for first in list(onward.values()):
        for _, place in first:
            claim = claims[place]
            if claim.relation is not Relation.SUPERSEDES:
                continue
            back = _shortest_way(onward, claim.to_number, claim.from_number)
            ring = (place, *back)
            if len(ring) < SHORTEST_RING or frozenset(ring) in seen:
                continue
            seen.add(frozenset(ring))
            yield _ring_fault([claims[one] for one in ring], shown)


def _list_onward(claims: Sequence[Claim]) -> dict[str, list[tuple[str, int]]]:
    """Return for each number what it supersedes or is the same as, where the way leads back again."""
    arcs = []
    for place, claim in enumerate(claims):
        if not claim.with_changes:
            arcs.append((claim.from_number, claim.to_number, place))
            if claim.relation is Relation.SAME_AS:
                arcs.append((claim.to_number, claim.from_number, place))
    codes: dict[str, int] = {}
    ends = np.array(
        [[codes.setdefault(number, len(codes)) for number in arc[:2]] for arc in arcs], np.int64
    ).reshape(-1, 2)
    graph = coo_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(len(codes), len(codes)))
    # Numbers of one component reach each other both ways; all others are in no ring.
    component = connected_components(graph.tocsr(), connection="strong")[1] if codes else ends
    onward: dict[str, list[tuple[str, int]]] = {}
    for newer, older, place in arcs:
        if component[codes[newer]] == component[codes[older]]:
            onward.setdefault(newer, []).append((older, place))
    return onward


def _shortest_way(onward: Mapping[str, Sequence[tuple[str, int]]], start: str, end: str) -> tuple[int, ...]:
    """Return the claims of a shortest way from a number to another; there is one."""
    before: dict[str, tuple[str, int]] = {start: ("", -1)}
    waiting = deque([start])
    while end not in before:
        number = waiting.popleft()
        for further, place in onward[number]:
            if further not in before:
                before[further] = (number, place)
                waiting.append(further)
    way: list[int] = []
    while end != start:
        end, place = before[end]
        way.append(place)
    return tuple(reversed(way))


def _ring_fault(ring: Sequence[Claim], shown: Mapping[str, str]) -> StatementFault:
    number = ring[0].from_number
    told = shown[number]
    for claim in ring:
        number = claim.to_number if claim.from_number == number else claim.from_number
        told += f"{'' if claim is ring[0] else ', which'} {VERBS[claim.relation]} {shown[number]}"
    return _fault(Objection.RING, ring, f"{told}: in a ring, each would be newer than itself.")


def _fault(kind: Objection, claims: Sequence[Claim], says: str) -> StatementFault:
    ids = sorted(one.statement_id for claim in claims for one in claim.statements)
    numbers = dict.fromkeys(number for claim in claims for number in (claim.from_number, claim.to_number))
    return StatementFault(kind, tuple(ids), tuple(numbers), says)
