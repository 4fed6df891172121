"""What speaks for a design besides its dimensions: numbers and stated engines, as likelihood ratios.

Each ratio says how much likelier the evidence is if the removed part is of that part's design than for any
part on file taken blindly; they multiply with the measurements' ratios.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from rapidfuzz import fuzz, process

from fitworth.matching.answer import Floats
from fitworth.matching.catalogue import Catalogue, Singles
from fitworth.matching.numbers import NumberMatch, normalise
from fitworth.matching.parameters import FitModel

ENGINE = "engine"
INTERCHANGE = "interchange"
LEAST_STRENGTH = 1e-12  # a statement of no strength counts as of this one, since a logarithm of 0 is none
SUREST = 1.0 - 1e-4  # no statement counts as surer, so that its odds stay finite


@dataclass(frozen=True, slots=True)
class NumberEvidence:
    """Parts whose number is like one that is known of the removed part.

    Attributes:
        kind: "marking", "known_number", or "interchange" for parts that statements link to its number.
        matches: by part id, the stored number and its similarity; of "interchange" those that bear the known
            number itself.
        strengths: of "interchange", by part id, the probability that the statements are right by which a
            number of it may stand in for the known one.
    """

    kind: str
    matches: Mapping[int, NumberMatch]
    strengths: Mapping[int, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class EvidenceRatio:
    """One piece of evidence over all parts on file.

    Attributes:
        kind: see NumberEvidence, or "engine".
        similarity: (n_parts,) 0..1.
        ratio: (n_parts,) likelihood ratio.
        silent: (n_parts,) whether the part says nothing about it.
    """

    kind: str
    similarity: Singles
    ratio: Singles
    silent: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]


def number_ratio(catalogue: Catalogue, evidence: NumberEvidence, model: FitModel) -> EvidenceRatio:
    """Return what a number read on the removed part says of all parts.

    With L(i) = P(read | part i's number) / P(read | a number on no file), the share c of removed parts that
    bear the number on file, and the share m of the others that bear another part's,

        ratio(i) = (1 - c) + c * L(i) / (m * mean of all L + 1 - m).

    So a number read in full speaks the louder the longer the file is, like ones share what it says, and no
    marking is believed further than numbers are trustworthy at all.

    Args:
        catalogue: the parts.
        evidence: the numbers found; matches of parts that are not on file are passed over.
        model: the shares.
    """
    if evidence.kind == INTERCHANGE:
        return interchange_ratio(catalogue, evidence, model)
    count = len(catalogue)
    matches = list(evidence.matches.values())
    rows = catalogue.rows_of(evidence.matches)
    found = np.array([match.similarity for match in matches], np.float64)
    logs = np.array([_log_ratio(match, model) for match in matches], np.float64)
    on_file = rows >= 0
    rows, found, logs = rows[on_file], found[on_file], logs[on_file]
    most = max(0.0, float(logs.max(initial=0.0)))  # taken out of the exponents, so that none overflows
    alike, unfiled = np.exp(logs - most), math.exp(-most)
    misled = model.number_misleads
    others = misled * float(alike.sum()) / count + (1.0 - misled) * unfiled
    ratio = np.full(count, 1.0 - model.number_carried, np.float32)
    ratio[rows] += model.number_carried * alike / others
    similar = np.zeros(count, np.float32)
    similar[rows] = found
    return EvidenceRatio(evidence.kind, similar, ratio, similar == 0.0)


def _log_ratio(match: NumberMatch, model: FitModel) -> float:
    """Return the logarithm of a match's likelihood ratio; of one without, the strength that it was given."""
    if match.log_ratio is not None:
        return match.log_ratio
    return model.number_stated + math.log(max(match.similarity, LEAST_STRENGTH))


def interchange_ratio(catalogue: Catalogue, evidence: NumberEvidence, model: FitModel) -> EvidenceRatio:
    """Return what statements about the removed part's number say of all parts.

    A statement of strength s is right with probability t = s * truth, with the share of statements that prove
    true; a wrong one says nothing. If it is right, the linked part is of the removed part's design, or as
    good as it. So, where parts on file bear the known number itself, the linked part is then as likely as one
    of them, and with r what their number says for them, relative to the others,

        ratio = (1 - t) + t * r.

    Where none does, the statements alone tie the removed part to the file: with probability T, that of the
    surest, it is of a linked design. By Bayes' rule, over the prior (1 - not on file) / count of each part,

        ratio = 1 + T / (1 - T) * (t / sum of all t) * count / (1 - not on file).

    Only the surest counts for T, because statements that lead on from one number mostly hang together.

    Args:
        catalogue: the parts.
        evidence: the strengths, and the bearers; parts that are not on file are passed over.
        model: the truth of statements and the prior.
    """
    count = len(catalogue)
    ids = np.fromiter(evidence.strengths, np.int64, len(evidence.strengths))
    strengths = np.fromiter(evidence.strengths.values(), np.float64, len(ids))
    rows = catalogue.rows_of(ids.tolist())
    linked = (rows >= 0) & (strengths > 0.0)
    rows, strengths = rows[linked], strengths[linked]
    similar, ratio = np.zeros(count, np.float32), np.ones(count, np.float32)
    if len(rows):
        similar[rows] = strengths
        right = np.minimum(strengths * model.interchange_truth, SUREST)
        bearers = catalogue.rows_of(evidence.matches)
        bearers = bearers[bearers >= 0]
        if len(bearers):
            borne = number_ratio(catalogue, NumberEvidence("known_number", evidence.matches), model).ratio
            as_good = np.maximum(borne[bearers].max() / borne[rows], 1.0)
            ratio[rows] = 1.0 + right * (as_good - 1.0)
        else:
            surest = float(right.max())
            odds = surest / (1.0 - surest)
            ratio[rows] += odds * right / right.sum() * count / (1.0 - model.not_on_file)
    return EvidenceRatio(evidence.kind, similar, ratio, similar == 0.0)


def engine_ratio(catalogue: Catalogue, engine: str, model: FitModel) -> EvidenceRatio:
    """Return what the removed part's engine says of all parts, by the engines that their listings name.

    After Fellegi and Sunter: a right listing names the engine with the assumed reliability, any listing with
    the catalogue's own share; partly alike designations lie between in proportion. Parts without a list say
    nothing.

    Args:
        catalogue: the parts.
        engine: model, type or code as it stands on the engine.
        model: reliability and the similarities that count.
    """
    by_list = _likeness(engine, catalogue.stated_lists)
    silent_list = np.array([not names for names in catalogue.stated_lists])
    similar, silent = by_list[catalogue.stated], silent_list[catalogue.stated]
    span = model.engine_same_from - model.engine_alike_from
    same = np.clip((similar - model.engine_alike_from) / span, 0.0, 1.0)
    told = same[~silent]
    usual = (float(told.sum()) + 0.5) / (
        len(told) + 1.0
    )  # half a count either way keeps the share off 0 and 1
    named, unnamed = model.engine_stated / usual, (1.0 - model.engine_stated) / (1.0 - usual)
    # An engine that most listings name is never evidence against a part that names it.
    ratio = np.where(silent, 1.0, same * max(named, 1.0) + (1.0 - same) * min(unnamed, 1.0))
    return EvidenceRatio(ENGINE, similar.astype(np.float32), ratio.astype(np.float32), silent)


def _likeness(engine: str, lists: Sequence[Sequence[str]]) -> Floats:
    """Return for each list its best designation's likeness, 0..1."""
    names = sorted({name for names in lists for name in names})
    if not names:
        return np.zeros(len(lists))
    asked = [_designation(engine)]
    scores = (
        process.cdist(asked, [_designation(name) for name in names], scorer=fuzz.token_set_ratio)[0] / 100.0
    )
    by_name = dict(zip(names, scores.tolist(), strict=True))
    return np.array([max((by_name[name] for name in names_), default=0.0) for names_ in lists])


def _designation(text: str) -> str:
    """Return a designation's words, each as numbers are compared."""
    return " ".join(filter(None, map(normalise, text.split())))
