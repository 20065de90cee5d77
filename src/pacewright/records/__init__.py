"""The coach's records: the database, its migrations, and the recordings kept by their hash."""
