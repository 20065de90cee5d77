"""The database and the recordings on disk: schema, migrations, files by hash, backup, erasure, packages."""
