"""Every stored record, the audit trail, and the books beside them.

Revision ID: 5b1e07c4d2a9
Revises:
Create Date: 2026-11-25 14:40:41.895964
"""

import sqlalchemy as sa
from alembic import op

revision = "5b1e07c4d2a9"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:  # noqa: PLR0915 - a table a statement
    """Make the tables, the catalogue's one revision row, and the guard of the audit trail."""
    op.create_table(
        "assumption",
        sa.Column(
            "id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), autoincrement=True, nullable=False
        ),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("revision", sa.BigInteger(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("updated_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("deleted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("value", sa.Float(), nullable=False),
        sa.CheckConstraint("version >= 1", name=op.f("ck_assumption_version_from_1")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_assumption")),
    )
    op.create_index("ix_assumption_revision", "assumption", ["revision"])
    op.create_index("uq_assumption_name", "assumption", ["name"], unique=True)

    revision_table = op.create_table(
        "catalogue_revision",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("revision", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_catalogue_revision_one_row")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_catalogue_revision")),
    )
    op.create_table(
        "change",
        sa.Column(
            "id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), autoincrement=True, nullable=False
        ),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("actor", sa.String(length=200), nullable=False),
        sa.Column("resource", sa.String(length=40), nullable=False),
        sa.Column("resource_id", sa.BigInteger(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column(
            "action",
            sa.Enum(
                "create",
                "update",
                "delete",
                "restore",
                name="action",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("before", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("after", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("revision", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_change")),
    )
    op.create_index(op.f("ix_change_resource_resource_id_id"), "change", ["resource", "resource_id", "id"])
    op.create_index(op.f("ix_change_revision"), "change", ["revision"])

    op.create_table(
        "destination",
        sa.Column(
            "id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), autoincrement=True, nullable=False
        ),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("revision", sa.BigInteger(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("updated_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("deleted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("country", sa.String(length=2), nullable=False),
        sa.Column("currency", sa.String(length=3), nullable=False),
        sa.Column("sales_tax", sa.String(length=64), nullable=False),
        sa.Column("import_rules", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("exchange_margin", sa.String(length=64), nullable=False),
        sa.CheckConstraint("length(currency) = 3", name=op.f("ck_destination_currency_three_letters")),
        sa.CheckConstraint("version >= 1", name=op.f("ck_destination_version_from_1")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_destination")),
    )
    op.create_index("ix_destination_revision", "destination", ["revision"])

    op.create_table(
        "exchange_rate",
        sa.Column(
            "id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), autoincrement=True, nullable=False
        ),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("revision", sa.BigInteger(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("updated_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("deleted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("base", sa.String(length=3), nullable=False),
        sa.Column("quote", sa.String(length=3), nullable=False),
        sa.Column("rate", sa.String(length=64), nullable=False),
        sa.Column("on", sa.Date(), nullable=False),
        sa.CheckConstraint("base <> quote", name=op.f("ck_exchange_rate_two_currencies")),
        sa.CheckConstraint("length(base) = 3", name=op.f("ck_exchange_rate_base_three_letters")),
        sa.CheckConstraint("length(quote) = 3", name=op.f("ck_exchange_rate_quote_three_letters")),
        sa.CheckConstraint("version >= 1", name=op.f("ck_exchange_rate_version_from_1")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_exchange_rate")),
    )
    op.create_index("ix_exchange_rate_revision", "exchange_rate", ["revision"])
    op.create_index(
        "uq_exchange_rate_base_quote_on",
        "exchange_rate",
        ["base", "quote", "on"],
        unique=True,
        sqlite_where=sa.text("deleted_at IS NULL"),
        postgresql_where=sa.text("deleted_at IS NULL"),
    )

    op.create_table(
        "idempotency",
        sa.Column(
            "id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), autoincrement=True, nullable=False
        ),
        sa.Column("key", sa.String(length=255), nullable=False),
        sa.Column("target", sa.String(length=2000), nullable=False),
        sa.Column("body_sha256", sa.String(length=64), nullable=False),
        sa.Column("status", sa.Integer(), nullable=False),
        sa.Column("headers", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_idempotency")),
    )
    op.create_index(op.f("ix_idempotency_at"), "idempotency", ["at"])
    op.create_index("uq_idempotency_key_target", "idempotency", ["key", "target"], unique=True)

    op.create_table(
        "interchange",
        sa.Column(
            "id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), autoincrement=True, nullable=False
        ),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("revision", sa.BigInteger(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("updated_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("deleted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("from_number", sa.String(length=200), nullable=False),
        sa.Column("from_key", sa.String(length=200), nullable=False),
        sa.Column("to_number", sa.String(length=200), nullable=False),
        sa.Column("to_key", sa.String(length=200), nullable=False),
        sa.Column(
            "relation",
            sa.Enum(
                "supersedes",
                "same_as",
                "replaces_with_changes",
                name="relation",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("confidence", sa.Float(), nullable=False),
        sa.CheckConstraint(
            "confidence >= 0 AND confidence <= 1", name=op.f("ck_interchange_confidence_is_a_probability")
        ),
        sa.CheckConstraint("version >= 1", name=op.f("ck_interchange_version_from_1")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_interchange")),
    )
    op.create_index(op.f("ix_interchange_from_key"), "interchange", ["from_key"])
    op.create_index("ix_interchange_revision", "interchange", ["revision"])
    op.create_index(op.f("ix_interchange_to_key"), "interchange", ["to_key"])

    op.create_table(
        "machine",
        sa.Column(
            "id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), autoincrement=True, nullable=False
        ),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("revision", sa.BigInteger(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("updated_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("deleted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("engine", sa.Text(), nullable=True),
        sa.Column("currency", sa.String(length=3), nullable=False),
        sa.Column("worth_running_minor", sa.BigInteger(), nullable=True),
        sa.Column("worth_as_is_minor", sa.BigInteger(), nullable=True),
        sa.Column("hours_per_season", sa.Float(), nullable=True),
        sa.Column("seasons", sa.Float(), nullable=True),
        sa.Column("history_known", sa.Boolean(), nullable=True),
        sa.Column("hour_value_minor", sa.BigInteger(), nullable=True),
        sa.CheckConstraint("hour_value_minor >= 0", name=op.f("ck_machine_hour_value_minor_not_negative")),
        sa.CheckConstraint("hours_per_season >= 0", name=op.f("ck_machine_hours_per_season_not_negative")),
        sa.CheckConstraint("length(currency) = 3", name=op.f("ck_machine_currency_three_letters")),
        sa.CheckConstraint("seasons >= 0", name=op.f("ck_machine_seasons_not_negative")),
        sa.CheckConstraint("version >= 1", name=op.f("ck_machine_version_from_1")),
        sa.CheckConstraint("worth_as_is_minor >= 0", name=op.f("ck_machine_worth_as_is_minor_not_negative")),
        sa.CheckConstraint(
            "worth_running_minor >= 0", name=op.f("ck_machine_worth_running_minor_not_negative")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_machine")),
    )
    op.create_index("ix_machine_revision", "machine", ["revision"])

    op.create_table(
        "part",
        sa.Column(
            "id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), autoincrement=True, nullable=False
        ),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("revision", sa.BigInteger(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("updated_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("deleted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("family", sa.String(length=64), nullable=False),
        sa.Column("maker", sa.String(length=200), nullable=False),
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
        sa.Column("packed", sa.LargeBinary(), nullable=False),
        sa.Column("stated_for", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("number", sa.String(length=200), nullable=True),
        sa.Column("number_key", sa.String(length=200), nullable=True),
        sa.Column("other_numbers", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("search_text", sa.Text(), nullable=False),
        sa.Column("dimensions", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("includes", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("serves", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.CheckConstraint("version >= 1", name=op.f("ck_part_version_from_1")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part")),
    )
    op.create_index(op.f("ix_part_family_maker_grade"), "part", ["family", "maker", "grade"])
    op.create_index(op.f("ix_part_family_revision"), "part", ["family", "revision"])
    op.create_index(op.f("ix_part_maker"), "part", ["maker"])
    op.create_index("ix_part_revision", "part", ["revision"])
    op.create_index(
        "uq_part_family_maker_number_key_grade",
        "part",
        ["family", "maker", "number_key", "grade"],
        unique=True,
        sqlite_where=sa.text("deleted_at IS NULL AND number_key IS NOT NULL"),
        postgresql_where=sa.text("deleted_at IS NULL AND number_key IS NOT NULL"),
    )

    op.create_table(
        "supplier",
        sa.Column(
            "id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), autoincrement=True, nullable=False
        ),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("revision", sa.BigInteger(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("updated_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("deleted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("country", sa.String(length=2), nullable=False),
        sa.Column("currency", sa.String(length=3), nullable=False),
        sa.Column("delivery", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("prices_include_tax", sa.Boolean(), nullable=False),
        sa.Column("returns", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("warranty_days", sa.Float(), nullable=True),
        sa.CheckConstraint("length(currency) = 3", name=op.f("ck_supplier_currency_three_letters")),
        sa.CheckConstraint("version >= 1", name=op.f("ck_supplier_version_from_1")),
        sa.CheckConstraint("warranty_days >= 0", name=op.f("ck_supplier_warranty_days_not_negative")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_supplier")),
    )
    op.create_index("ix_supplier_revision", "supplier", ["revision"])

    op.create_table(
        "job",
        sa.Column(
            "id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), autoincrement=True, nullable=False
        ),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("revision", sa.BigInteger(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("updated_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("deleted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("machine_id", sa.BigInteger(), nullable=True),
        sa.Column("destination_id", sa.BigInteger(), nullable=True),
        sa.Column("currency", sa.String(length=3), nullable=False),
        sa.Column("symptom", sa.Text(), nullable=False),
        sa.Column("labour_minutes", sa.Float(), nullable=True),
        sa.Column("waiting_cost_per_day_minor", sa.BigInteger(), nullable=True),
        sa.Column("days_lost_per_failure", sa.Float(), nullable=True),
        sa.Column("other_spending_minor", sa.BigInteger(), nullable=True),
        sa.Column("checks", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("removed_part", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("needs", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("on_hand", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("assumptions", sa.JSON(none_as_null=True), nullable=False),
        sa.CheckConstraint(
            "days_lost_per_failure >= 0", name=op.f("ck_job_days_lost_per_failure_not_negative")
        ),
        sa.CheckConstraint("labour_minutes >= 0", name=op.f("ck_job_labour_minutes_not_negative")),
        sa.CheckConstraint("length(currency) = 3", name=op.f("ck_job_currency_three_letters")),
        sa.CheckConstraint(
            "other_spending_minor >= 0", name=op.f("ck_job_other_spending_minor_not_negative")
        ),
        sa.CheckConstraint("version >= 1", name=op.f("ck_job_version_from_1")),
        sa.CheckConstraint(
            "waiting_cost_per_day_minor >= 0", name=op.f("ck_job_waiting_cost_per_day_minor_not_negative")
        ),
        sa.ForeignKeyConstraint(["destination_id"], ["destination.id"], name=op.f("fk_job_destination_id")),
        sa.ForeignKeyConstraint(["machine_id"], ["machine.id"], name=op.f("fk_job_machine_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job")),
    )
    op.create_index(op.f("ix_job_destination_id"), "job", ["destination_id"])
    op.create_index(op.f("ix_job_machine_id"), "job", ["machine_id"])
    op.create_index("ix_job_revision", "job", ["revision"])

    op.create_table(
        "part_include",
        sa.Column("need", sa.String(length=64), nullable=False),
        sa.Column("part_id", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_part_include_part_id")),
        sa.PrimaryKeyConstraint("need", "part_id", name=op.f("pk_part_include")),
    )
    op.create_index(op.f("ix_part_include_part_id"), "part_include", ["part_id"])

    op.create_table(
        "part_number",
        sa.Column("part_id", sa.BigInteger(), nullable=False),
        sa.Column("position", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("number", sa.String(length=200), nullable=False),
        sa.Column("number_key", sa.String(length=200), nullable=False),
        sa.CheckConstraint("position >= 0", name=op.f("ck_part_number_position_not_negative")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_part_number_part_id")),
        sa.PrimaryKeyConstraint("part_id", "position", name=op.f("pk_part_number")),
    )
    op.create_index(op.f("ix_part_number_number_key"), "part_number", ["number_key"])

    op.create_table(
        "quote",
        sa.Column(
            "id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), autoincrement=True, nullable=False
        ),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("revision", sa.BigInteger(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("updated_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("deleted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("supplier_id", sa.BigInteger(), nullable=False),
        sa.Column("part_id", sa.BigInteger(), nullable=False),
        sa.Column("price_minor", sa.BigInteger(), nullable=False),
        sa.Column("currency", sa.String(length=3), nullable=False),
        sa.Column("price_breaks", sa.JSON(none_as_null=True), nullable=False),
        sa.Column(
            "condition",
            sa.Enum(
                "new",
                "used",
                "remanufactured",
                name="condition",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("includes", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("core_charge_minor", sa.BigInteger(), nullable=True),
        sa.Column("weight_g", sa.Float(), nullable=True),
        sa.Column("valid_until", sa.Date(), nullable=True),
        sa.Column("seen_on", sa.Date(), nullable=True),
        sa.Column("stock", sa.BigInteger(), nullable=True),
        sa.Column("link", sa.Text(), nullable=True),
        sa.CheckConstraint("core_charge_minor >= 0", name=op.f("ck_quote_core_charge_minor_not_negative")),
        sa.CheckConstraint("length(currency) = 3", name=op.f("ck_quote_currency_three_letters")),
        sa.CheckConstraint("price_minor >= 0", name=op.f("ck_quote_price_minor_not_negative")),
        sa.CheckConstraint("stock >= 0", name=op.f("ck_quote_stock_not_negative")),
        sa.CheckConstraint("version >= 1", name=op.f("ck_quote_version_from_1")),
        sa.CheckConstraint("weight_g >= 0", name=op.f("ck_quote_weight_g_not_negative")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_quote_part_id")),
        sa.ForeignKeyConstraint(["supplier_id"], ["supplier.id"], name=op.f("fk_quote_supplier_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_quote")),
    )
    op.create_index(op.f("ix_quote_part_id"), "quote", ["part_id"])
    op.create_index("ix_quote_revision", "quote", ["revision"])
    op.create_index(op.f("ix_quote_supplier_id"), "quote", ["supplier_id"])

    op.create_table(
        "outcome",
        sa.Column(
            "id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), autoincrement=True, nullable=False
        ),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("revision", sa.BigInteger(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("updated_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("deleted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("job_id", sa.BigInteger(), nullable=True),
        sa.Column("part_id", sa.BigInteger(), nullable=True),
        sa.Column("quote_id", sa.BigInteger(), nullable=True),
        sa.Column(
            "what",
            sa.Enum(
                "fitted",
                "did_not_fit",
                "dead_on_arrival",
                "failed",
                "still_running",
                "returned",
                name="outcomekind",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("changes_needed", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("hours", sa.Float(), nullable=True),
        sa.Column("days", sa.Float(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("on", sa.Date(), nullable=True),
        sa.CheckConstraint("days >= 0", name=op.f("ck_outcome_days_not_negative")),
        sa.CheckConstraint("hours >= 0", name=op.f("ck_outcome_hours_not_negative")),
        sa.CheckConstraint(
            "job_id IS NOT NULL OR part_id IS NOT NULL", name=op.f("ck_outcome_of_a_job_or_a_part")
        ),
        sa.CheckConstraint("version >= 1", name=op.f("ck_outcome_version_from_1")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_outcome_job_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_outcome_part_id")),
        sa.ForeignKeyConstraint(["quote_id"], ["quote.id"], name=op.f("fk_outcome_quote_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outcome")),
    )
    op.create_index(op.f("ix_outcome_job_id"), "outcome", ["job_id"])
    op.create_index(op.f("ix_outcome_part_id"), "outcome", ["part_id"])
    op.create_index(op.f("ix_outcome_quote_id"), "outcome", ["quote_id"])
    op.create_index("ix_outcome_revision", "outcome", ["revision"])

    op.create_table(
        "quote_include",
        sa.Column("need", sa.String(length=64), nullable=False),
        sa.Column("quote_id", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["quote_id"], ["quote.id"], name=op.f("fk_quote_include_quote_id")),
        sa.PrimaryKeyConstraint("need", "quote_id", name=op.f("pk_quote_include")),
    )
    op.create_index(op.f("ix_quote_include_quote_id"), "quote_include", ["quote_id"])
    op.bulk_insert(revision_table, [{"id": 1, "revision": 0}])
    make_audit_trail_append_only()


def downgrade() -> None:
    """Remove everything; a table takes its indexes and triggers along."""
    op.drop_table("quote_include")
    op.drop_table("outcome")
    op.drop_table("quote")
    op.drop_table("part_number")
    op.drop_table("part_include")
    op.drop_table("job")
    op.drop_table("supplier")
    op.drop_table("part")
    op.drop_table("machine")
    op.drop_table("interchange")
    op.drop_table("idempotency")
    op.drop_table("exchange_rate")
    op.drop_table("destination")
    op.drop_table("change")
    op.drop_table("catalogue_revision")
    op.drop_table("assumption")
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION refuse_to_change_the_audit_trail()")


def make_audit_trail_append_only() -> None:
    """Let the database itself refuse to alter or remove a line of the audit trail.

    A later migration that copies the table `change` on SQLite has to make these triggers again.
    """
    if op.get_bind().dialect.name == "postgresql":
        op.execute(
            """
            CREATE FUNCTION refuse_to_change_the_audit_trail() RETURNS trigger LANGUAGE plpgsql AS $$
            BEGIN
                RAISE EXCEPTION 'The audit trail is append-only.'
                USING ERRCODE = 'integrity_constraint_violation';
            END $$
            """
        )
        op.execute(
            """
            CREATE TRIGGER change_is_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON change
            FOR EACH STATEMENT EXECUTE FUNCTION refuse_to_change_the_audit_trail()
            """
        )
        return
    for verb in ("UPDATE", "DELETE"):
        op.execute(
            f"""
            CREATE TRIGGER change_is_append_only_{verb.lower()} BEFORE {verb} ON change
            BEGIN SELECT RAISE(ABORT, 'The audit trail is append-only.'); END
            """
        )
