"""Runs the migrations on the connection it is handed; there is no other way to run them."""

from __future__ import annotations

from alembic import context

from telemetry.logbook.schema import METADATA

context.configure(
    connection=context.config.attributes["connection"], target_metadata=METADATA, render_as_batch=True
)
with context.begin_transaction():
    context.run_migrations()
