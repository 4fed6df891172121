"""Creates that may be sent again: the answer is kept under the caller's key, in the same transaction."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy.orm import Session

from api.errors import InputFault, KeyReusedError
from api.services.call import Call
from db import idempotency as stored
from db import records

KEPT_FOR = timedelta(days=30)  # own choice: nobody sends a request again after a month


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer as it left."""

    status: int
    headers: dict[str, str]
    body: bytes


def once(call: Call, target: str, body_sha256: str, key: str | None, make: Callable[[], Answer]) -> Answer:
    """Return the answer that this key got before, or make it now and keep it.

    Raises:
        KeyReusedError: the key came before with another body.
    """
    if key is None:
        return make()
    records.lock_revision(call.session)
    kept = stored.find_answer(call.session, key, target)
    if kept is None:
        answer = make()
        stored.keep_answer(
            call.session,
            key=key,
            target=target,
            body_sha256=body_sha256,
            status=answer.status,
            headers=dict(answer.headers),
            body=answer.body,
            now=call.now,
        )
        return answer
    if kept.body_sha256 != body_sha256:
        raise KeyReusedError(
            "Take a new key for a new request.",
            [InputFault("This key was used for another request.", "header", "Idempotency-Key")],
        )
    return Answer(kept.status, {name: str(value) for name, value in kept.headers.items()}, kept.body)


def forget_old(session: Session, now: datetime) -> None:
    """Remove the answers that nobody will ask for again; their keys can be used anew."""
    stored.forget_answers(session, before=now - KEPT_FOR)
