"""What all tables share: names of constraints, types of columns, identifiers, soft deletion."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import JSON, DateTime, Dialect, ForeignKey, Index, LargeBinary, MetaData, Uuid
from sqlalchemy.dialects.postgresql import JSONB
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column
from sqlalchemy.types import TypeDecorator

from pacewright.records.ids import new_id

Body = dict[str, Any]


def now() -> datetime:
    """The present moment, in UTC."""
    return datetime.now(UTC)


class UtcTime(TypeDecorator[datetime]):
    """A moment. SQLite keeps no zone, so what goes in must know its zone and UTC is kept."""

    impl = DateTime(timezone=True)
    cache_ok = True

    @property
    def python_type(self) -> type[datetime]:
        """For whoever reads a moment from text."""
        return datetime

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """To UTC; a moment without a zone is a mistake of the caller."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"{value} has no time zone.")
        moment = value.astimezone(UTC)
        return moment.replace(tzinfo=None) if dialect.name == "sqlite" else moment

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """UTC, and knowing it."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


JSON_TYPE = JSON(none_as_null=True).with_variant(JSONB(none_as_null=True), "postgresql")


class Row(DeclarativeBase):
    """Base of all tables."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s",
            "pk": "pk_%(table_name)s",
        }
    )
    type_annotation_map = {  # noqa: RUF012
        UUID: Uuid(),
        datetime: UtcTime(),
        Body: JSON_TYPE,
        list[Any]: JSON_TYPE,
        bytes: LargeBinary(),
    }


class Identified:
    """A row with a time-ordered identifier."""

    id: Mapped[UUID] = mapped_column(primary_key=True, default=new_id)
    created_at: Mapped[datetime] = mapped_column(default=now)


class Deletable:
    """A row that can be deleted by hand: ``deleted_step`` names the step that did it, for undo.

    `index_of_deleted` gives each such table its index over the rows that are deleted.
    """

    deleted_step: Mapped[UUID | None] = mapped_column(ForeignKey("undo_steps.id"))


class Versioned:
    """A row that two people may edit: ``version`` rises with each change (the page's ETag)."""

    version: Mapped[int] = mapped_column(default=1)


def index_of_deleted(table: type[Row]) -> Index:
    """The index that undo goes by. It leaves out the rows that stand, nearly all: over them too, SQLite would
    take it for ``deleted_step IS NULL`` and read the whole table."""
    column = table.__table__.columns["deleted_step"]
    name = f"ix_{table.__tablename__}_deleted_step"
    return Index(name, column, sqlite_where=column.is_not(None), postgresql_where=column.is_not(None))


def of_player() -> Mapped[UUID]:
    """The column that says whose row it is."""
    return mapped_column(ForeignKey("players.id"))
