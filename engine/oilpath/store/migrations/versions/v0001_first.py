"""The first tables."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make them all."""
    op.create_table(
        "account",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("password", sa.Text(), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("made_at", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_account")),
        sa.UniqueConstraint("name", name=op.f("uq_account_name")),
    )
    op.create_table(
        "document",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("head", sa.Integer(), nullable=False),
        sa.Column("removed", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_document")),
        sa.UniqueConstraint("name", name=op.f("uq_document_name")),
    )
    op.create_table(
        "draft",
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("author", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=True),
        sa.Column("base", sa.Integer(), nullable=True),
        sa.Column("sequence", sa.Integer(), nullable=False),
        sa.Column("kept_at", sa.Text(), nullable=False),
        sa.Column("content", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_draft")),
    )
    op.create_index(op.f("ix_draft_author"), "draft", ["author"], unique=False)
    op.create_table(
        "job",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("answered_by", sa.Text(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("begun_at", sa.Text(), nullable=False),
        sa.Column("seen_at", sa.Text(), nullable=False),
        sa.Column("total", sa.Integer(), nullable=False),
        sa.Column("done", sa.Integer(), nullable=False),
        sa.Column("unusable", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job")),
    )
    op.create_table(
        "pairing",
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("ends_at", sa.Text(), nullable=False),
        sa.Column("used_at", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_pairing")),
    )
    op.create_table(
        "answer_read",
        sa.Column("document", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["document"], ["document.id"], name=op.f("fk_answer_read_document"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("document", "name", name=op.f("pk_answer_read")),
    )
    op.create_index(op.f("ix_answer_read_name"), "answer_read", ["name"], unique=False)
    op.create_table(
        "confirmed",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("document", sa.Integer(), nullable=False),
        sa.Column("cause", sa.Text(), nullable=False),
        sa.Column("part", sa.Text(), nullable=True),
        sa.Column("how", sa.Text(), nullable=True),
        sa.Column("after", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["document"], ["document.id"], name=op.f("fk_confirmed_document"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_confirmed")),
    )
    op.create_index(op.f("ix_confirmed_cause"), "confirmed", ["cause"], unique=False)
    op.create_index(op.f("ix_confirmed_document"), "confirmed", ["document"], unique=False)
    op.create_table(
        "machine",
        sa.Column("document", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("circuit", sa.Text(), nullable=True),
        sa.Column("words", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["document"], ["document.id"], name=op.f("fk_machine_document"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("document", name=op.f("pk_machine")),
    )
    op.create_table(
        "outcome",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("document", sa.Integer(), nullable=False),
        sa.Column("check", sa.Text(), nullable=False),
        sa.Column("part", sa.Text(), nullable=True),
        sa.Column("outcome", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["document"], ["document.id"], name=op.f("fk_outcome_document"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outcome")),
    )
    op.create_index(op.f("ix_outcome_document"), "outcome", ["document"], unique=False)
    op.create_table(
        "photo",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("document", sa.Integer(), nullable=False),
        sa.Column("reading", sa.Text(), nullable=False),
        sa.Column("caption", sa.Text(), nullable=False),
        sa.Column("media_type", sa.Text(), nullable=False),
        sa.Column("width", sa.Integer(), nullable=False),
        sa.Column("height", sa.Integer(), nullable=False),
        sa.Column("author", sa.Text(), nullable=False),
        sa.Column("added_at", sa.Text(), nullable=False),
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["document"], ["document.id"], name=op.f("fk_photo_document"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photo")),
        sa.UniqueConstraint("document", "reading", "digest", name=op.f("uq_photo_document_reading_digest")),
    )
    op.create_table(
        "session",
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("account", sa.Integer(), nullable=True),
        sa.Column("author", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("made_at", sa.Text(), nullable=False),
        sa.Column("ends_at", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["account"], ["account.id"], name=op.f("fk_session_account"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_session")),
    )
    op.create_index(op.f("ix_session_account"), "session", ["account"], unique=False)
    op.create_table(
        "sheet",
        sa.Column("document", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("machine", sa.Text(), nullable=True),
        sa.Column("machine_title", sa.Text(), nullable=False),
        sa.Column("unit_number", sa.Text(), nullable=True),
        sa.Column("order_number", sa.Text(), nullable=True),
        sa.Column("serial_number", sa.Text(), nullable=True),
        sa.Column("hours", sa.Float(), nullable=True),
        sa.Column("date", sa.Text(), nullable=True),
        sa.Column("complaint", sa.Text(), nullable=True),
        sa.Column("readings", sa.Integer(), nullable=False),
        sa.Column("closed", sa.Boolean(), nullable=False),
        sa.Column("saved_at", sa.Text(), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("answered_by", sa.Text(), nullable=True),
        sa.Column("stale", sa.Boolean(), nullable=False),
        sa.Column("usable", sa.Boolean(), nullable=True),
        sa.Column("leading_cause", sa.Text(), nullable=True),
        sa.Column("leading_part", sa.Text(), nullable=True),
        sa.Column("leading_title", sa.Text(), nullable=True),
        sa.Column("share", sa.Float(), nullable=True),
        sa.Column("stop_use", sa.Boolean(), nullable=True),
        sa.ForeignKeyConstraint(["document"], ["document.id"], name=op.f("fk_sheet_document"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("document", name=op.f("pk_sheet")),
    )
    op.create_index(op.f("ix_sheet_date"), "sheet", ["date"], unique=False)
    op.create_index(op.f("ix_sheet_leading_cause"), "sheet", ["leading_cause"], unique=False)
    op.create_index(op.f("ix_sheet_machine_title_unit_number"), "sheet", ["machine_title", "unit_number"], unique=False)
    op.create_index(
        op.f("ix_sheet_machine_unit_number_hours"), "sheet", ["machine", "unit_number", "hours"], unique=False
    )
    op.create_index(op.f("ix_sheet_saved_at"), "sheet", ["saved_at"], unique=False)
    op.create_index(op.f("ix_sheet_stale_answered_by"), "sheet", ["stale", "answered_by"], unique=False)
    op.create_table(
        "version",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("document", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("parent", sa.Integer(), nullable=True),
        sa.Column("author", sa.Text(), nullable=False),
        sa.Column("saved_at", sa.Text(), nullable=False),
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=True),
        sa.ForeignKeyConstraint(["document"], ["document.id"], name=op.f("fk_version_document"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_version")),
        sa.UniqueConstraint("document", "number", name=op.f("uq_version_document_number")),
    )
    op.create_table(
        "answer",
        sa.Column("document", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("answered_by", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("usable", sa.Boolean(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["document"], ["document.id"], name=op.f("fk_answer_document"), ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["version"], ["version.id"], name=op.f("fk_answer_version"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("document", name=op.f("pk_answer")),
    )
