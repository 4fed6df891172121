"""What is known of a removed part, against the groups: how heavy each design is, and "a design on no file".

Under "on no file" the removed part is either a relative of a design on file, changed in a few dimensions, or
one that has nothing to do with any. Weights are prior times likelihood ratios; the prior of a group is its
share of the parts on file, since what many makers copy is what many machines have.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fitworth.matching.allowances import Rule, difference
from fitworth.matching.answer import Floats, Ints
from fitworth.matching.groups.cells import Cells
from fitworth.matching.groups.centres import Centres
from fitworth.matching.groups.evidence import Prior
from fitworth.matching.groups.learned import Learned
from fitworth.matching.groups.likeness import normal_density, reading_ratios
from fitworth.matching.groups.membership import Groups
from fitworth.matching.parameters import FitModel
from fitworth.matching.sides import LEAST_U


@dataclass(frozen=True, slots=True)
class Reading:
    """One measured dimension of the removed part.

    Attributes:
        dim: its place among the grouping dimensions.
        value: [unit] or code.
        u: standard uncertainty [unit]; 0 for words.
        error: probability that it is wrong.
    """

    dim: int
    value: float
    u: float
    error: float


def readings_of(rules: Sequence[Rule], codes: Sequence[float | None], model: FitModel) -> tuple[Reading, ...]:
    """Return the readings among some dimensions.

    Args:
        rules: of the grouping dimensions, with what was measured.
        codes: for each, the code of a measured word, or None.
        model: the shares of wrong readings.
    """
    found = []
    for dim, (rule, code) in enumerate(zip(rules, codes, strict=True)):
        if rule.number is not None:
            u = max(rule.number.standard_uncertainty, LEAST_U)
            found.append(Reading(dim, rule.number.value, u, model.gross_error_share))
        elif code is not None:
            found.append(Reading(dim, code, 0.0, model.choice_error_share))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Told:
    """What the readings say of every group: log likelihood ratios, one row for each reading.

    Attributes:
        same: (n_readings, n_groups) that the removed part is of the group's design.
        related: (n_readings, n_groups) that it is a relative of it on no file.
    """

    same: Floats
    related: Floats


def tell(groups: Groups, readings: Sequence[Reading]) -> Told:
    """Return what each reading says of every group."""
    filled, learned = groups.partition.filled, groups.partition.learned
    same = np.zeros((len(readings), len(filled.value)))
    related = np.zeros_like(same)
    for place, reading in enumerate(readings):
        ratios = reading_ratios(
            learned,
            reading.dim,
            np.array([reading.value]),
            np.array([reading.u]),
            filled.within(reading.dim),
            reading.error,
        )
        same[place] = np.log(ratios[0])
        related[place] = np.log(learned.related_ratios(*ratios, reading.dim))
    return Told(same, related)


@dataclass(frozen=True, slots=True)
class Weights:
    """How heavy each hypothesis is; all add up to 1.

    Attributes:
        group: (n_groups,) the removed part is of this group's design.
        relative: (n_groups,) it is of no group's design, but of a relative of this group's.
        stranger: it is of a design on no file that is no relative of any.
        lone: part of the relatives' weight that is of a single part on file, taken for a member of the group.
    """

    group: Floats
    relative: Floats
    stranger: float
    lone: float

    @property
    def away(self) -> float:
        """The probability that the design is that of no group."""
        return float(self.relative.sum()) + self.stranger


def weigh_designs(prior: Prior, told: Told, learned: Learned, not_on_file: float) -> Weights:
    """Return the weights of all hypotheses.

    Args:
        prior: of the designs on file, with what numbers and engines say.
        told: what the readings say.
        learned: the share of relatives.
        not_on_file: prior probability of a design on no file.
    """
    n_groups = len(prior.group)
    unfiled = not_on_file * learned.related / n_groups
    with np.errstate(divide="ignore"):
        group = np.log(prior.group * (1.0 - not_on_file)) + told.same.sum(axis=0)
        relative = np.log(unfiled + prior.lone * (1.0 - not_on_file)) + told.related.sum(axis=0)
        stranger = float(np.log(not_on_file * (1.0 - learned.related)))
    most = max(float(group.max()), float(relative.max()), stranger)
    weights = np.exp(group - most), np.exp(relative - most), float(np.exp(stranger - most))
    whole = float(weights[0].sum() + weights[1].sum()) + weights[2]
    filed = prior.lone * (1.0 - not_on_file) / (unfiled + prior.lone * (1.0 - not_on_file))
    return Weights(
        weights[0] / whole,
        weights[1] / whole,
        weights[2] / whole,
        float((weights[1] * filed).sum()) / whole,
    )


def removed_alone(readings: Sequence[Reading], learned: Learned) -> Centres:
    """Return what the readings alone say of the removed part, (1, n_dims, 2)."""
    centres = Centres.blank(1, len(learned.rules))
    for reading in readings:
        centres.value[0, reading.dim, 0] = reading.value
        centres.variance[0, reading.dim, 0] = reading.u**2
        centres.share[0, reading.dim, 0] = 1.0 - reading.error
    return centres


def removed_under(designs: Centres, readings: Sequence[Reading], learned: Learned) -> tuple[Centres, Centres]:
    """Return the designs of the hypotheses, and the removed part under each, once the readings are in.

    A reading that is sound shows which figure of a design is right, and draws the removed part's own size
    from the design's towards itself by their variances (GUM, JCGM 100:2008); one that is a gross error does
    neither. Where the design is unknown, a sound reading is what is known.

    Args:
        designs: (n_hypotheses, n_dims, 2).
        readings: of the removed part.
        learned: shares and spreads.

    Returns:
        Two of the same shape.
    """
    updated, removed = designs.copied(), designs.copied()
    removed.variance[...] += learned.scatter[:, None] ** 2
    for reading in readings:
        dim = reading.dim
        value, variance, share = (part[:, dim] for part in (designs.value, designs.variance, designs.share))
        spread, u = learned.spreads[dim], float(np.hypot(reading.u, learned.scatter[dim]))
        astray = reading.error * spread.gross(reading.value, u)
        if learned.numeric[dim]:
            own = variance + learned.scatter[dim] ** 2
            off = difference(learned.rules[dim], np.full_like(value, reading.value), value)
            likely = normal_density(off, own + reading.u**2)
            pull = own / (own + reading.u**2)
        else:
            likely, pull, off = (value == reading.value).astype(np.float64), np.ones_like(value), 0.0 * value
            own = variance
        sound = (1.0 - reading.error) * share * likely
        fresh = (1.0 - reading.error) * (1.0 - share.sum(axis=1)) * spread.density(reading.value, u)
        whole = sound.sum(axis=1) + fresh + astray
        again = (sound + astray * share) / whole[:, None]
        updated.share[:, dim] = removed.share[:, dim] = again
        shown = sound > astray * share
        removed.value[:, dim] = np.where(shown, value + pull * off, value)
        removed.variance[:, dim] = np.where(shown, own * (1.0 - pull), own)
        slot = again.argmin(axis=1)
        rows = np.flatnonzero(fresh / whole > again[np.arange(len(again)), slot])
        for side, variance_there in (
            (updated, reading.u**2 + learned.scatter[dim] ** 2),
            (removed, reading.u**2),
        ):
            side.share[rows, dim, slot[rows]] = (fresh / whole)[rows]
            side.value[rows, dim, slot[rows]] = reading.value
            side.variance[rows, dim, slot[rows]] = variance_there if learned.numeric[dim] else 0.0
    return updated, removed


def chance_astray(designs: Centres, reading: Reading, learned: Learned) -> Floats:
    """Return the probability that a reading is wrong, under each hypothesis, (n_hypotheses,)."""
    ratios, _ = reading_ratios(
        learned,
        reading.dim,
        np.array([reading.value]),
        np.array([reading.u]),
        designs.within(reading.dim),
        error=0.0,
    )
    spread = learned.spreads[reading.dim]
    u = float(np.hypot(reading.u, learned.scatter[reading.dim]))
    usual, gross = spread.density(reading.value, u), spread.gross(reading.value, u)
    sound = (1.0 - reading.error) * ratios * usual
    return np.asarray(reading.error * gross / np.maximum(sound + reading.error * gross, 1e-300))


def lone_centres(cells: Cells, learned: Learned) -> Centres:
    """Return what each of some parts says by itself, (n_parts, n_dims, 2)."""
    centres = Centres.blank(*cells.value.shape)
    listed = cells.listed
    error = np.where(learned.numeric, learned.gross, learned.wrong)
    centres.value[..., 0] = np.where(listed, cells.value, 0.0)
    variance = np.where(learned.numeric, cells.u**2 + learned.scatter**2, 0.0)
    centres.variance[..., 0] = np.where(listed, variance, 1.0)
    centres.share[..., 0] = np.where(listed, 1.0 - error, 0.0)
    return centres


def representatives(groups: Groups, some: Ints) -> Ints:
    """Return a row of the catalogue for each of some groups: its first member.

    A group whose members were all taken out has no weight; the first part on file stands for it.
    """
    labels = groups.partition.labels
    first = np.zeros(len(groups.partition.kin.parent), np.int64)
    first[labels[::-1]] = np.arange(len(labels))[::-1]
    return np.asarray(first[some], np.int64)
