"""What is asked of the match and what it answers, as values."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fitworth.quantities.quantity import Value
from fitworth.vocabulary import Role, Status, Verdict

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

NOT_ON_FILE = -1  # stands for a part's id in the hypothesis that the removed part's design is not on file


@dataclass(frozen=True, slots=True)
class FitQuery:
    """What is known of the removed part.

    Attributes:
        measured: dimensions by key, numbers in the family's units.
        maker: whose part it is, where known; some scales are comparable within one maker only.
        marking: what can be read of its number, "?" for each character that cannot.
        known_number: its number where that is certain.
        engine: the engine's model, type or code.
        limit: how many candidates are wanted at most.
    """

    measured: Mapping[str, Value]
    maker: str | None = None
    marking: str | None = None
    known_number: str | None = None
    engine: str | None = None
    limit: int = 10


@dataclass(frozen=True, slots=True)
class ComparedDimension:
    """One dimension of a candidate beside the removed part's.

    Attributes:
        key: of the dimension.
        role: what a mismatch does.
        measured: the removed part's value, or None.
        listed: the candidate's value, or None.
        supposed: what the other parts of its design say that the value is, where the candidate lists none or
            another one; or None.
        difference: candidate minus removed [unit of the dimension], where both are numbers.
        allowance: the range of differences that does no harm [unit], where it is one; ends may be infinite.
        probability: that the candidate is within the allowance here; None for notes.
        status: how the two compare.
        weight: what measuring it added to the odds that the candidate runs [bit of log odds]; 0 where it was
            not measured.
        consequence: what the mismatch does, where there is one.
    """

    key: str
    role: Role
    measured: Value | None
    listed: Value | None
    supposed: Value | None
    difference: float | None
    allowance: tuple[float, float] | None
    probability: float | None
    status: Status
    weight: float
    consequence: str | None


@dataclass(frozen=True, slots=True)
class Evidence:
    """What speaks for or against a candidate besides its dimensions.

    The weights of a candidate's dimensions and evidence add up to the log odds of its fit confidence, where a
    confidence within 1e-9 of 0 or 1 counts as that far from it; those of a vetoed candidate add up to what is
    left of it, next to nothing.

    Attributes:
        kind: one of
            "before_measuring": the odds before anything is known of the removed part; always the first.
            "marking", "known_number": a number that was read, and how like this candidate's it is.
            "interchange", or what else the caller named it: a number that may stand in for the known one.
            "engine": the engine, and how like the ones that the candidate is listed for it is.
            "not_recorded": what is held back for all that no dimension records, for scales of one maker, and,
            where a `safe` dimension differs, the veto; always there, after the others.
            "outcomes": what happened to parts tried before, where any did; see recalibrated.py.
        similarity: 0..1; 1 where nothing is compared.
        weight: what it adds to the odds that the candidate runs [bit of log odds].
    """

    kind: str
    similarity: float
    weight: float


@dataclass(frozen=True, slots=True)
class WithWork:
    """What it takes where the candidate runs only after work.

    Attributes:
        probability: that it runs, but only after work; never more than the fit confidence.
        items: the goods that the likely work needs.
        minutes: the time of it [min].
        cost: the goods of it where no quote covers them [currency of the assumptions].
    """

    probability: float
    items: tuple[str, ...] = ()
    minutes: float = 0.0
    cost: float = 0.0


@dataclass(frozen=True, slots=True)
class CandidateFit:
    """How well one part on file would do in place of the removed one.

    Attributes:
        part_id: the caller's number for it.
        fit_confidence: probability that it bolts on, seals, connects and runs, as it comes or after the work.
        verdict: what that means at the bench.
        vetoed: whether a `safe` mismatch removed it.
        with_work: what of the confidence needs work, and which.
        dimensions: each dimension compared, in the family's order.
        evidence: what else was weighed.
    """

    part_id: int
    fit_confidence: float
    verdict: Verdict
    vetoed: bool
    with_work: WithWork
    dimensions: tuple[ComparedDimension, ...]
    evidence: tuple[Evidence, ...]


@dataclass(frozen=True, slots=True)
class MeasureNext:
    """A dimension worth measuring.

    Attributes:
        key: of the dimension.
        gain_bits: expected information about which candidates fit [bit].
        how: how it is measured.
        raises_best: how much the confidence in the best candidate is expected to rise.
    """

    key: str
    gain_bits: float
    how: str
    raises_best: float


@dataclass(frozen=True, slots=True)
class FitAnswer:
    """The candidates, likeliest first, with the hypotheses behind them.

    Attributes:
        fits: the candidates; those that a `safe` mismatch removed come last.
        nothing_on_file_fits: probability.
        hypotheses: (n_h,) part ids "the removed part is of this part's design"; the first is NOT_ON_FILE.
            Where many parts are about as likely, some stand for others and carry their weight.
        weights: (n_h,) probabilities of the hypotheses; they add up to 1.
        fits_given: (n_fits, n_h) probability that a candidate runs, given each hypothesis, in the order of
            `fits`; its product with `weights` is the fit confidence.
        measure_next: the dimensions worth measuring, the most telling first.
        enough_measured: whether no further measurement is expected to raise the confidence in the best
            candidate by the model's `least_rise`, and every `safe` dimension that is listed was measured;
            then which part to take would hardly change.
        warnings: sentences on what was assumed and on entries that look like slips.
    """

    fits: tuple[CandidateFit, ...]
    nothing_on_file_fits: float
    hypotheses: Ints
    weights: Floats
    fits_given: Floats
    measure_next: tuple[MeasureNext, ...]
    enough_measured: bool
    warnings: tuple[str, ...]
