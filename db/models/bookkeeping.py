"""The catalogue's revision, the audit trail, and answers kept for repeated requests."""

from datetime import datetime
from typing import Any

from sqlalchemy import BigInteger, CheckConstraint, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from db.base import NAME_LENGTH, Base
from db.types import BigId
from fitworth.vocabulary import Action


class CatalogueRevision(Base):
    """One row that every change counts up; updating it first also makes writers take turns."""

    __tablename__ = "catalogue_revision"
    __table_args__ = (CheckConstraint("id = 1", name="one_row"),)

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    revision: Mapped[int] = mapped_column(BigInteger)


class Change(Base):
    """One line of the audit trail. Triggers of the database refuse to alter or remove it."""

    __tablename__ = "change"
    __table_args__ = (Index(None, "resource", "resource_id", "id"), Index(None, "revision"))

    id: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=True)
    at: Mapped[datetime]
    actor: Mapped[str] = mapped_column(String(NAME_LENGTH))
    resource: Mapped[str] = mapped_column(String(40))
    resource_id: Mapped[int] = mapped_column(BigInteger)
    version: Mapped[int]
    action: Mapped[Action]
    before: Mapped[dict[str, Any] | None]
    after: Mapped[dict[str, Any] | None]
    revision: Mapped[int] = mapped_column(BigInteger)


class StoredAnswer(Base):
    """The answer that a request with an Idempotency-Key got, to be given again to the same request."""

    __tablename__ = "idempotency"
    __table_args__ = (
        Index("uq_idempotency_key_target", "key", "target", unique=True),
        Index(None, "at"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=True)
    key: Mapped[str] = mapped_column(String(255))
    target: Mapped[str] = mapped_column(String(2000))  # method and path
    body_sha256: Mapped[str] = mapped_column(String(64))
    status: Mapped[int]
    headers: Mapped[dict[str, Any]] = mapped_column(default=dict)
    body: Mapped[bytes]
    at: Mapped[datetime]
