"""The interchange groups of a catalogue as they are shown: who belongs to each, and what its design is.

A group that may be two is shown as two where that is likelier than not.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fitworth.matching.answer import Floats, Ints
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.groups.cells import grouping_rules
from fitworth.matching.groups.estimate import groups_of
from fitworth.matching.groups.membership import Groups
from fitworth.matching.parameters import FitModel
from fitworth.matching.supposed import LIKELY, figure_value, witnesses_of
from fitworth.quantities.quantity import Value

DEFAULT_MODEL = FitModel()
FEWEST = 2  # parts that make a group


@dataclass(frozen=True, slots=True)
class Member:
    """A part of a group.

    Attributes:
        part_id: the part.
        probability: that it is of the group's design.
    """

    part_id: int
    probability: float


@dataclass(frozen=True, slots=True)
class Figure:
    """One dimension of a group's design.

    Attributes:
        key: of the dimension.
        value: what its parts have, with the makers' scatter in the uncertainty.
        probability: that this is right.
        say_so: how many parts of the group list it.
    """

    key: str
    value: Value
    probability: float
    say_so: int


@dataclass(frozen=True, slots=True)
class InterchangeGroup:
    """Two parts or more that are likeliest of one design.

    Attributes:
        members: by rising ids.
        figures: what is known of the design, in the family's order.
    """

    members: tuple[Member, ...]
    figures: tuple[Figure, ...]


def interchange_groups_of(
    catalogue: Catalogue, *, after_id: int, limit: int, model: FitModel = DEFAULT_MODEL
) -> tuple[InterchangeGroup, ...]:
    """Return a page of a catalogue's groups, by the lowest ids among their parts.

    Args:
        catalogue: of one family, empty or not.
        after_id: groups whose lowest id is not above this one are passed over.
        limit: how many at most.
        model: the figures of the match.
    """
    if not grouping_rules(catalogue, model):
        return ()
    groups = groups_of(catalogue, model)
    return tuple(iter_interchange_groups(catalogue, groups, after_id=after_id, limit=limit))


def iter_interchange_groups(
    catalogue: Catalogue, groups: Groups, *, after_id: int, limit: int
) -> Iterator[InterchangeGroup]:
    """Yield a page of groups, by the lowest ids among their parts.

    Args:
        catalogue: the parts.
        groups: of the same.
        after_id: groups whose lowest id is not above this one are passed over.
        limit: how many at most.
    """
    labels = likeliest_groups(groups)
    rows_of = members_of(catalogue, labels)
    wanted = sorted(
        (int(catalogue.ids[rows[0]]), group)
        for group, rows in rows_of.items()
        if catalogue.ids[rows[0]] > after_id
    )
    own, witnesses = own_shares(groups, labels), witnesses_of(groups)
    shares = groups.partition.gathered.centres.share[..., 0]
    for _, group in wanted[:limit]:
        rows = rows_of[group]
        yield InterchangeGroup(
            members=tuple(
                Member(part_id, share)
                for part_id, share in zip(catalogue.ids[rows].tolist(), own[rows].tolist(), strict=True)
            ),
            figures=tuple(
                Figure(
                    key=rule.dimension.key,
                    value=figure_value(catalogue, groups, dim, group, 0),
                    probability=float(shares[group, dim]),
                    say_so=int(witnesses.count[group, dim, 0]),
                )
                for dim, rule in enumerate(groups.rules)
                if shares[group, dim] > LIKELY
            ),
        )


def likeliest_groups(groups: Groups) -> Ints:
    """Return the group that each part is shown in, (n_parts,)."""
    single = groups.exists >= 0.5  # noqa: PLR2004  # rather than not
    return np.asarray(np.where(single, np.arange(len(single)), groups.origin)[groups.partition.labels])


def members_of(catalogue: Catalogue, labels: Ints) -> dict[int, Ints]:
    """Return the rows of each group's parts by rising ids, of groups of two parts and more.

    Args:
        catalogue: the parts.
        labels: (n_parts,) group of each.
    """
    order = np.lexsort((catalogue.ids, labels))
    size = np.bincount(labels)
    ends = np.cumsum(size)
    return {
        group: order[ends[group] - size[group] : ends[group]]
        for group in np.flatnonzero(size >= FEWEST).tolist()
    }


def own_shares(groups: Groups, labels: Ints) -> Floats:
    """Return how likely each part belongs to its group, (n_parts,).

    Args:
        groups: of the catalogue.
        labels: (n_parts,) group of each.
    """
    return np.asarray(np.where(groups.member == labels[:, None], groups.member_share, 0.0).sum(axis=1))
