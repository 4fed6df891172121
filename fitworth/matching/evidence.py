"""What speaks for a design besides its dimensions: numbers and stated engines, as likelihood ratios.

Each ratio says how much likelier the evidence is if the removed part is of that part's design than for any
part on file taken blindly; they multiply with the measurements' ratios.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from rapidfuzz import fuzz, process

from fitworth.matching.answer import Floats
from fitworth.matching.catalogue import Catalogue, Singles
from fitworth.matching.numbers import NumberMatch, normalise
from fitworth.matching.parameters import FitModel

ENGINE = "engine"


@dataclass(frozen=True, slots=True)
class NumberEvidence:
    """Parts whose number is like one that is known of the removed part.

    Attributes:
        kind: "marking", "known_number", or "interchange" for parts that a statement links to its number.
        matches: by part id, the stored number and its similarity, or the strength of the statement.
    """

    kind: str
    matches: Mapping[int, NumberMatch]


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

    A part's number is as likely to have been read so as exp(-steepness (1 - similarity)); against it stand
    all stored numbers that look as much alike, and those on no file. A design goes under several numbers, so
    that only a share of removed parts bears the number on file.

    Args:
        catalogue: the parts.
        evidence: the numbers found; matches of parts that are not on file are passed over.
        model: steepness and shares.
    """
    count = len(catalogue)
    ids = np.fromiter(evidence.matches, np.int64, len(evidence.matches))
    rows = catalogue.rows_of(ids.tolist())
    found = np.fromiter((match.similarity for match in evidence.matches.values()), np.float64, len(ids))
    rows, found = rows[rows >= 0], found[rows >= 0]
    alike = np.exp(model.number_steepness * (found - 1.0))
    ratio = np.full(count, 1.0 - model.number_carried, np.float32)
    ratio[rows] += model.number_carried * count * alike / (alike.sum() + model.unfiled_lookalikes)
    similar = np.zeros(count, np.float32)
    similar[rows] = found
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


def bits(ratio: float) -> float:
    """Return a likelihood ratio in bits of log odds, after Fellegi and Sunter's log2(m / u).

    Examples:
        >>> round(bits(0.97 / 0.007), 4)
        7.1145
    """
    return math.log2(ratio)
