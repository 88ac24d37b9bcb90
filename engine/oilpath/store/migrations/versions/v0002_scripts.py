"""Tokens for programs."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make their table."""
    op.create_table(
        "script",
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("made_at", sa.Text(), nullable=False),
        sa.Column("ends_at", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_script")),
        sa.UniqueConstraint("name", name=op.f("uq_script_name")),
    )
