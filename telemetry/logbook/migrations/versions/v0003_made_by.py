"""Each flight keeps the merged sheet it was judged with and what made its facts; null where not noted."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    op.create_table(
        "setups",
        sa.Column("sha256", sa.String(64), primary_key=True),
        sa.Column("text", sa.Text, nullable=False),
    )
    with op.batch_alter_table("flights") as flights:
        flights.add_column(sa.Column("setup_sha256", sa.String(64), nullable=True))
        flights.add_column(sa.Column("made_by", sa.JSON, nullable=True))
        flights.create_foreign_key("fk_flights_setups", "setups", ["setup_sha256"], ["sha256"])


def downgrade() -> None:
    with op.batch_alter_table("flights") as flights:
        flights.drop_constraint("fk_flights_setups", type_="foreignkey")
        flights.drop_column("made_by")
        flights.drop_column("setup_sha256")
    op.drop_table("setups")
