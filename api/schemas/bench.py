"""Machines, jobs, outcomes and assumptions."""

from datetime import date
from typing import Annotated, Any, Self

from pydantic import Field, field_validator, model_validator

from api.schemas.common import Stored
from api.schemas.fields import (
    Currency,
    Day,
    Input,
    MoneyField,
    Name,
    Need,
    NonNegativeNumber,
    Note,
    Number,
    Output,
    PositiveNumber,
    Quantity,
    RecordId,
    faults_of,
)
from api.schemas.parts import FamilyKey, Measured, check_family
from fitworth.errors import Fault, InvalidValueError
from fitworth.vocabulary import Instrument, Origin, OutcomeKind


class MachineIn(Input):
    """A machine, what it is worth, and how it is used."""

    name: Name
    engine: Annotated[str, Field(max_length=300)] = ""
    worth_running: MoneyField
    worth_as_is: MoneyField
    hours_per_season: PositiveNumber = 25.0
    seasons: PositiveNumber = Field(default=5.0, description="how many seasons it shall still be used")
    history_known: bool = False
    hour_value: MoneyField | None = Field(
        default=None, description="what an hour of your work is worth; null: nothing"
    )

    @model_validator(mode="after")
    def _worths(self) -> Self:
        faults = []
        currency = self.worth_running.currency
        for name, money in (("worth_as_is", self.worth_as_is), ("hour_value", self.hour_value)):
            if money is not None and money.currency != currency:
                faults.append(Fault(f"/{name}/currency", f"This must be in {currency}, as worth_running is."))
        if not faults and self.worth_as_is.amount > self.worth_running.amount:
            faults.append(
                Fault("/worth_as_is", "A machine is not worth more dead than running; mend one of the two.")
            )
        if faults:
            raise faults_of(InvalidValueError(faults))
        return self


class Machine(Stored):
    """A machine as stored."""

    name: str
    engine: str
    worth_running: dict[str, str]
    worth_as_is: dict[str, str]
    hours_per_season: float
    seasons: float
    history_known: bool
    hour_value: dict[str, str] | None


class CheckIn(Input):
    """A check that was made, and what it showed."""

    check: Annotated[str, Field(min_length=1, max_length=200)]
    result: Annotated[str, Field(min_length=1, max_length=200)]


class RemovedPartIn(Input):
    """The old part in the hand."""

    family: FamilyKey
    instrument: Instrument | None = None
    measured: Measured = {}
    marking: Number | None = None
    known_number: Number | None = None
    engine: Annotated[str, Field(max_length=300)] | None = None
    condition: dict[Annotated[str, Field(max_length=60)], Annotated[str, Field(max_length=60)]] = Field(
        default={}, max_length=30, examples=[{"needle_and_seat": "corroded"}]
    )

    @field_validator("family")
    @classmethod
    def _family(cls, key: str) -> str:
        return check_family(key)


class NeedLineIn(Input):
    """A need and how many of it."""

    need: Need
    quantity: Quantity = 1


class JobContent(Input):
    """What a comparison works on besides the machine."""

    removed_part: RemovedPartIn | None = None
    symptom: Annotated[str, Field(max_length=200)] = ""
    checks: list[CheckIn] = Field(default=[], max_length=100)
    needs: list[NeedLineIn] | None = Field(
        default=None, max_length=50, description="null: what the family usually needs"
    )
    on_hand: list[NeedLineIn] = Field(default=[], max_length=50)
    labour_minutes: NonNegativeNumber | None = Field(
        default=None, description="null: the family's assumption"
    )
    waiting_cost_per_day: MoneyField | None = None
    days_lost_per_failure: NonNegativeNumber = 0.0
    other_spending: MoneyField | None = None
    destination_id: RecordId | None = None
    currency: Currency
    assumptions: dict[Annotated[str, Field(max_length=120)], float] = Field(default={}, max_length=500)

    @model_validator(mode="after")
    def _currencies(self) -> Self:
        faults = [
            Fault(f"/{name}/currency", f"This must be in {self.currency}, the job's currency.")
            for name, money in (
                ("waiting_cost_per_day", self.waiting_cost_per_day),
                ("other_spending", self.other_spending),
            )
            if money is not None and money.currency != self.currency
        ]
        if faults:
            raise faults_of(InvalidValueError(faults))
        return self


class JobIn(JobContent):
    """A repair: the machine, the removed part, what it needs, and what time is worth."""

    machine_id: RecordId


class Job(Stored):
    """A job as stored."""

    machine_id: str
    symptom: str
    checks: list[dict[str, Any]]
    removed_part: dict[str, Any] | None
    needs: list[dict[str, Any]] | None
    on_hand: list[dict[str, Any]]
    labour_minutes: float | None
    waiting_cost_per_day: dict[str, str] | None
    days_lost_per_failure: float
    other_spending: dict[str, str] | None
    destination_id: str | None
    currency: str
    assumptions: dict[str, float]


class OutcomeIn(Input):
    """What happened to an option once it was chosen."""

    job_id: RecordId | None = None
    part_id: RecordId | None = None
    quote_id: RecordId | None = None
    what: OutcomeKind
    changes_needed: list[Need] = Field(default=[], max_length=50)
    hours: NonNegativeNumber | None = None
    days: NonNegativeNumber | None = None
    note: Note = ""
    on: Day

    @model_validator(mode="after")
    def _about_something(self) -> Self:
        if self.job_id is None and self.part_id is None:
            raise faults_of(
                InvalidValueError([Fault("/job_id", "Say what this is about: a job_id or a part_id.")])
            )
        return self


class Outcome(Stored):
    """An outcome as stored."""

    job_id: str | None
    part_id: str | None
    quote_id: str | None
    what: OutcomeKind
    changes_needed: list[str]
    hours: float | None
    days: float | None
    note: str
    on: date


class AssumptionsIn(Input):
    """Your own values of assumptions; names left out go back to their defaults."""

    values: dict[Annotated[str, Field(max_length=120)], float] = Field(
        max_length=1000, examples=[{"dead_on_arrival.carburetor.aftermarket_unbranded": 0.12}]
    )


class Assumption(Output):
    """An assumption with its meaning and where its value comes from."""

    name: str
    value: float
    default: float
    unit: str
    meaning: str
    origin: Origin


class Assumptions(Output):
    """All assumptions."""

    items: list[Assumption]
    next_cursor: str | None = None
