"""The query by measurements, and its answer."""

from typing import Annotated, Any

from pydantic import Field, field_validator

from api.schemas.fields import Input, Name, Number, Output, Whole
from api.schemas.parts import FamilyKey, Measured, check_family
from fitworth.vocabulary import Grade, Instrument, Role, Status, Verdict


class FitsIn(Input):
    """What is known of the removed part."""

    family: FamilyKey
    instrument: Annotated[
        Instrument | None, Field(description="what it was measured with, where a value does not say")
    ] = None
    measured: Measured = {}
    marking: Annotated[
        Number | None, Field(description="what is legible of its number, `?` for what is not")
    ] = None
    known_number: Annotated[Number | None, Field(description="its number, where that is certain")] = None
    engine: Annotated[Name | None, Field(description="the engine's model, type or code")] = None
    limit: Annotated[Whole, Field(ge=1, le=100)] = 10

    @field_validator("family")
    @classmethod
    def _family(cls, key: str) -> str:
        return check_family(key)


class CatalogueState(Output):
    """How much is on file."""

    parts: int
    revision: int


class FitPart(Output):
    """A candidate, in short."""

    id: str
    maker: str
    number: str | None
    grade: Grade
    title: str


class FitWork(Output):
    """What it takes where the candidate runs only after work."""

    probability: float = Field(ge=0, le=1)
    items: list[str]
    minutes: float


class FitDimension(Output):
    """One dimension of a candidate beside the removed part's; `difference` and `allowance` in its unit."""

    key: str
    role: Role
    measured: Any = None
    listed: Any = None
    supposed: Any = Field(
        default=None, description="what its design has, where it lists nothing or something else"
    )
    difference: float | None
    allowance: tuple[float | None, float | None] | None = Field(description="null as an end: no end")
    probability: float | None
    status: Status
    weight: float = Field(description="bits of log odds")
    consequence: str | None


class FitEvidence(Output):
    """What speaks for or against a candidate besides its dimensions."""

    kind: str = Field(
        description="`before_measuring` and `not_recorded` are always there: the odds before anything is"
        " known, and what is held back for all that no dimension records"
    )
    similarity: float
    weight: float = Field(
        description="bits of log odds; with those of the dimensions they add up to the fit confidence"
    )


class Fit(Output):
    """How well one part on file would do in place of the removed one."""

    part: FitPart
    fit_confidence: float = Field(ge=0, le=1)
    verdict: Verdict
    with_work: FitWork
    dimensions: list[FitDimension]
    evidence: list[FitEvidence]


class MeasureNext(Output):
    """A dimension worth measuring."""

    key: str
    gain_bits: float = Field(description="expected information about which parts fit")
    how: str
    raises_best: float = Field(description="expected rise of the confidence in the best candidate")


class Fits(Output):
    """The candidates, likeliest first."""

    catalogue: CatalogueState
    read: dict[str, Any] = Field(description="every value as it was read")
    fits: list[Fit]
    nothing_on_file_fits: float = Field(ge=0, le=1)
    measure_next: list[MeasureNext]
    enough_measured: bool = Field(description="measuring more would hardly change which part to take")
    warnings: list[str]
