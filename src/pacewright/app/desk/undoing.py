"""Taking back deletions, the journal, and the settings of the desk."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from sqlalchemy import select

from pacewright.app.desk import convert
from pacewright.app.desk.context import Context, page, page_of
from pacewright.app.desk.views import JournalView, Page, UndoView
from pacewright.core.errors import SettingsError
from pacewright.records import undo
from pacewright.records.schema import JournalEntry, Setting, UndoStep

SETTINGS: dict[str, tuple[Any, ...]] = {
    "units": ("metric", "imperial"),
    "language": (),
    "club": (),
    "paper": ("a4", "letter"),
    "show_other_players": (False, True),
    "keep_clips": (True, False),
}
"""Settings and what they may be, the default first; an empty tuple is any short text."""


class Undo:
    """Deletions that can be taken back."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def recent(self, limit: int = 20) -> tuple[UndoView, ...]:
        """The newest deletions that were not taken back."""
        self._context.must_be("coach", "assistant")
        with self._context.read() as transaction:
            statement = select(UndoStep).where(UndoStep.undone_at.is_(None)).order_by(UndoStep.id.desc())
            return tuple(convert.undo_step(row) for row in transaction.scalars(statement.limit(limit)))

    def take_back(self, step_id: UUID) -> UndoView:
        """Bring back everything that one deletion took. Raises NotFoundError when it was erased since,
        ConflictError when it was taken back already or hangs from something that is deleted itself."""
        with self._context.write() as transaction:
            step, rows = undo.take_back(transaction, step_id)
            player_id = undo.owner(transaction, step)
            if player_id is not None:
                self._context.figures_changed(transaction, player_id)
            self._context.log(transaction, "undo", step.what, step.target_id, player_id, rows=rows)
            return convert.undo_step(step, rows)


class Journal:
    """Who did what, when."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def list(
        self, *, player_id: UUID | None = None, after: str | None = None, limit: int = 50
    ) -> Page[JournalView]:
        """Entries, newest first; those of one player, or all."""
        self._context.must_be("coach")
        statement = select(JournalEntry)
        if player_id is not None:
            statement = statement.where(JournalEntry.player_id == player_id)
        with self._context.read() as transaction:
            rows, cursor = page_of(
                transaction, statement, (JournalEntry.id,), after=after, limit=limit, descending=True,
                key_of=lambda row: (row[0].id,),
            )  # fmt: skip
            return page([convert.journal_entry(row[0]) for row in rows], cursor)


class Settings:
    """The settings of the desk."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def all(self) -> dict[str, Any]:
        """Every setting by name, with its default where nothing was set."""
        with self._context.read() as transaction:
            kept = {row.name: row.value for row in transaction.scalars(select(Setting))}
        return {name: kept.get(name, (choices or ("",))[0]) for name, choices in SETTINGS.items()}

    def set(self, name: str, value: Any) -> dict[str, Any]:
        """Change a setting; returns all. Raises SettingsError for an unknown name or value."""
        self._context.must_be("coach")
        if name not in SETTINGS:
            raise SettingsError(f"'{name}' is no setting; known are {', '.join(SETTINGS)}.")
        choices = SETTINGS[name]
        if (choices and value not in choices) or (
            not choices and not (isinstance(value, str) and len(value) <= 120)
        ):
            raise SettingsError(f"'{name}' does not take {str(value)[:40]!r}.")
        with self._context.write() as transaction:
            transaction.merge(Setting(name=name, value=value))
            self._context.log(transaction, "set", "setting", None, setting=name)
        return self.all()
