"""What may stand in for a number, by the statements on file and with how much confidence.

"A supersedes B" and "A replaces B with changes" say that A may stand in for B, not the other way round; "A is
the same as B" goes both ways. Statements follow one another. A path holds if all its statements are right,
and a number stands in if some path to it holds: its strength is the probability of that, each claim being
right or wrong by itself (interchange_strength.py; own choice, for nothing tells how errors go together).

Statements that say the same of the same two numbers are one claim. Of one source only the surest counts, for
a list that is copied is no second witness; several sources are right unless all of them are wrong. Claims
about other numbers, or of another relation, are taken to be independent even if one source makes both.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import islice, product

from fitworth.matching.catalogue import Tie
from fitworth.matching.interchange_graph import Graph, settle
from fitworth.matching.interchange_strength import Combined, combine, strongest_alone
from fitworth.vocabulary import Relation

MOST_COMBINED = 100  # stand-ins, the strongest, whose paths are combined; own choice, so that a file of any
# shape answers within a second. The others stand by their strongest path.
MOST_PAIRS = 100  # of parts that one claim ties; own choice: a number that more bear is hardly a number
DIGITS = 12  # of a strength; the rest is noise of the arithmetic and would order equal ones


@dataclass(frozen=True, slots=True)
class Statement:
    """One statement; numbers as they are compared.

    Attributes:
        statement_id: the caller's number for it.
        from_number: what may stand in.
        to_number: what it may stand in for.
        relation: how.
        confidence: probability that the statement is right.
        source: who says so; of one source the surest statement of a claim counts.
    """

    statement_id: int
    from_number: str
    to_number: str
    relation: Relation
    confidence: float
    source: str = ""


@dataclass(frozen=True, slots=True)
class Claim:
    """What one or more statements say of two numbers.

    Attributes:
        statements: all that say it, the surest first; its numbers stand as that one has them.
        confidence: probability that it is right.
    """

    statements: tuple[Statement, ...]
    confidence: float

    @property
    def from_number(self) -> str:
        """What may stand in."""
        return self.statements[0].from_number

    @property
    def to_number(self) -> str:
        """What it may stand in for."""
        return self.statements[0].to_number

    @property
    def relation(self) -> Relation:
        """How."""
        return self.statements[0].relation

    @property
    def with_changes(self) -> bool:
        """Whether it takes changes."""
        return self.relation is Relation.REPLACES_WITH_CHANGES


@dataclass(frozen=True, slots=True)
class Path:
    """Claims that lead from the number asked for to one that may stand in.

    Attributes:
        claims: in that order.
        strength: probability that all of them are right.
    """

    claims: tuple[Claim, ...]
    strength: float

    @property
    def with_changes(self) -> bool:
        """Whether some claim replaces with changes."""
        return any(claim.with_changes for claim in self.claims)


@dataclass(frozen=True, slots=True)
class StandIn:
    """A number that may stand in for the one asked for.

    Attributes:
        number: as it is compared.
        strength: probability that at least one path holds.
        unchanged_strength: probability that at least one path without changes holds.
        exact: whether the two are exact; else they are at least that.
        paths: those counted, the strongest first.
    """

    number: str
    strength: float
    unchanged_strength: float
    exact: bool
    paths: tuple[Path, ...]

    @property
    def path(self) -> Path:
        """The strongest path."""
        return self.paths[0]

    @property
    def with_changes(self) -> bool:
        """Whether every path takes changes."""
        return self.unchanged_strength == 0.0


def find_stand_ins(number: str, statements: Iterable[Statement]) -> tuple[StandIn, ...]:
    """Return all that may stand in for a number, strongest first; equal ones as they were stated.

    Args:
        number: as it is compared.
        statements: on file; those that lead nowhere near are passed over.
    """
    claims = list_claims(statements)
    graph = graph_of(claims)
    unchanged = graph_of(claims, with_changes=False) if any(one.with_changes for one in claims) else graph
    graphs = (graph,) if unchanged is graph else (graph, unchanged)
    settled = tuple(settle(one, number) for one in graphs)
    found = []
    for place, goal in enumerate(goal for goal in settled[0] if goal != number):
        if place < MOST_COMBINED:
            both = [combine(one, number, goal) for one in graphs]
        else:
            both = [strongest_alone(reached, goal) for reached in settled]
        every, without = both[0], both[-1]
        paths = tuple(_paths(claims, every))
        exact = every.exact and without.exact
        found.append(StandIn(goal, every.strength, without.strength, exact, paths))
    return tuple(sorted(found, key=lambda one: -round(one.strength, DIGITS)))


def _paths(claims: tuple[Claim, ...], combined: Combined) -> Iterator[Path]:
    for places, strength in combined.paths:
        yield Path(tuple(claims[place] for place in places), strength)


def list_claims(statements: Iterable[Statement]) -> tuple[Claim, ...]:
    """Return what the statements say, each thing once, in the order of the first statement that says it.

    With c the surest confidence of each source, a claim is right with probability 1 - product of (1 - c).

    Args:
        statements: any; those of confidence 0 claim nothing.
    """
    said: dict[tuple[str, str, Relation], list[Statement]] = {}
    for statement in statements:
        if statement.confidence > 0.0:
            one, other = statement.from_number, statement.to_number
            if statement.relation is Relation.SAME_AS and other < one:
                one, other = other, one
            said.setdefault((one, other, statement.relation), []).append(statement)
    return tuple(_claim(same) for same in said.values())


def _claim(same: list[Statement]) -> Claim:
    surest = sorted(same, key=lambda one: (-one.confidence, one.statement_id))
    if len(surest) == 1:
        return Claim((surest[0],), surest[0].confidence)
    by_source: dict[str, float] = {}
    for statement in surest:
        by_source.setdefault(" ".join(statement.source.split()).casefold(), statement.confidence)
    wrong = 1.0
    for confidence in by_source.values():
        wrong *= 1.0 - confidence
    return Claim(tuple(surest), surest[0].confidence if len(by_source) == 1 else 1.0 - wrong)


def graph_of(claims: Iterable[Claim], *, with_changes: bool = True) -> Graph:
    """Return the claims as a graph of steps from a number to what may stand in for it.

    Args:
        claims: their places in this order are the graph's names for them.
        with_changes: whether those that take changes are steps too.
    """
    chances: list[float] = []
    arcs: dict[str, list[tuple[str, int]]] = {}
    for place, claim in enumerate(claims):
        chances.append(claim.confidence)
        if claim.with_changes and not with_changes:
            continue
        arcs.setdefault(claim.to_number, []).append((claim.from_number, place))
        if claim.relation is Relation.SAME_AS:
            arcs.setdefault(claim.from_number, []).append((claim.to_number, place))
    return Graph(arcs, tuple(chances))


def strengths_of_parts(
    stand_ins: Iterable[StandIn], bearers: Mapping[str, Iterable[int]], changes_count: float
) -> dict[int, float]:
    """Return how surely each part stands in by its numbers, by part id; 0..1.

    Where a number stands in after changes only, the part is no copy of the removed one but goes on in its
    place, so that only a share of that strength counts.

    Args:
        stand_ins: of the removed part's number.
        bearers: the ids of the parts that bear each number, as it is compared.
        changes_count: [share] what counts of a strength that needs changes.
    """
    strengths: dict[int, float] = {}
    for found in stand_ins:
        counts = found.unchanged_strength + changes_count * max(
            0.0, found.strength - found.unchanged_strength
        )
        for part_id in bearers.get(found.number, ()):
            strengths[part_id] = max(counts, strengths.get(part_id, 0.0))
    return strengths


def ties_of_parts(
    statements: Iterable[Statement], bearers: Mapping[str, Iterable[int]], truth: float
) -> tuple[Tie, ...]:
    """Return the pairs of parts that statements make one design, by rising ids, each with its probability.

    Whatever supersedes a number, or is the same as it, goes in its place as it comes, which is what one
    design means here; what replaces with changes does not. Of several claims about one pair the surest
    counts, for those of a file mostly hang together.

    Args:
        statements: that link numbers of parts directly.
        bearers: the ids of the parts that bear each number, as it is compared.
        truth: [share] of statements that prove true, beside the confidence that each has of its own.
    """
    ties: dict[tuple[int, int], float] = {}
    for claim in list_claims(statements):
        if claim.with_changes:
            continue
        pairs = product(bearers.get(claim.from_number, ()), bearers.get(claim.to_number, ()))
        for one, other in islice(pairs, MOST_PAIRS):
            if one != other:
                pair = min(one, other), max(one, other)
                ties[pair] = max(claim.confidence * truth, ties.get(pair, 0.0))
    return tuple((*pair, ties[pair]) for pair in sorted(ties))
