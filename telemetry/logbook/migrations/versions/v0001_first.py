"""The first tables: sheets, logs, files, flights."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    op.create_table(
        "sheets",
        sa.Column("sha256", sa.String(64), primary_key=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("text", sa.Text, nullable=False),
    )
    op.create_table(
        "logs",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("key", sa.String(64), nullable=False, unique=True),
        sa.Column("kept_at", sa.String(32), nullable=False),
        sa.Column("sheet_sha256", sa.String(64), sa.ForeignKey("sheets.sha256")),
        sa.Column("configuration", sa.Text, nullable=False),
        sa.Column("pack", sa.Text, nullable=False),
        sa.Column("put_back_mah", sa.Float),
        sa.Column("trace_sha256", sa.String(64), nullable=False),
    )
    op.create_table(
        "files",
        sa.Column("sha256", sa.String(64), primary_key=True),
        sa.Column("log_id", sa.Integer, sa.ForeignKey("logs.id", ondelete="CASCADE"), nullable=False),
        sa.Column("place", sa.Integer, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
    )
    _flights()


def _flights() -> None:
    op.create_table(
        "flights",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("log_id", sa.Integer, sa.ForeignKey("logs.id", ondelete="CASCADE"), nullable=False),
        sa.Column("place", sa.Integer, nullable=False),
        sa.Column("date", sa.String(16), nullable=False),
        sa.Column("kind", sa.String(8), nullable=False),
        sa.Column("aircraft", sa.Text, nullable=False),
        sa.Column("configuration", sa.Text, nullable=False),
        sa.Column("pack", sa.Text, nullable=False),
        sa.Column("duration_s", sa.Float),
        sa.Column("airborne_s", sa.Float),
        sa.Column("consumed_mah", sa.Float),
        sa.Column("put_back_mah", sa.Float),
        sa.Column("temperature_c", sa.Float),
        sa.Column("headline", sa.Text, nullable=False),
        sa.Column("facts", sa.JSON, nullable=False),
        sa.UniqueConstraint("log_id", "place"),
    )
    op.create_index("ix_flights_log_id", "flights", ["log_id"])


def downgrade() -> None:
    for table in ("flights", "files", "logs", "sheets"):
        op.drop_table(table)
