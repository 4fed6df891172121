"""What a fit confidence means at the bench, as one table of rules.

does_not_fit     a `safe` mismatch, or a fit confidence below 0.05
uncertain        a `safe` dimension of the family that was not measured or is not listed
uncertain        its own sheet differs from what was measured where no work helps
bolts_on         the probability as it comes is at least 0.80
fits_with_work   the fit confidence is at least 0.80
uncertain        everything else
"""

from collections.abc import Iterable
from dataclasses import dataclass

from fitworth.matching.answer import ComparedDimension
from fitworth.matching.parameters import FitModel
from fitworth.vocabulary import Role, Status, Verdict


@dataclass(frozen=True, slots=True)
class Standing:
    """What a verdict is given on.

    Attributes:
        fit_confidence: probability that the candidate runs, as it comes or after work.
        as_it_comes: probability that it runs without work.
        vetoed: whether a `safe` dimension differs.
        safe_known: whether every `safe` dimension is both measured and listed.
        sheet_agrees: whether the candidate's own sheet differs nowhere but where work helps. Its design may
            say otherwise and make the fit likely; but then somebody should look before it is bought.
    """

    fit_confidence: float
    as_it_comes: float
    vetoed: bool
    safe_known: bool
    sheet_agrees: bool = True


def does_sheet_agree(dimensions: Iterable[ComparedDimension]) -> bool:
    """Return whether no dimension differs, by the candidate's own sheet, that no work helps."""
    rigid = {Role.MOUNT, Role.SEAL, Role.RUN}
    return not any(one.role in rigid and one.status is Status.DIFFERS for one in dimensions)


def are_safe_known(dimensions: Iterable[ComparedDimension]) -> bool:
    """Return whether every `safe` dimension was measured and is listed by the candidate itself."""
    unknown = {Status.NOT_MEASURED, Status.NOT_LISTED}
    return not any(one.role is Role.SAFE and one.status in unknown for one in dimensions)


def verdict_of(standing: Standing, model: FitModel) -> Verdict:
    """Return the verdict on a candidate; the first rule of the table that holds."""
    if standing.vetoed or standing.fit_confidence < model.does_not_fit_below:
        return Verdict.DOES_NOT_FIT
    if not standing.safe_known or not standing.sheet_agrees:
        return Verdict.UNCERTAIN
    if standing.as_it_comes >= model.bolts_on_from:
        return Verdict.BOLTS_ON
    return Verdict.FITS_WITH_WORK if standing.fit_confidence >= model.fits_from else Verdict.UNCERTAIN
