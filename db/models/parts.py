"""Parts on file, the numbers they are known by, what is in the box, and which number stands in for which."""

from typing import Any

from sqlalchemy import BigInteger, CheckConstraint, Float, ForeignKey, Index, String, Text, text
from sqlalchemy.orm import Mapped, mapped_column

from db.base import KEY_LENGTH, NAME_LENGTH, Base, Record, not_negative, record_checks
from fitworth.vocabulary import Decision, Grade, Relation


class Part(Record):
    """A spec sheet: family, maker, number, grade, dimensions, what is in the box."""

    __tablename__ = "part"
    __table_args__ = (
        *record_checks("part"),
        Index(
            "uq_part_family_maker_number_key_grade",
            "family",
            "maker",
            "number_key",
            "grade",
            unique=True,
            sqlite_where=text("deleted_at IS NULL AND number_key IS NOT NULL"),
            postgresql_where=text("deleted_at IS NULL AND number_key IS NOT NULL"),
        ),
        Index(None, "family", "revision"),
        Index(None, "family", "maker", "grade"),
        Index(None, "maker"),
    )

    family: Mapped[str] = mapped_column(String(KEY_LENGTH))
    maker: Mapped[str] = mapped_column(String(NAME_LENGTH))
    grade: Mapped[Grade]
    # The row of the search index, made from the dimensions. It and what is read with it stand before the long
    # columns: SQLite then need not read a long row to its end.
    packed: Mapped[bytes] = mapped_column(default=b"")
    stated_for: Mapped[list[str]] = mapped_column(default=list)
    number: Mapped[str | None] = mapped_column(String(NAME_LENGTH))
    number_key: Mapped[str | None] = mapped_column(String(NAME_LENGTH))
    # As written; `PartNumber` holds them as compared too.
    other_numbers: Mapped[list[str]] = mapped_column(default=list)
    title: Mapped[str] = mapped_column(Text, default="")
    # Lower-cased maker, numbers and words; what `q` looks in.
    search_text: Mapped[str] = mapped_column(Text, default="")
    # {key: {"value", "unit", "plus_minus", "as_entered"} | str | bool | list}, as the core writes them.
    dimensions: Mapped[dict[str, Any]] = mapped_column(default=dict)
    includes: Mapped[list[str]] = mapped_column(default=list)
    serves: Mapped[list[str]] = mapped_column(default=list)
    notes: Mapped[str] = mapped_column(Text, default="")


class PartNumber(Base):
    """A number that a part is known by, as written and as compared; position 0 is its own, others follow."""

    __tablename__ = "part_number"
    __table_args__ = (*not_negative("position"), Index(None, "number_key"))

    part_id: Mapped[int] = mapped_column(BigInteger, ForeignKey("part.id"), primary_key=True)
    position: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    number: Mapped[str] = mapped_column(String(NAME_LENGTH))
    number_key: Mapped[str] = mapped_column(String(NAME_LENGTH))


class PartInclude(Base):
    """A need that a part's box covers: `Part.includes` row by row, so that needs find parts by an index."""

    __tablename__ = "part_include"
    __table_args__ = (Index(None, "part_id"),)

    need: Mapped[str] = mapped_column(String(KEY_LENGTH), primary_key=True)
    part_id: Mapped[int] = mapped_column(BigInteger, ForeignKey("part.id"), primary_key=True)


class Interchange(Record):
    """A statement that one number may stand in for another."""

    __tablename__ = "interchange"
    __table_args__ = (
        *record_checks("interchange"),
        CheckConstraint("confidence >= 0 AND confidence <= 1", name="confidence_is_a_probability"),
        Index(None, "from_key"),
        Index(None, "to_key"),
    )

    from_number: Mapped[str] = mapped_column(String(NAME_LENGTH))
    from_key: Mapped[str] = mapped_column(String(NAME_LENGTH))
    to_number: Mapped[str] = mapped_column(String(NAME_LENGTH))
    to_key: Mapped[str] = mapped_column(String(NAME_LENGTH))
    relation: Mapped[Relation]
    source: Mapped[str] = mapped_column(Text, default="")
    confidence: Mapped[float] = mapped_column(Float, default=1.0)


class InterchangeDecision(Record):
    """What became of a proposed interchange of two parts; one row a pair, the lower id first.

    `statement_id` is the statement that a confirmation has written.
    """

    __tablename__ = "interchange_decision"
    __table_args__ = (
        *record_checks("interchange_decision"),
        CheckConstraint("low_part_id < high_part_id", name="lower_id_first"),
        Index(
            "uq_interchange_decision_low_part_id_high_part_id",
            "low_part_id",
            "high_part_id",
            unique=True,
            sqlite_where=text("deleted_at IS NULL"),
            postgresql_where=text("deleted_at IS NULL"),
        ),
    )

    low_part_id: Mapped[int] = mapped_column(BigInteger, ForeignKey("part.id"))
    high_part_id: Mapped[int] = mapped_column(BigInteger, ForeignKey("part.id"))
    decision: Mapped[Decision]
    note: Mapped[str] = mapped_column(Text, default="")
    statement_id: Mapped[int | None] = mapped_column(BigInteger, ForeignKey("interchange.id"))
