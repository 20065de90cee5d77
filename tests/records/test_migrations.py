"""The migrations make what the models say, and bring every older database along with its data."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import inspect, text

from pacewright.core.errors import RecordError
from pacewright.records.engine import Database
from pacewright.records.migrate import current, head, revisions, upgrade
from pacewright.records.schema import DELETABLE, Row
from tests.databases import KINDS, empty_url


@pytest.fixture(params=KINDS)
def database(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Database]:
    """A database without any table."""
    opened = Database(empty_url(request.param), tmp_path)
    yield opened
    opened.close()


def test_the_migrations_make_the_tables_that_the_models_describe(database: Database) -> None:
    upgrade(database)
    with database.read() as transaction:
        connection = transaction.connection()
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Row.metadata) == []
        assert current(connection) == head()
        made = {table: _constraints(connection, table) for table in Row.metadata.tables}
    assert made == {name: _constraints_of_model(name) for name in Row.metadata.tables}


def _constraints(connection: object, table: str) -> set[str]:
    look = inspect(connection)
    names = [one["name"] for one in look.get_check_constraints(table)]  # type: ignore[attr-defined]
    names += [one["name"] for one in look.get_unique_constraints(table)]  # type: ignore[attr-defined]
    names += [one["name"] for one in look.get_foreign_keys(table)]  # type: ignore[attr-defined]
    return set(names)


def _constraints_of_model(table: str) -> set[str]:
    constraints = Row.metadata.tables[table].constraints
    return {str(one.name) for one in constraints if not str(one.name).startswith("pk_")}


@pytest.mark.parametrize("revision", revisions())
def test_a_database_of_every_revision_is_brought_up_to_date_with_its_data(
    database: Database, revision: str
) -> None:
    upgrade(database, revision)
    moment = "2026-01-02 03:04:05.000006+00:00"
    with database.write() as transaction:
        transaction.execute(
            text(
                "INSERT INTO players (id, created_at, version, name, sort_name, left_handed, units, "
                "language, notes, is_invented, figures_version) VALUES (:id, :at, 7, 'Ida', 'ida', :yes, "
                "'metric', 'en', 'slow backswing', :no, 1)"
            ),
            {"id": "0" * 32, "at": moment, "yes": True, "no": False},
        )
    upgrade(database)
    with database.read() as transaction:
        assert current(transaction.connection()) == head()
        kept = transaction.execute(text("SELECT name, notes, version FROM players")).all()
    assert [tuple(row) for row in kept] == [("Ida", "slow backswing", 7)]


def test_a_database_of_a_newer_version_is_refused_and_left_alone(database: Database) -> None:
    upgrade(database)
    with database.write() as transaction:
        transaction.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(RecordError, match="newer version"):
        upgrade(database)
    with database.read() as transaction:
        assert transaction.scalar(text("SELECT version_num FROM alembic_version")) == "9999"


def test_upgrading_twice_changes_nothing(database: Database) -> None:
    upgrade(database)
    upgrade(database)
    with database.read() as transaction:
        assert current(transaction.connection()) == head()


def test_what_stands_is_not_found_by_the_index_over_what_is_deleted(tmp_path: Path) -> None:
    opened = Database(None, tmp_path)
    upgrade(opened)
    with opened.read() as transaction:
        for table in DELETABLE:
            name = table.__tablename__
            plan = transaction.execute(
                text(f"EXPLAIN QUERY PLAN SELECT * FROM {name} WHERE deleted_step IS NULL ORDER BY id")
            ).all()
            assert f"ix_{name}_deleted_step" not in str(plan)
            undo = transaction.execute(
                text(f"EXPLAIN QUERY PLAN SELECT * FROM {name} WHERE deleted_step = :step"), {"step": "1"}
            ).all()
            assert f"ix_{name}_deleted_step" in str(undo)
    opened.close()
