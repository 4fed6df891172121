"""Parts, their numbers, and the statements that tie numbers together."""

from collections.abc import Mapping
from typing import Annotated, Any, Self

from pydantic import Field, PlainValidator, ValidationInfo, WithJsonSchema, field_validator, model_validator
from pydantic_core import PydanticCustomError

from api.schemas.common import Stored
from api.schemas.context import known_families
from api.schemas.fields import (
    DIMENSION_SCHEMA,
    Input,
    Name,
    Need,
    Note,
    Number,
    Output,
    RecordId,
    Share,
    faults_of,
)
from fitworth.errors import Fault, InvalidValueError
from fitworth.families.model import Family
from fitworth.matching.measurements import read_values
from fitworth.quantities.quantity import Value
from fitworth.vocabulary import Decision, Grade, Instrument, Objection, Relation


def check_family(key: str) -> str:
    """Refuse a family that is not on hand, naming those that are."""
    if key not in known_families():
        known = ", ".join(sorted(known_families()))
        raise PydanticCustomError(
            "family", "There is no such family; the families are {known}.", {"known": known}
        )
    return key


def family_of(info: ValidationInfo) -> Family | None:
    """Return the family read before this field, or None where it was wrong."""
    return known_families().get(info.data.get("family", ""))


def read_dimensions(raw: Any, info: ValidationInfo, instrument: Instrument | None) -> Mapping[str, Value]:
    """Read an object of dimension values in its family; a faulty family leaves nothing to check against."""
    if not isinstance(raw, dict):
        raise faults_of(InvalidValueError("This must be an object with dimensions and their values."))
    family = family_of(info)
    if family is None:
        return {}
    try:
        return read_values(family, raw, instrument)
    except InvalidValueError as error:
        raise faults_of(error) from error


def read_listed(raw: Any, info: ValidationInfo) -> Mapping[str, Value]:
    """Read what a sheet says of a part."""
    return read_dimensions(raw, info, Instrument.LISTING)


def read_measured(raw: Any, info: ValidationInfo) -> Mapping[str, Value]:
    """Read what was measured, with the instrument stated for all of it or each dimension's usual one."""
    return read_dimensions(raw, info, info.data.get("instrument"))


DIMENSIONS_SCHEMA = WithJsonSchema(
    {
        "type": "object",
        "additionalProperties": dict(DIMENSION_SCHEMA),
        "examples": [{"throttle_bore": "19.1 mm", "choke_type": "manual_lever"}],
    }
)
FamilyKey = Annotated[str, Field(max_length=40, examples=["carburetor"])]
Listed = Annotated[Mapping[str, Any], PlainValidator(read_listed), DIMENSIONS_SCHEMA]
Measured = Annotated[Mapping[str, Any], PlainValidator(read_measured), DIMENSIONS_SCHEMA]


class PartIn(Input):
    """A part: a spec sheet on file."""

    family: FamilyKey
    maker: Name
    number: Number | None = None
    other_numbers: list[Number] = Field(default=[], max_length=50)
    grade: Grade
    title: Annotated[str, Field(max_length=300)] = ""
    dimensions: Listed = {}
    includes: list[Need] = Field(default=[], max_length=50, description="what is in the box besides the part")
    serves: list[Number] = Field(
        default=[], max_length=500, description="numbers of the parts that a kit serves"
    )
    stated_for: list[Name] = Field(
        default=[], max_length=500, description="engines or machines a listing names"
    )
    notes: Note = ""

    @field_validator("family")
    @classmethod
    def _family(cls, key: str) -> str:
        return check_family(key)

    @field_validator("grade")
    @classmethod
    def _grade(cls, grade: Grade, info: ValidationInfo) -> Grade:
        family = family_of(info)
        if family is not None and grade not in family.grades:
            raise PydanticCustomError(
                "grade",
                "This family has no such grade; it has {grades}.",
                {"grades": ", ".join(family.grades)},
            )
        return grade


class Part(Stored):
    """A part as stored."""

    family: str
    maker: str
    number: str | None
    other_numbers: list[str]
    grade: Grade
    title: str
    dimensions: dict[str, Any]
    includes: list[str]
    serves: list[str]
    stated_for: list[str]
    notes: str


class NumberLike(Output):
    """A stored number that resembles the one asked for."""

    number: str
    similarity: float = Field(ge=0, le=1)
    family: str
    part_id: str
    maker: str
    grade: Grade


class InterchangeIn(Input):
    """A statement that one number may stand in for another."""

    from_number: Number
    to_number: Number
    relation: Relation
    source: Name = "own bench"
    confidence: Share = 0.9

    @model_validator(mode="after")
    def _two_numbers(self) -> Self:
        if self.from_number == self.to_number:
            raise faults_of(
                InvalidValueError(
                    [Fault("/to_number", "A number cannot stand in for itself; give another one.")]
                )
            )
        return self


class Interchange(Stored):
    """A statement as stored."""

    from_number: str
    to_number: str
    relation: Relation
    source: str
    confidence: float


class Step(Output):
    """One step on the way to a stand-in: what one or more statements say of two numbers."""

    statement_id: str = Field(description="the surest statement that says it")
    from_number: str
    to_number: str
    relation: Relation
    confidence: float = Field(description="that it is right, by all the sources that say it")
    backed_by: list[str] = Field(description="further statements that say the same")


class Bearing(Output):
    """A part on file that goes under a number."""

    id: str
    family: str
    maker: str
    grade: Grade


class StandIn(Output):
    """A number that may stand in for the one asked for, with its strongest path of statements."""

    number: str
    strength: float = Field(
        ge=0, le=1, description="that at least one path of statements is right throughout"
    )
    with_changes: bool = Field(description="whether every path replaces with changes somewhere")
    path: list[Step] = Field(description="the strongest path, from the number asked for")
    path_strength: float = Field(ge=0, le=1, description="that this path alone is right throughout")
    paths: int = Field(description="how many paths the strength counts")
    exact: bool = Field(description="whether the strength is exact; else it is at least that")
    parts: list[Bearing] = Field(description="the parts on file that go under this number")


class FaultPart(Bearing):
    """A part whose sheet speaks against a statement."""

    number: str | None
    title: str


class Irreconcilable(Output):
    """A dimension in which one part cannot stand in for the other; figures in its unit."""

    key: str
    stand_in_id: str
    replaced_id: str
    difference: float | None = Field(description="stand-in minus replaced")
    allowance: tuple[float | None, float | None] | None = Field(description="null as an end: no end")


class InterchangeFault(Output):
    """Statements that cannot be right as they stand, by each other or by what the sheets list."""

    kind: Objection
    says: str
    statement_ids: list[str]
    numbers: list[str]
    parts: list[FaultPart]
    dimensions: list[Irreconcilable]


class ProposedPart(Output):
    """A part of a proposal."""

    id: str
    maker: str
    number: str | None
    grade: Grade
    title: str


class Proposal(Output):
    """Two parts that look like one design and are not stated to be."""

    family: str
    parts: list[ProposedPart]
    probability: float = Field(ge=0, le=1, description="that they are one design")
    agreeing: list[str] = Field(description="dimensions that both list and that agree")
    differing: list[str]
    group: list[ProposedPart] = Field(
        description="all parts that are likeliest of this design; of a large group the first"
    )
    group_size: int = Field(description="how many they are")


class GroupMember(ProposedPart):
    """A part of an interchange group."""

    probability: float = Field(ge=0, le=1, description="that it is of the group's design")


class GroupFigure(Output):
    """One dimension of a group's design."""

    key: str
    value: Any = Field(description="what its parts have")
    probability: float = Field(ge=0, le=1, description="that this is right")
    say_so: int = Field(description="how many parts of the group list it")


class InterchangeGroup(Output):
    """Two parts or more that are likeliest of one design, with what that design is."""

    family: str
    size: int = Field(description="how many parts they are")
    parts: list[GroupMember] = Field(description="by their ids; of a very large group the first")
    dimensions: list[GroupFigure]


class InterchangeDecisionIn(Input):
    """What becomes of a proposed interchange: confirmed, which states it, or rejected."""

    part_ids: list[RecordId] = Field(min_length=2, max_length=2, description="the two parts, in any order")
    decision: Decision
    note: Note = ""

    @field_validator("part_ids")
    @classmethod
    def _two_parts(cls, part_ids: list[str]) -> list[str]:
        if len(set(part_ids)) == 1:
            raise PydanticCustomError("pair", "A part cannot stand in for itself; give another one.")
        return part_ids


class InterchangeDecision(Stored):
    """A decision as stored, the part of the lower id first."""

    part_ids: list[str]
    decision: Decision
    note: str
    statement_id: str | None = Field(default=None, description="the statement that a confirmation wrote")
