"""Entries on file that are probably wrong."""

from typing import Any

from pydantic import Field

from api.schemas.fields import Output
from api.schemas.fits import FitPart
from fitworth.vocabulary import Doubt, EntrySlip


class DoubtfulDimension(Output):
    """A dimension of the entry."""

    key: str
    label: str
    listed: Any = Field(description="as it was entered")


class DoubtfulEntry(Output):
    """An entry that stands against everything else on file."""

    family: str
    part: FitPart
    doubt: Doubt = Field(description="what it stands against: its group, or a proportion of two dimensions")
    dimensions: list[DoubtfulDimension] = Field(description="one, or the two of a proportion")
    supposed: Any = Field(default=None, description="what its group says; null for a proportion")
    say_so: int = Field(description="how many other parts of the group say that")
    probability: float = Field(ge=0, le=1, description="that the entry, or one of the two, is wrong")
    slip: EntrySlip | None = Field(description="what it looks like; null where it is no usual slip")
    says: str
