"""Run migrations on the connection that `schema` opened; one transaction for all of them."""

from alembic import context

from gradebook.records.tables import Table

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Table.metadata,
    render_as_batch=True,
    compare_type=True,
)
context.run_migrations()
