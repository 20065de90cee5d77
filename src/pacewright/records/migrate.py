"""Bring a database to the revision that this version of Pacewright works with.

All steps run in one transaction: killed in the middle, the database stands where it stood before.
"""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, text

from pacewright.core.errors import RecordError
from pacewright.records.engine import Database

MIGRATIONS = Path(__file__).parent / "migrations"
_LOCK = 7_236_191
"""Key of PostgreSQL's advisory lock: two desks that open at once migrate one after the other."""


def head() -> str:
    """The newest revision."""
    revision = ScriptDirectory(str(MIGRATIONS)).get_current_head()
    assert revision is not None
    return revision


def revisions() -> list[str]:
    """All revisions, oldest first."""
    script = ScriptDirectory(str(MIGRATIONS))
    return [step.revision for step in reversed(list(script.walk_revisions()))]


def current(connection: Connection) -> str | None:
    """The revision of a database; None when it is empty."""
    return MigrationContext.configure(connection).get_current_revision()


def upgrade(database: Database, to: str = "head") -> None:
    """Bring the database to revision ``to``. Raises RecordError for one that a newer version has made."""
    with database.read() as session:
        at = current(session.connection())
    if at is not None and at not in revisions():
        raise RecordError(
            f"This database was made by a newer version of Pacewright (revision {at}); "
            "bring Pacewright up to date."
        )
    if at == (head() if to == "head" else to):
        return
    with database.write() as session:
        upgrade_connection(session.connection(), to)


def upgrade_connection(connection: Connection, to: str = "head") -> None:
    """As `upgrade`, within a transaction that is open already."""
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _LOCK})
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    config.attributes["connection"] = connection
    command.upgrade(config, to)
