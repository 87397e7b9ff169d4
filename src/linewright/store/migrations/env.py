"""Run by Alembic with the connection the library has already opened."""

from alembic import context

from linewright.store.schema import METADATA

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=METADATA, render_as_batch=True)
with context.begin_transaction():
    context.run_migrations()
