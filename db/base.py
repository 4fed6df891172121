"""The base of all tables, and what every stored record has in common."""

from datetime import date, datetime
from decimal import Decimal
from enum import Enum, StrEnum
from typing import Any, ClassVar

import sqlalchemy as sa
from sqlalchemy import BigInteger, CheckConstraint, Date, MetaData
from sqlalchemy.orm import DeclarativeBase, Mapped, declared_attr, mapped_column

from db.types import BigId, ExactDecimal, Json, UtcDateTime

NAMING_CONVENTION = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s",
    "pk": "pk_%(table_name)s",
}

NAME_LENGTH = 200
"""The longest name, maker or number; PostgreSQL refuses longer ones, SQLite does not look."""
KEY_LENGTH = 64
"""The longest key of a family, a need or a dimension."""
ENUM_LENGTH = 40  # wider than any member, so that a longer one needs a new CHECK only


def list_values(members: type[Enum]) -> list[str]:
    """List the stored texts of an enumeration; SQLAlchemy alone would store the members' names."""
    return [str(member.value) for member in members]


class Base(DeclarativeBase):
    """The registry of tables: how constraints are called and how Python types are stored."""

    metadata = MetaData(naming_convention=NAMING_CONVENTION)
    type_annotation_map: ClassVar[dict[Any, Any]] = {
        # A named CHECK, no database type: both databases then grow a member by the same migration.
        StrEnum: sa.Enum(
            Enum, native_enum=False, create_constraint=True, length=ENUM_LENGTH, values_callable=list_values
        ),
        datetime: UtcDateTime,
        date: Date,
        Decimal: ExactDecimal,
        dict[str, Any]: Json,
        list[str]: Json,
        list[dict[str, Any]]: Json,
    }


class Record(Base):
    """A stored resource: versioned for edits, deleted without being lost, aware of its last change.

    `revision` is the catalogue's revision of the record's last change, so that whoever keeps a copy in
    memory can ask for what is newer.
    """

    __abstract__ = True

    id: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=True, sort_order=-10)
    version: Mapped[int] = mapped_column(default=1, sort_order=-9)
    revision: Mapped[int] = mapped_column(BigInteger, sort_order=-8)
    created_at: Mapped[datetime] = mapped_column(sort_order=-7)
    updated_at: Mapped[datetime] = mapped_column(sort_order=-6)
    deleted_at: Mapped[datetime | None] = mapped_column(sort_order=-5)

    @declared_attr.directive
    def __mapper_args__(cls) -> dict[str, Any]:  # noqa: N805 - SQLAlchemy calls it with the class
        """Let an UPDATE name the version it was made from: an edit of a stale copy fails."""
        return {"version_id_col": cls.__table__.c.version, "version_id_generator": False}


def not_negative(*columns: str) -> list[CheckConstraint]:
    """List a CHECK for each column: its value, where there is one, is 0 or more."""
    return [CheckConstraint(f"{column} >= 0", name=f"{column}_not_negative") for column in columns]


def record_checks(table: str) -> tuple[Any, ...]:
    """Return what every record's table has: the version counts from 1, and changes are found by revision."""
    return (
        CheckConstraint("version >= 1", name="version_from_1"),
        sa.Index(f"ix_{table}_revision", "revision"),
    )


def currency_check(column: str = "currency") -> CheckConstraint:
    """Return the CHECK of an ISO 4217 letter code."""
    return CheckConstraint(f"length({column}) = 3", name=f"{column}_three_letters")
