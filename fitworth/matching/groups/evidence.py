"""What numbers and engines say of groups, from what they say of parts.

A number names one part; so its group, and the part itself, which runs in place of itself whatever else is
known of it. An engine names a design: members that do not mention it share what the others say.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fitworth.matching.answer import Floats, Ints
from fitworth.matching.evidence import ENGINE, EvidenceRatio
from fitworth.matching.groups.membership import Groups
from fitworth.matching.sides import Mask

LEAST = 1e-300  # keeps a share of nothing from dividing by nothing


@dataclass(frozen=True, slots=True)
class Prior:
    """How heavy the designs on file are before any measurement; all add up to 1 where nothing is said.

    Attributes:
        group: (n_groups,) the removed part is of a group's design.
        lone: (n_groups,) it is of the design of a part that is taken for a member of the group and is none.
    """

    group: Floats
    lone: Floats


def group_prior(groups: Groups, evidence: Sequence[EvidenceRatio]) -> Prior:
    """Return the prior weights: shares of the parts, by membership, times what is said of them."""
    labels = groups.partition.labels
    n_groups = len(groups.partition.kin.parent)
    said = part_ratios(groups, evidence) / len(labels)
    stray = np.where(groups.partition.size[labels] > 1, groups.alone, 0.0)
    member = groups.member_share / np.maximum(groups.member_share.sum(axis=1, keepdims=True), LEAST)
    # A part that is a group by itself is of that group's design, whatever else it may be like.
    alone = groups.partition.size[labels] == 1
    own = np.bincount(labels, weights=np.where(alone, said, 0.0), minlength=n_groups)
    weight = np.where(alone, 0.0, said * (1.0 - stray))
    for place in range(member.shape[1]):
        own += np.bincount(groups.member[:, place], weights=weight * member[:, place], minlength=n_groups)
    lone = np.bincount(labels, weights=said * stray, minlength=n_groups)
    return Prior(np.asarray(own, np.float64), np.asarray(lone, np.float64))


def part_ratios(groups: Groups, evidence: Sequence[EvidenceRatio]) -> Floats:
    """Return the likelihood ratio of each part by all evidence, (n_parts,)."""
    labels = groups.partition.labels
    said = np.ones(len(labels))
    for piece in evidence:
        ratio = piece.ratio.astype(np.float64)
        if piece.kind == ENGINE:
            ratio = _of_group(ratio, piece.silent, labels)
        said *= ratio
    return said


def _of_group(ratio: Floats, silent: Mask, labels: Ints) -> Floats:
    """Return for each part the strongest ratio of its group's members that say something; 1 where none do."""
    best = np.zeros(int(labels.max()) + 1)
    spoken = ~silent
    np.maximum.at(best, labels[spoken], ratio[spoken])
    found = best[labels]
    return np.where(found > 0.0, found, 1.0)


@dataclass(frozen=True, slots=True)
class NamedShares:
    """How much of a hypothesis's weight says that the removed part bears a candidate's very number.

    Attributes:
        share: (n_candidates, n_h) 0 but where the hypothesis is the candidate's own group.
    """

    share: Floats

    def lift(self, runs: Floats) -> Floats:
        """Return chances of running, (n_candidates, n_h), once a part named by its number runs for itself."""
        return np.asarray(self.share + (1.0 - self.share) * runs)


def named_shares(
    groups: Groups, evidence: Sequence[EvidenceRatio], rows: Ints, hypotheses: Ints
) -> NamedShares:
    """Return the shares by which numbers name the candidates themselves.

    Args:
        groups: of the catalogue.
        evidence: numbers and engines.
        rows: (n_candidates,) of the catalogue.
        hypotheses: (n_h,) places of the groups.
    """
    share = np.zeros((len(rows), len(hypotheses)))
    numbers = [piece for piece in evidence if piece.kind != ENGINE]
    if not numbers:
        return NamedShares(share)
    labels = groups.partition.labels
    said = part_ratios(groups, numbers)
    whole = np.bincount(labels, weights=said, minlength=len(groups.partition.kin.parent))
    excess = np.maximum(said[rows] - 1.0, 0.0) / whole[labels[rows]]
    own = labels[rows][:, None] == hypotheses
    return NamedShares(np.where(own, excess[:, None], share))
