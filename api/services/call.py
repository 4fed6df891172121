"""What a service function works with: the session of the request, the time, who calls, what is known."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

from sqlalchemy.orm import Session

from api.services.knowledge import Knowledge

if TYPE_CHECKING:  # the service of the catalogues works with calls itself
    from api.services.fits import FitService


@dataclass(frozen=True, slots=True)
class Call:
    """One request's surroundings. The session commits once the request has succeeded, not before.

    Attributes:
        session: of the request.
        now: when it began.
        actor: who calls.
        knowledge: what is known without the database.
        fits: the catalogues that all requests share; None where there is none but this call.
    """

    session: Session
    now: datetime
    actor: str
    knowledge: Knowledge
    fits: "FitService | None" = None

    @property
    def today(self) -> date:
        """Return the date of the request."""
        return self.now.date()
