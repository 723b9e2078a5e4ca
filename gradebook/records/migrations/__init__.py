"""The schema through time, by Alembic; `schema.upgrade` is the way in."""
