"""What Alembic runs: the connection comes from `records.migrate`."""

from __future__ import annotations

from alembic import context

from pacewright.records.schema import Row

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Row.metadata,
    compare_type=True,
    render_as_batch=context.config.attributes["connection"].dialect.name == "sqlite",
    transaction_per_migration=False,
)
with context.begin_transaction():
    context.run_migrations()
