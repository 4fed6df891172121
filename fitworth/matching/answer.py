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
        weight: what it adds to the odds that the removed part is of this candidate's design [bit].
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

    Attributes:
        kind: "marking", "known_number", "engine" or what the caller named it.
        similarity: 0..1.
        weight: what it adds to the odds that the removed part is of this candidate's design [bit].
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
        warnings: sentences on what was assumed and on entries that look like slips.
    """

    fits: tuple[CandidateFit, ...]
    nothing_on_file_fits: float
    hypotheses: Ints
    weights: Floats
    fits_given: Floats
    measure_next: tuple[MeasureNext, ...]
    warnings: tuple[str, ...]
