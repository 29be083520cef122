"""Each file keeps what its owner said of its columns."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    with op.batch_alter_table("files") as files:
        files.add_column(sa.Column("answers", sa.JSON, nullable=False, server_default="{}"))


def downgrade() -> None:
    with op.batch_alter_table("files") as files:
        files.drop_column("answers")
