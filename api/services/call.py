"""What a service function works with: the session of the request, the time, who calls, what is known."""

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy.orm import Session

from api.services.knowledge import Knowledge


@dataclass(frozen=True, slots=True)
class Call:
    """One request's surroundings. The session commits once the request has succeeded, not before."""

    session: Session
    now: datetime
    actor: str
    knowledge: Knowledge

    @property
    def today(self) -> date:
        """Return the date of the request."""
        return self.now.date()
