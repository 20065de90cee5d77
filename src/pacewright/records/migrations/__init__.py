"""Alembic's migrations; run through `records.migrate`, never by hand."""
