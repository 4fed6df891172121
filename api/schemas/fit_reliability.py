"""How far the fit confidence can be relied on."""

from pydantic import Field

from api.schemas.fields import Output
from fitworth.vocabulary import Grade

Share = Field(ge=0, le=1)


class Believed(Output):
    """A figure before any outcome."""

    value: float
    standard_uncertainty: float


class Figure(Output):
    """A figure that outcomes taught."""

    value: float
    standard_uncertainty: float
    prior: Believed


class LearnedMisfit(Output):
    """The share of parts that agree in every dimension and still do not do the job."""

    prior: float = Share
    value: float = Share


class Recalibration(Output):
    """What is done to every fit confidence: logit of it = shift + slope * logit of what the match says."""

    outcomes: int = Field(description="of the family, that taught it")
    borrowed: int = Field(description="of the other families, that stand behind its prior")
    shift: Figure
    slope: Figure
    unlisted_misfit: LearnedMisfit


class StatementTruth(Output):
    """How far one kind of statement proved true."""

    kind: str = Field(description="number, interchange or engine")
    parameter: str = Field(description="what of the match it sets")
    prior: float = Share
    value: float = Share
    interval_90: tuple[float, float]
    spoke_for: int = Field(description="outcomes of parts that such a statement spoke for")
    fitted: int = Field(description="of them, how many fitted")
    fitted_90: tuple[float, float] = Field(description="the middle 90 % of what that share may be")


class ConfidenceBin(Output):
    """The parts whose confidence lay in one range, before anything was learned."""

    from_: float = Field(alias="from")
    to: float
    count: int
    said: float = Field(ge=0, le=1, description="mean confidence")
    happened: float = Field(ge=0, le=1, description="share that fitted")
    happened_90: tuple[float, float] = Field(description="the middle 90 % of what the true share may be")


class Scores(Output):
    """How far confidences were from what happened; of both, less is better."""

    brier: float
    log_loss: float


class BeforeAndAfter(Output):
    """Scores before the recalibration and after it, each outcome judged by what the others taught."""

    before: Scores
    after: Scores


class FitReliability(Output):
    """What was said of parts that were tried, what happened, and what that has taught."""

    family: str | None = None
    grade: Grade | None = None
    outcomes: int
    fitted: int
    recalibration: Recalibration
    statements: list[StatementTruth]
    bins: list[ConfidenceBin]
    scores: BeforeAndAfter | None = Field(default=None, description="absent where there are no outcomes")
