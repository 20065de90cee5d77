"""The database behind a desk: SQLite in a file, or PostgreSQL by a URL.

SQLite runs with a write-ahead log, so readers never wait for the writer; a writer takes its turn at the start
of its transaction (BEGIN IMMEDIATE) and waits up to `BUSY_TIMEOUT_S` for it, so no transaction fails half-way
because it found itself second. Every commit is on disk before it is acknowledged (synchronous = FULL).
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, make_url
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlalchemy.exc import ArgumentError
from sqlalchemy.orm import Session
from sqlalchemy.pool import ConnectionPoolEntry

from pacewright.core.errors import SettingsError

BUSY_TIMEOUT_S = 30.0
DATABASE_FILE = "pacewright.sqlite"
_PRAGMAS = (
    "PRAGMA journal_mode = WAL",
    "PRAGMA foreign_keys = ON",
    "PRAGMA synchronous = FULL",
    "PRAGMA secure_delete = ON",
    f"PRAGMA busy_timeout = {round(1000 * BUSY_TIMEOUT_S)}",
    "PRAGMA temp_store = MEMORY",
    "PRAGMA cache_size = -32000",
)
_shared: ContextVar[tuple[Database, Session] | None] = ContextVar("_shared", default=None)


class Database:
    """Transactions on the database. ``file`` is None for PostgreSQL."""

    def __init__(self, url: str | None, data_dir: Path) -> None:
        self.file = data_dir / DATABASE_FILE if url is None else _sqlite_file(url)
        self.url = f"sqlite:///{self.file}" if self.file is not None else str(url)
        self.engine = _sqlite_engine(self.url) if self.file is not None else _postgres_engine(self.url)
        self._writing = self.engine.execution_options(writes=True)
        self._snapshot = (
            self.engine
            if self.file is not None
            else self.engine.execution_options(isolation_level="REPEATABLE READ")
        )

    @property
    def is_sqlite(self) -> bool:
        """Whether the database is a file of SQLite."""
        return self.file is not None

    @contextmanager
    def read(self) -> Iterator[Session]:
        """A transaction that only reads; within `at_once` it is the same for all."""
        shared = _shared.get()
        if shared is not None and shared[0] is self:
            yield shared[1]
            return
        with self._reading() as session:
            yield session

    @contextmanager
    def at_once(self) -> Iterator[None]:
        """Whatever is read within goes in one transaction: it agrees with itself, and no row comes twice.

        For short work in one thread. What is written within is seen by what is read afterwards.
        """
        with self._reading() as session:
            token = _shared.set((self, session))
            try:
                yield
            finally:
                _shared.reset(token)

    @contextmanager
    def write(self) -> Iterator[Session]:
        """A transaction that may write: committed as a whole at the end, or not at all."""
        with Session(self._writing, expire_on_commit=False) as session, session.begin():
            yield session
        shared = _shared.get()
        if shared is not None and shared[0] is self:
            # Rows that were read before may have changed; those in hand stay as they are.
            shared[1].expunge_all()
            shared[1].rollback()

    def _reading(self) -> Session:
        return Session(self.engine, autoflush=False, expire_on_commit=False)

    @contextmanager
    def snapshot(self) -> Iterator[Connection]:
        """A long reading transaction that sees one moment of the database while others write."""
        with self._snapshot.connect() as connection, connection.begin():
            yield connection

    def close(self) -> None:
        """Close every connection."""
        self.engine.dispose()


def _sqlite_file(url: str) -> Path | None:
    try:
        parsed = make_url(url)
    except ArgumentError:
        raise SettingsError(
            f"'{_without_password(url)}' is not the address of a database; give "
            "postgresql://user@host/name, or leave it out for a file in the data folder."
        ) from None
    if parsed.get_backend_name() == "sqlite" and parsed.database not in (None, "", ":memory:"):
        return Path(str(parsed.database))
    if parsed.get_backend_name() != "postgresql":
        raise SettingsError(
            f"A database of the kind '{parsed.get_backend_name()}' is not known here; use PostgreSQL "
            "(postgresql://user@host/name), or leave it out for a file in the data folder."
        )
    return None


def _without_password(url: str) -> str:
    scheme, at, rest = url.rpartition("@")
    return f"…@{rest}" if at and ":" in scheme else url


def _dumps(value: Any) -> str:
    """JSON without nan or infinity, which PostgreSQL refuses and no other program reads."""
    return json.dumps(value, allow_nan=False, separators=(",", ":"), ensure_ascii=False)


def _sqlite_engine(url: str) -> Engine:
    engine = create_engine(
        url, json_serializer=_dumps, connect_args={"timeout": BUSY_TIMEOUT_S}, pool_size=8, max_overflow=24
    )

    @event.listens_for(engine, "connect")
    def prepare(connection: DBAPIConnection, _: ConnectionPoolEntry) -> None:
        assert isinstance(connection, sqlite3.Connection)
        # Transactions are begun below; left to itself the driver begins them only before the first change.
        connection.isolation_level = None
        for pragma in _PRAGMAS:
            connection.execute(pragma)

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("writes")
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _postgres_engine(url: str) -> Engine:
    # Half a second to import, and only for whoever uses PostgreSQL.
    import psycopg

    with_driver = make_url(url).set(drivername="postgresql+psycopg")
    return create_engine(
        with_driver, module=psycopg, json_serializer=_dumps, pool_pre_ping=True, pool_size=8, max_overflow=24
    )
