"""The comparison of the ways out: what it takes, and what it answers."""

from datetime import date
from typing import Annotated, Any, Self

from pydantic import Field, model_validator

from api.schemas.bench import JobContent, MachineIn
from api.schemas.fields import Currency, Day, Output, RecordId, Whole, faults_of
from fitworth.errors import Fault, InvalidValueError
from fitworth.vocabulary import MachineVerdict, OptionKind, Origin


class ComparisonIn(JobContent):
    """A stored job by its id, or the content of one; and what to compare."""

    job_id: RecordId | None = None
    machine: MachineIn | None = None
    currency: Currency | None = None  # type: ignore[assignment]
    part_ids: list[RecordId] = Field(default=[], max_length=200, description="compare these parts only")
    quote_ids: list[RecordId] = Field(default=[], max_length=200, description="compare these quotes only")
    as_of: Day | None = Field(default=None, description="the day of prices and rates; null: today")
    seed: Annotated[Whole, Field(ge=0, le=2**53)] = 0

    @model_validator(mode="after")
    def _one_source(self) -> Self:
        content = self.model_fields_set & (set(JobContent.model_fields) | {"machine"})
        if self.job_id is not None:
            faults = [
                Fault(
                    f"/{name}",
                    "Leave this out: the job has it. To change it, edit the job or give no job_id.",
                )
                for name in sorted(content - {"assumptions"})
            ]
        else:
            faults = [
                Fault(f"/{name}", "This is needed where no job_id is given.")
                for name in ("machine", "currency")
                if getattr(self, name) is None
            ]
            if self.removed_part is None and not self.part_ids:
                faults.append(Fault("/removed_part", "Give the removed part, or part_ids of parts that fit."))
            if self.machine is not None and self.currency not in {None, self.machine.worth_running.currency}:
                faults.append(Fault("/currency", "This must be the currency of the machine's worth."))
        if faults:
            raise faults_of(InvalidValueError(faults))
        return self


class Line(Output):
    """One line of a cost, in the answer's currency."""

    line: str
    amount: str


class MissingNeed(Output):
    """A need that is neither in the box nor on hand, and the quote that covers it; null: an assumed price."""

    need: str
    amount: str
    quote_id: str | None


class OptionOut(Output):
    """One way to go, with every line of its cost."""

    id: str
    kind: OptionKind
    part: dict[str, Any] | None = None
    supplier: str | None = None
    fit_confidence: float | None = None
    cure_chance: float | None = None
    rank: int
    undominated: bool
    expected_cost: str
    cost_90: tuple[str, str]
    landed_cost: str
    landed_lines: list[Line]
    missing_needs: list[MissingNeed]
    reliability_penalty: str
    expected_failures: float
    lines: list[Line] = Field(description="add up to expected_cost")
    notes: list[str]


class Plan(Output):
    """The best way that is no `stop`, what follows where it fails, and whether the machine deserves it."""

    steps: list[str]
    expected_cost: str
    ceiling: str
    verdict: MachineVerdict


class AssumptionUsed(Output):
    """An assumption that the comparison stands on."""

    name: str
    value: float
    unit: str
    origin: Origin


class CautionOut(Output):
    """What can hurt, and what to do about it."""

    key: str
    where: str
    danger: str
    text: str


class Cleared(Output):
    """A check that says the part is good."""

    check: str
    result: str
    says: str


class Comparison(Output):
    """The options ranked."""

    currency: str
    as_of: date
    options: list[OptionOut]
    plan: Plan | None
    cleared: Cleared | None = None
    answer: str
    assumptions: list[AssumptionUsed]
    cautions: list[CautionOut]
    warnings: list[str]
