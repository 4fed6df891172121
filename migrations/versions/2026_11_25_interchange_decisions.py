"""What became of proposed interchanges.

Revision ID: 1bf927d6719e
Revises: aaaaa8663ffc
Create Date: 2026-11-25 17:50:02.661580
"""

import sqlalchemy as sa
from alembic import op

revision = "1bf927d6719e"
down_revision = "aaaaa8663ffc"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table of the decisions."""
    op.create_table(
        "interchange_decision",
        sa.Column(
            "id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), autoincrement=True, nullable=False
        ),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("revision", sa.BigInteger(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("updated_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("deleted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("low_part_id", sa.BigInteger(), nullable=False),
        sa.Column("high_part_id", sa.BigInteger(), nullable=False),
        sa.Column(
            "decision",
            sa.Enum(
                "confirmed",
                "rejected",
                name="decision",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("statement_id", sa.BigInteger(), nullable=True),
        sa.CheckConstraint("low_part_id < high_part_id", name=op.f("ck_interchange_decision_lower_id_first")),
        sa.CheckConstraint("version >= 1", name=op.f("ck_interchange_decision_version_from_1")),
        sa.ForeignKeyConstraint(
            ["high_part_id"], ["part.id"], name=op.f("fk_interchange_decision_high_part_id")
        ),
        sa.ForeignKeyConstraint(
            ["low_part_id"], ["part.id"], name=op.f("fk_interchange_decision_low_part_id")
        ),
        sa.ForeignKeyConstraint(
            ["statement_id"], ["interchange.id"], name=op.f("fk_interchange_decision_statement_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_interchange_decision")),
    )
    op.create_index("ix_interchange_decision_revision", "interchange_decision", ["revision"])
    op.create_index(
        "uq_interchange_decision_low_part_id_high_part_id",
        "interchange_decision",
        ["low_part_id", "high_part_id"],
        unique=True,
        sqlite_where=sa.text("deleted_at IS NULL"),
        postgresql_where=sa.text("deleted_at IS NULL"),
    )


def downgrade() -> None:
    """Forget the decisions; the statements that came of them stay."""
    op.drop_table("interchange_decision")
