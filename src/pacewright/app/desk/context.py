"""What every family of use cases works with: the database, the files, and who is asking."""

from __future__ import annotations

import base64
import binascii
import json
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar, cast
from uuid import UUID

from sqlalchemy import ColumnElement, CursorResult, tuple_, update
from sqlalchemy.orm import Session as Transaction

from pacewright.app.desk.views import Page, Role
from pacewright.core.errors import ConflictError, ForbiddenError, NotFoundError, SettingsError
from pacewright.records.engine import Database
from pacewright.records.files import FileStore
from pacewright.records.schema import JournalEntry, Player, Row

R = TypeVar("R", bound=Row)
T = TypeVar("T")
MOST_PER_PAGE = 500


@dataclass(frozen=True, slots=True)
class Actor:
    """Who is asking. A player sees only itself; an assistant does all but accounts, erasure and backups."""

    name: str = "coach"
    role: Role = "coach"
    player_id: UUID | None = None
    user_id: UUID | None = None


OWNER = Actor()
"""Whoever sits at the desk's own machine."""


class Memory:
    """Values worked out before, the newest `MOST` of them; shared by all threads of a desk."""

    MOST = 512

    def __init__(self) -> None:
        self._kept: OrderedDict[Any, Any] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, key: Any) -> Any:
        """The value of a key, None when it is not there."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
            return self._kept.get(key)

    def keep(self, key: Any, value: Any) -> None:
        """Keep a value, and forget the one that was not used for longest."""
        with self._lock:
            self._kept[key] = value
            self._kept.move_to_end(key)
            if len(self._kept) > self.MOST:
                self._kept.popitem(last=False)

    def forget(self, player_id: UUID) -> None:
        """Forget whatever is of that player: keys are tuples that name it."""
        with self._lock:
            for key in [key for key in self._kept if player_id in key]:
                del self._kept[key]

    def clear(self) -> None:
        """Forget everything."""
        with self._lock:
            self._kept.clear()


@dataclass(frozen=True, slots=True)
class Context:
    """The database, the files and the actor, with what the families share."""

    database: Database
    files: FileStore
    data_dir: Path
    actor: Actor = OWNER
    memory: Memory = field(default_factory=Memory)

    @contextmanager
    def read(self) -> Iterator[Transaction]:
        """A transaction that only reads."""
        with self.database.read() as transaction:
            yield transaction

    @contextmanager
    def write(self) -> Iterator[Transaction]:
        """A transaction of somebody who works at the desk. Raises ForbiddenError for a player."""
        self.must_be("coach", "assistant")
        with self.database.write() as transaction:
            yield transaction

    def must_be(self, *roles: Role) -> None:
        """Raise ForbiddenError unless whoever asks has one of the roles."""
        if self.actor.role not in roles:
            raise ForbiddenError(f"This is for the {' or '.join(roles)} alone.")

    def may_see(self, player_id: UUID | None) -> bool:
        """Whether whoever asks may see what belongs to that player (None: to no player)."""
        return self.actor.role != "player" or (player_id is not None and player_id == self.actor.player_id)

    def get(self, transaction: Transaction, table: type[R], identifier: UUID, what: str) -> R:
        """The row, unless it is deleted or not for whoever asks. Raises NotFoundError, always the same."""
        row = transaction.get(table, identifier)
        owner = identifier if table is Player else getattr(row, "player_id", None)
        if row is None or getattr(row, "deleted_step", None) is not None or not self.may_see(owner):
            raise NotFoundError(f"There is no such {what}.")
        return row

    def log(
        self, transaction: Transaction, action: str, target: str, identifier: UUID | None,
        player_id: UUID | None = None, **detail: Any,
    ) -> None:  # fmt: skip
        """Write who did what into the journal; ``detail`` must hold no names."""
        transaction.add(
            JournalEntry(
                made_by=self.actor.name, action=action, target=target, target_id=identifier,
                player_id=player_id, detail=detail,
            )
        )  # fmt: skip

    def change(
        self, transaction: Transaction, table: type[R], identifier: UUID, version: int | None,
        values: Mapping[str, Any],
    ) -> None:  # fmt: skip
        """Set columns if the row still has that version (None: whatever it has), and raise the version.

        Raises ConflictError when somebody else was first.
        """
        columns = table.__table__.columns
        unknown = set(values) - set(columns.keys())
        if unknown:
            raise SettingsError(f"{', '.join(sorted(unknown))} cannot be changed.")
        where: list[ColumnElement[bool]] = [columns["id"] == identifier]
        if version is not None:
            where.append(columns["version"] == version)
        result = transaction.execute(
            update(table)
            .where(*where)
            .values(**values, version=columns["version"] + 1)
            .execution_options(synchronize_session="fetch")
        )
        if cast(CursorResult[Any], result).rowcount == 0:
            raise ConflictError("Somebody else changed it meanwhile; look at it again, then change it.")

    def figures_changed(self, transaction: Transaction, player_id: UUID) -> None:
        """Make the digests of a player stale."""
        transaction.execute(
            update(Player)
            .where(Player.id == player_id)
            .values(figures_version=Player.figures_version + 1)
            .execution_options(synchronize_session=False)
        )


def alive(table: type[Row]) -> ColumnElement[bool]:
    """Rows that are not deleted."""
    return table.__table__.columns["deleted_step"].is_(None)


def page_of(
    transaction: Transaction,
    statement: Any,
    keys: Sequence[Any],
    *,
    after: str | None,
    limit: int,
    descending: bool = False,
    key_of: Callable[[Any], tuple[Any, ...]],
) -> tuple[list[Any], str | None]:
    """Rows of one page by keyset, and the cursor of the next. ``keys`` order the list and end in the id."""
    if not 1 <= limit <= MOST_PER_PAGE:
        raise SettingsError(f"A page holds 1 to {MOST_PER_PAGE} entries; {limit} were asked for.")
    if after is not None:
        place = tuple_(*keys)
        start = tuple_(*_decode(after, keys))
        statement = statement.where(place < start if descending else place > start)
    order = [key.desc() if descending else key.asc() for key in keys]
    rows = list(transaction.execute(statement.order_by(*order).limit(limit + 1)).all())
    if len(rows) <= limit:
        return rows, None
    rows = rows[:limit]
    return rows, _encode(key_of(rows[-1]))


def _encode(key: tuple[Any, ...]) -> str:
    text = json.dumps([str(part) for part in key])
    return base64.urlsafe_b64encode(text.encode()).decode().rstrip("=")


def _decode(cursor: str, keys: Sequence[Any]) -> list[Any]:
    try:
        parts = json.loads(base64.urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4)))
        if not isinstance(parts, list) or len(parts) != len(keys):
            raise ValueError
        return [_as_type(key.type.python_type, part) for key, part in zip(keys, parts, strict=True)]
    except (ValueError, TypeError, binascii.Error, UnicodeDecodeError):
        raise SettingsError(
            "The place in the list is not one that the list gave; start from its beginning."
        ) from None


def _as_type(kind: Any, text: Any) -> Any:
    from datetime import date, datetime

    if not isinstance(text, str):
        raise ValueError
    if kind in (date, datetime):
        return kind.fromisoformat(text)
    return kind(text)


def page(items: Sequence[T], cursor: str | None) -> Page[T]:
    """The page as it is handed out."""
    return Page(tuple(items), cursor)
