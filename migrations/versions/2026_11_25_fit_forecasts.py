"""What was said of a part's fit before its outcome taught anything.

Outcomes that were entered before have no forecast: what would be said of their parts now is no forecast.

Revision ID: aaaaa8663ffc
Revises: 5b1e07c4d2a9
Create Date: 2026-11-25 17:39:44.906352
"""

import sqlalchemy as sa
from alembic import op

revision = "aaaaa8663ffc"
down_revision = "5b1e07c4d2a9"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table of the forecasts."""
    op.create_table(
        "fit_forecast",
        sa.Column("outcome_id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("job_id", sa.BigInteger(), nullable=False),
        sa.Column("part_id", sa.BigInteger(), nullable=False),
        sa.Column("family", sa.String(length=64), nullable=False),
        sa.Column(
            "grade",
            sa.Enum(
                "oem",
                "aftermarket_branded",
                "aftermarket_unbranded",
                "remanufactured",
                "used",
                "new_old_stock",
                name="grade",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("said", sa.Float(), nullable=False),
        sa.Column("leaning", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("said >= 0 AND said <= 1", name=op.f("ck_fit_forecast_said_is_a_probability")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_fit_forecast_job_id")),
        sa.ForeignKeyConstraint(["outcome_id"], ["outcome.id"], name=op.f("fk_fit_forecast_outcome_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_fit_forecast_part_id")),
        sa.PrimaryKeyConstraint("outcome_id", name=op.f("pk_fit_forecast")),
    )


def downgrade() -> None:
    """Forget the forecasts; the outcomes stay."""
    op.drop_table("fit_forecast")
