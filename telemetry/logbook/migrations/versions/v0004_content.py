"""Each flight keeps what its content is known by, null where not noted; each log what was said later."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    op.add_column("logs", sa.Column("another", sa.Boolean, nullable=False, server_default="0"))
    op.add_column("logs", sa.Column("edits", sa.JSON, nullable=False, server_default="{}"))
    op.add_column("flights", sa.Column("fingerprint", sa.LargeBinary, nullable=True))


def downgrade() -> None:
    # in place: a table made anew would take the rows that hang on it along
    for table, column in (("flights", "fingerprint"), ("logs", "edits"), ("logs", "another")):
        op.drop_column(table, column)
