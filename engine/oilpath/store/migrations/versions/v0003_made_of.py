"""What an answer was made of."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Answers that are there are worked out anew when they are next stale."""
    op.add_column("answer", sa.Column("made_of", sa.Text(), nullable=True))
