"""Answers kept for requests that carry an Idempotency-Key."""

from collections.abc import Mapping
from datetime import datetime

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from db.models import StoredAnswer


def find_answer(session: Session, key: str, target: str) -> StoredAnswer | None:
    """Return the answer that a key got before at a target, "POST /v1/parts".

    Look after `lock_revision`: two requests with one key then take turns, and the second finds the
    first's answer.
    """
    query = select(StoredAnswer).where(StoredAnswer.key == key, StoredAnswer.target == target)
    return session.scalars(query).one_or_none()


def keep_answer(
    session: Session,
    *,
    key: str,
    target: str,
    body_sha256: str,
    status: int,
    headers: Mapping[str, str],
    body: bytes,
    now: datetime,
) -> StoredAnswer:
    """Return an answer stored in the transaction that made it."""
    answer = StoredAnswer(
        key=key,
        target=target,
        body_sha256=body_sha256,
        status=status,
        headers=dict(headers),
        body=body,
        at=now,
    )
    session.add(answer)
    session.flush()
    return answer


def forget_answers(session: Session, *, before: datetime) -> None:
    """Remove the answers given before a moment; their keys can be used anew."""
    session.execute(delete(StoredAnswer).where(StoredAnswer.at < before))
