"""Rows as JSON and back, for backups and packages: the kind of each column is written beside them."""

from __future__ import annotations

import base64
import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any
from uuid import UUID

from sqlalchemy import JSON, Connection, Date, LargeBinary, Table, Uuid, column, select, table
from sqlalchemy.sql.expression import TableClause
from sqlalchemy.types import NullType, TypeEngine

from pacewright.core.errors import RecordError
from pacewright.records.schema.base import JSON_TYPE, UtcTime

AT_ONCE = 1000
_TYPES: dict[str, TypeEngine[Any]] = {
    "uuid": Uuid(), "time": UtcTime(), "date": Date(), "json": JSON_TYPE, "bytes": LargeBinary(),
    "plain": NullType(),
}  # fmt: skip


def kinds(of: Table) -> dict[str, str]:
    """The kind of each column: uuid, time, date, json, bytes or plain (text, number, truth)."""
    return {one.name: _kind(one.type) for one in of.columns}


def _kind(kind: TypeEngine[Any]) -> str:
    for name, types in (
        ("uuid", Uuid), ("time", UtcTime), ("date", Date), ("json", JSON), ("bytes", LargeBinary),
    ):  # fmt: skip
        if isinstance(kind, types):
            return name
    return "plain"


def as_table(name: str, columns: Mapping[str, str]) -> TableClause:
    """A table of those columns, to write rows of an older revision with."""
    return table(name, *(column(key, _TYPES[kind]) for key, kind in columns.items()))


def encode(row: Mapping[str, Any], columns: Mapping[str, str]) -> dict[str, Any]:
    """A row as JSON takes it."""
    return {name: _encoded(row[name], kind) for name, kind in columns.items()}


def _encoded(value: Any, kind: str) -> Any:
    if value is None or kind in ("plain", "json"):
        return value
    if kind == "uuid":
        return str(value)
    if kind == "bytes":
        return base64.b64encode(value).decode()
    return value.isoformat()


def decode(body: Any, columns: Mapping[str, str]) -> dict[str, Any]:
    """A row as the database takes it. Raises RecordError for one that is not what `encode` makes."""
    if not isinstance(body, dict) or set(body) != set(columns):
        raise RecordError("A row does not have the columns that it should have.")
    try:
        return {name: _decoded(body[name], kind) for name, kind in columns.items()}
    except (TypeError, ValueError, AttributeError):
        raise RecordError("A row holds a value that does not belong into its column.") from None


def _decoded(value: Any, kind: str) -> Any:
    if value is None or kind == "json":
        return value
    if kind == "plain":
        if isinstance(value, dict | list):
            raise TypeError
        return value
    if kind == "uuid":
        return UUID(value)
    if kind == "bytes":
        return base64.b64decode(value, validate=True)
    if kind == "date":
        return dt.date.fromisoformat(value)
    moment = dt.datetime.fromisoformat(value)
    if moment.tzinfo is None:
        raise ValueError
    return moment


def read_all(connection: Connection, of: Table) -> Iterator[Mapping[str, Any]]:
    """Every row, those that others of the table point to first."""
    keys = list(of.primary_key.columns)
    points_to_itself = any(key.column.table is of for key in of.foreign_keys)
    # Only what comes later takes the place of something (an analysis), so the newest are pointed to.
    order = [key.desc() if points_to_itself else key for key in keys]
    result = connection.execution_options(yield_per=AT_ONCE).execute(select(of).order_by(*order))
    for row in result.mappings():
        yield dict(row)


def in_parts(rows: Iterable[Mapping[str, Any]], size: int = AT_ONCE) -> Iterator[Sequence[Mapping[str, Any]]]:
    """Rows in parts of at most ``size``."""
    part: list[Mapping[str, Any]] = []
    for row in rows:
        part.append(row)
        if len(part) == size:
            yield part
            part = []
    if part:
        yield part
