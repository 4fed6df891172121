"""Whether a candidate runs in place of a design, with holes and gross errors in what both list.

Two parts are one design, relatives (one design changed in a few dimensions) or unrelated. In each class they
agree within the allowance in dimension d with some probability: close to 1, as often as relatives on file do,
as often as unrelated parts do. The figures show it up to gross errors, of both sides or, where a measurement
backs the hypothesis, of the candidate's alone. So for each pair

    F = sum over classes of share * product over d of P(figures, agrees in d)
        / sum over classes of share * product over d of P(figures)

with P(figures) = 1 where a cell is missing: what agrees in all that both list is probably one design and then
agrees in the holes too, which no product of independent chances would say. The shares and probabilities come
from the pairs among the likely parts by expectation and maximisation (after Fellegi and Sunter's record
linkage, own choice of the three classes), shrunk to the model's figures.
"""

from dataclasses import dataclass

import numpy as np

from fitworth.matching.allowances import Rule, rules_of
from fitworth.matching.answer import Floats, Ints
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.pairs import Pairs, Seats, Singles, compare_pairs
from fitworth.matching.parameters import FitModel

ROUNDS = 6  # of expectation and maximisation; the shares have settled by then
CERTAIN = 1e-4  # no probability comes nearer to 0 or 1 than this
CELLS_AT_ONCE = 60_000  # numbers worked on at once, so that they stay in the processor's cache
BOTH_SIDES = 2.0  # figures that may be gross errors where a pair is compared
LEAST_CHANCE = 1e-300  # figures that are all but impossible in every class are no fit
SHOWN = np.float32(0.01)  # a difference is shown by the figures from this probability on
CLASSES = 3
IDENTICAL, RELATIVE, UNRELATED = range(CLASSES)
COUNTED_ROWS = 24  # parts, evenly from the whole catalogue, whose pairs show how often unrelated parts agree
COUNTED_MEND = 2.0  # differing pairs that weigh as much as the first guess that half can be mended


@dataclass(frozen=True, slots=True)
class Kinship:
    """The classes of pairs.

    Attributes:
        shares: (3,) prior probability of each class.
        agrees: (3, n_dims) probability of agreeing within the allowance.
        mends: (n_dims,) share of differing pairs that the cure bridges; 0 without one.
        gross: probability that a figure is a gross error.
    """

    shares: Floats
    agrees: Floats
    mends: Floats
    gross: float

    def shown_agreement(self) -> Floats:
        """Return the probability that two listed figures agree, (3, n_dims)."""
        either = BOTH_SIDES * self.gross
        return np.asarray(self.agrees * (1.0 - either) + either * self.agrees[UNRELATED])


@dataclass(frozen=True, slots=True)
class Fits:
    """For each candidate and hypothesis, (n_candidates, n_hypotheses), probabilities that the candidate runs.

    Attributes:
        as_it_comes: without any work.
        in_all: as it comes or after the cures.
    """

    as_it_comes: Floats
    in_all: Floats


def usual_agreement(catalogue: Catalogue, model: FitModel) -> Floats:
    """Return how often any two parts on file agree in each dimension that counts, (n_dims,).

    Counted over parts taken evenly from the whole catalogue, by the allowances that hold when nothing was
    measured; it is kept until the catalogue changes.

    Args:
        catalogue: the parts.
        model: the first guess and how many pairs it weighs.
    """
    return catalogue.recall(
        (usual_agreement, model.agreement_count, model.unrelated_agrees), lambda: _usual(catalogue, model)
    )


def _usual(catalogue: Catalogue, model: FitModel) -> Floats:
    rows = np.unique(np.linspace(0, len(catalogue) - 1, COUNTED_ROWS).round().astype(np.int64))
    rules, _ = rules_of(catalogue.family, {}, model)
    pairs = compare_pairs(catalogue, counting_rules(catalogue, rules), Seats(rows, len(rows)), model)
    others = 1.0 - np.eye(len(rows))
    agreeing = (pairs.agrees * others).sum(axis=(1, 2)) + model.agreement_count * model.unrelated_agrees
    return np.asarray(agreeing / ((pairs.compared * others).sum(axis=(1, 2)) + model.agreement_count))


def counting_rules(catalogue: Catalogue, rules: tuple[Rule, ...]) -> tuple[Rule, ...]:
    """Return the rules by which parts are compared: of the dimensions that count and that some part lists.

    What no part lists cannot be compared; it is part of the unlisted misfit.
    """
    on_file = catalogue.listed_keys()
    return tuple(rule for rule in rules if rule.dimension.counts_for_fit and rule.dimension.key in on_file)


def learn_kinship(pairs: Pairs, weights: Floats, usual: Floats, model: FitModel) -> Kinship:
    """Return the classes as the pairs among the likeliest parts show them.

    Args:
        pairs: whose first candidates are its first hypotheses, in the same order.
        weights: (n_hypotheses,) of the hypotheses.
        usual: (n_dims,) how often any two parts agree.
        model: first figures, and how many pairs they weigh.
    """
    n = min(len(weights), model.counted_parts)
    few = pairs.among(n)
    agrees, compared = (table.reshape(len(pairs.rules), n * n) for table in (few.agrees, few.compared))
    counts = _pair_counts(weights[:n])
    gross, either = model.gross_error_share, BOTH_SIDES * model.gross_error_share
    first = np.array(
        [model.identical_share, model.relative_share, 1.0 - model.identical_share - model.relative_share]
    )
    relative = 1.0 - min(0.5, model.relative_changes / max(1, len(usual)))
    usual = np.clip(usual, CERTAIN, relative)
    guesses = np.stack((np.full_like(usual, model.identical_agrees), np.full_like(usual, relative), usual))
    kinship = Kinship(first, guesses, _mends(few), gross)
    k = model.agreement_count
    prior_shown = kinship.shown_agreement()
    for _ in range(ROUNDS):
        shown = np.clip(kinship.shown_agreement(), CERTAIN, 1.0 - CERTAIN)
        scores = np.log(shown / (1.0 - shown)).astype(np.float32) @ agrees
        scores += np.log(1.0 - shown).astype(np.float32) @ compared
        scores += np.log(kinship.shares).astype(np.float32)[:, None]
        belongs = np.exp(scores - scores.max(axis=0))
        belongs *= counts / belongs.sum(axis=0)
        shares = (belongs.sum(axis=1, dtype=np.float64) + k * first) / (counts.sum(dtype=np.float64) + k)
        shown = (belongs @ agrees.T + k * prior_shown) / (belongs @ compared.T + k)
        learned = np.clip((shown - either * shown[UNRELATED]) / (1.0 - either), CERTAIN, 1.0 - CERTAIN)
        learned[IDENTICAL] = model.identical_agrees
        learned[RELATIVE] = np.minimum(learned[RELATIVE], model.identical_agrees)
        kinship = Kinship(shares, learned, kinship.mends, gross)
    return kinship


def _pair_counts(weights: Floats) -> Singles:
    """Return what each pair of parts counts, itself with itself nothing.

    Likely parts count more. Pairs share parts, so all together count only as many as there are parts of
    weight.
    """
    leaning = weights + weights.mean()
    counts = np.outer(leaning, leaning)
    np.fill_diagonal(counts, 0.0)
    parts = float(leaning.sum() ** 2 / (leaning**2).sum())
    return (counts * (parts / counts.sum()) if counts.any() else counts).ravel().astype(np.float32)


def _mends(pairs: Pairs) -> Floats:
    """Return the share of differing pairs that the cure bridges, (n_dims,); 0 without a cure."""
    shares = np.zeros(len(pairs.rules))
    for place, rule in enumerate(pairs.rules):
        if rule.dimension.cure:
            agreeing = float(pairs.agrees[place].sum())
            bridged = float(pairs.mends[place].sum()) - agreeing
            differing = float(pairs.compared[place].sum()) - agreeing
            shares[place] = (bridged + COUNTED_MEND / 2.0) / (differing + COUNTED_MEND)
    return shares


def fits_given(pairs: Pairs, kinship: Kinship) -> Fits:
    """Return the probabilities that candidates run, given each hypothesis.

    A few candidates are computed at a time.

    Args:
        pairs: candidates against hypotheses.
        kinship: the classes.
    """
    n_dims, n_candidates, n_hypotheses = pairs.agrees.shape
    as_it_comes, in_all = np.empty((n_candidates, n_hypotheses)), np.empty((n_candidates, n_hypotheses))
    step = max(1, CELLS_AT_ONCE // max(1, n_dims * n_hypotheses))
    for start in range(0, n_candidates, step):
        part = slice(start, start + step)
        chances = pair_chances(pairs.only(part), kinship)
        rigid = product(np.delete(chances.agreeing, chances.curable, axis=0))
        agreeing = chances.agreeing[chances.curable]
        whole = np.maximum(np.tensordot(kinship.shares, product(chances.seen), 1), LEAST_CHANCE)
        as_it_comes[part] = np.tensordot(kinship.shares, rigid * product(agreeing), 1) / whole
        in_all[part] = np.tensordot(kinship.shares, rigid * product(agreeing + chances.cured), 1) / whole
    return Fits(as_it_comes, in_all)


@dataclass(frozen=True, slots=True)
class Chances:
    """Joint probabilities of what is seen and what is so, by dimension, class, candidate and hypothesis.

    Attributes:
        seen: (n_dims, 3, n_candidates, n_h) P(figures).
        agreeing: (n_dims, 3, n_candidates, n_h) P(figures, agrees).
        curable: (n_curable,) places of the dimensions that have a cure.
        cured: (n_curable, 3, n_candidates, n_h) P(figures, differs, and the cure bridges it).
    """

    seen: Singles
    agreeing: Singles
    curable: Ints
    cured: Singles


def pair_chances(pairs: Pairs, kinship: Kinship) -> Chances:
    """Return the joint probabilities, linear in the figures' soft agreement; P(figures) is 1 in a hole."""
    n_dims, n_candidates, n_hypotheses = pairs.agrees.shape
    weights = _coefficients(pairs, kinship).astype(np.float32)
    gross = (np.float32(kinship.gross) * pairs.doubtful)[:, None, :]
    ones = np.ones_like(pairs.agrees)
    figures = np.stack(
        (ones, pairs.compared, pairs.agrees, pairs.compared * gross, pairs.agrees * gross), axis=1
    )
    joint = (weights @ figures.reshape(n_dims, 5, n_candidates * n_hypotheses)).reshape(
        n_dims, 2 * CLASSES, n_candidates, n_hypotheses
    )
    agreeing, seen = joint[:, :CLASSES], joint[:, CLASSES:]
    curable = np.flatnonzero([rule.dimension.cure is not None for rule in pairs.rules])
    mended = _mendable(pairs, curable, kinship)
    return Chances(seen, agreeing, curable, mended[:, None] * (seen[curable] - agreeing[curable]))


def _coefficients(pairs: Pairs, kinship: Kinship) -> Floats:
    """Return how P(figures, agrees) and P(figures) follow from the figures, (n_dims, 2 * 3 classes, 5).

    With p the class's agreement, u the usual one, c compared, s seen to agree and e a gross error:

        P(figures) = p (1 - c + s) + (1 - p) (1 - s) + (p (1 - u) - (1 - p) u) (c - 2 s) e
        P(figures, agrees) = p (1 - c) + p s (1 - (1 - u) e) + r P(seen to differ)

    with r the chance that a seen difference is none. Among parts of one design it would always be an
    error; but that is what the difference denies, so that r is there what it is among relatives.
    """
    p, u = kinship.agrees.T, kinship.agrees[UNRELATED][:, None]
    moves = p * (1.0 - u) - (1.0 - p) * u
    error = kinship.gross * pairs.doubtful.mean(axis=1, keepdims=True)
    excused = p * (1.0 - u) * error
    r = excused / (excused + (1.0 - p) * (1.0 - u * error))
    r[:, IDENTICAL] = r[:, RELATIVE]
    held = r * (1.0 - p)
    # Each multiplies 1, c, s, c e, s e.
    agrees = (p, held - p, p - held, r * moves, -p * (1.0 - u) - r * moves)
    seen = (np.ones_like(p), -p, 2.0 * p - 1.0, moves, -2.0 * moves)
    return np.concatenate((np.stack(agrees, axis=-1), np.stack(seen, axis=-1)), axis=1)


def product(factors: Singles) -> Floats:
    """Return the product over the first axis. In threes first: single precision holds no product of all."""
    threes, rest = divmod(len(factors), 3)
    whole = np.ones(factors.shape[1:])
    for start in range(0, 3 * threes, 3):
        whole *= factors[start] * factors[start + 1] * factors[start + 2]
    for factor in factors[len(factors) - rest :]:
        whole *= factor
    return whole


def _mendable(pairs: Pairs, curable: Ints, kinship: Kinship) -> Singles:
    """Return what share of a difference the cure bridges, (n_curable, n_candidates, n_h)."""
    agrees = pairs.agrees[curable]
    differs = pairs.compared[curable] - agrees
    usual = kinship.mends[curable].astype(np.float32)[:, None, None]
    # Where the figures agree, a true difference is not the one that they show.
    return np.where(differs > SHOWN, (pairs.mends[curable] - agrees) / np.maximum(differs, SHOWN), usual)
