"""Families as they are shown."""

from pydantic import Field

from api.schemas.fields import Output
from fitworth.vocabulary import Grade, Instrument, Kind, LifeClock, Role


class AllowanceOut(Output):
    """How far a candidate may differ: an interval of candidate minus removed, or a rule."""

    rule: str
    low: float | None = Field(default=None, description="null: no lower end")
    high: float | None = Field(default=None, description="null: no upper end")
    cycle: float | None = None
    accepts: dict[str, list[str]] | None = None
    hole: str | None = None
    stud: str | None = None


class AllowanceWhenOut(Output):
    """Another allowance where a choice was measured so."""

    dimension: str
    value: str
    allowance: AllowanceOut


class CureOut(Output):
    """The work that bridges a mismatch."""

    needs: list[str]
    minutes: float
    cost: float
    low: float | None
    high: float | None


class DimensionOut(Output):
    """One dimension of a family."""

    key: str
    label: str
    kind: Kind
    unit: str
    role: Role
    how: str
    instrument: Instrument
    allowance: AllowanceOut | None
    allowance_when: list[AllowanceWhenOut]
    choices: list[str]
    plausible: tuple[float, float] | None
    consequence: str
    workshop_note: str
    cure: CureOut | None


class LifeOut(Output):
    """How a family's parts wear out."""

    clock: LifeClock
    shape: float


class FamilyOut(Output):
    """A family and its dimensions."""

    key: str
    label: str
    view: str
    grades: list[Grade]
    life: LifeOut
    needs: list[str]
    dimensions: list[DimensionOut]


class Families(Output):
    """All families."""

    items: list[FamilyOut]
    next_cursor: str | None = None
