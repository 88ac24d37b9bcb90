"""What Alembic runs to migrate: on the connection that `migrate.bring_up` has opened, in its transaction."""

from alembic import context

from oilpath.store.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,  # SQLite changes a table by making it anew
    transactional_ddl=False,  # the transaction is the caller's
)
context.run_migrations()
