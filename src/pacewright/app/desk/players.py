"""Players and those who speak for them."""

from __future__ import annotations

import unicodedata
from typing import Any
from uuid import UUID

from sqlalchemy import case, func, select
from sqlalchemy.orm import Session as Transaction

from pacewright.app.desk import convert
from pacewright.app.desk.consents import missing_consents
from pacewright.app.desk.context import Context, alive, page, page_of
from pacewright.app.desk.views import GuardianView, Page, PlayerLine, PlayerView, UndoView
from pacewright.core.display import check_units
from pacewright.core.errors import SettingsError
from pacewright.records import undo
from pacewright.records.schema import Guardian, Player, Session

LONGEST_NAME = 120
LONGEST_NOTE = 20_000
_CHANGEABLE = frozenset({
    "name", "birth_year", "is_minor", "left_handed", "units", "language", "notes",
})  # fmt: skip


class Players:
    """The players of the desk."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def create(
        self,
        name: str,
        *,
        birth_year: int | None = None,
        is_minor: bool | None = None,
        left_handed: bool = False,
        units: str = "metric",
        language: str = "en",
        notes: str = "",
        is_invented: bool = False,
    ) -> PlayerView:
        """A new player. Without a birth year, say ``is_minor`` for one under age.

        Raises SettingsError for an empty name, a birth year or units that make no sense.
        """
        values = _checked({
            "name": name, "birth_year": birth_year, "is_minor": is_minor, "left_handed": left_handed,
            "units": units, "language": language, "notes": notes,
        })  # fmt: skip
        with self._context.write() as transaction:
            row = Player(**values, is_invented=is_invented)
            transaction.add(row)
            transaction.flush()
            self._context.log(transaction, "create", "player", row.id, row.id)
            return self._view(transaction, row)

    def get(self, player_id: UUID) -> PlayerView:
        """A player. Raises NotFoundError."""
        with self._context.read() as transaction:
            return self._view(transaction, self._context.get(transaction, Player, player_id, "player"))

    def update(self, player_id: UUID, version: int | None, **changes: Any) -> PlayerView:
        """Change name, birth_year, is_minor, left_handed, units, language or notes.

        ``version`` is what the caller has seen; raises ConflictError when it is not the newest any more.
        """
        values = _checked(changes)
        with self._context.write() as transaction:
            self._context.get(transaction, Player, player_id, "player")
            self._context.change(transaction, Player, player_id, version, values)
            self._context.log(transaction, "update", "player", player_id, player_id, fields=sorted(changes))
            return self._view(transaction, self._context.get(transaction, Player, player_id, "player"))

    def delete(self, player_id: UUID) -> UndoView:
        """Delete a player with all that belongs to it, in one step that can be taken back.

        The rows stay until they are erased (`privacy.erase`).
        """
        with self._context.write() as transaction:
            row = self._context.get(transaction, Player, player_id, "player")
            step, rows = undo.delete(transaction, row, self._context.actor.name)
            self._context.log(transaction, "delete", "player", player_id, player_id, rows=rows)
            return convert.undo_step(step, rows)

    def list(self, *, after: str | None = None, limit: int = 50, search: str = "") -> Page[PlayerLine]:
        """Players in the order of their names, those whose name holds ``search`` (case aside)."""
        statement = select(Player).where(alive(Player))
        if self._context.actor.role == "player":
            statement = statement.where(Player.id == self._context.actor.player_id)
        if search:
            statement = statement.where(Player.sort_name.contains(sort_key(search), autoescape=True))
        with self._context.read() as transaction:
            rows, cursor = page_of(
                transaction, statement, (Player.sort_name, Player.id), after=after, limit=limit,
                key_of=lambda row: (row[0].sort_name, row[0].id),
            )  # fmt: skip
            return page(player_lines(transaction, [row[0] for row in rows]), cursor)

    def names(self, *, limit: int = 200) -> tuple[tuple[UUID, str], ...]:
        """Ids and names of players in the order of their names, to choose from."""
        self._context.must_be("coach", "assistant")
        statement = select(Player.id, Player.name).where(alive(Player))
        with self._context.read() as transaction:
            found = transaction.execute(statement.order_by(Player.sort_name, Player.id).limit(limit))
            return tuple((identifier, name) for identifier, name in found)

    def add_guardian(
        self, player_id: UUID, name: str, *, contact: str = "", relation: str = ""
    ) -> GuardianView:
        """Note a parent or guardian."""
        name = _name(name)
        with self._context.write() as transaction:
            self._context.get(transaction, Player, player_id, "player")
            row = Guardian(player_id=player_id, name=name, contact=contact[:200], relation=relation[:60])
            transaction.add(row)
            transaction.flush()
            self._context.log(transaction, "create", "guardian", row.id, player_id)
            return convert.guardian(row)

    def guardians(self, player_id: UUID) -> tuple[GuardianView, ...]:
        """The parents and guardians of a player."""
        with self._context.read() as transaction:
            self._context.get(transaction, Player, player_id, "player")
            found = transaction.scalars(
                select(Guardian).where(Guardian.player_id == player_id).order_by(Guardian.id)
            )
            return tuple(convert.guardian(row) for row in found)

    def _view(self, transaction: Transaction, row: Player) -> PlayerView:
        return convert.player(row, missing_consents(transaction, row, "recording"))


def player_lines(transaction: Transaction, players: list[Player]) -> list[PlayerLine]:
    """Players as lines of a list, with what their sessions say; one query for all."""
    found = transaction.execute(
        select(
            Session.player_id,
            func.max(Session.held_on),
            func.count(),
            func.sum(case((Session.is_unread, 1), else_=0)),
        )
        .where(Session.player_id.in_([player.id for player in players]), alive(Session))
        .group_by(Session.player_id)
    )
    told = {player_id: (last, count, unread) for player_id, last, count, unread in found}
    return [
        PlayerLine(
            player.id, player.name, player.left_handed, convert.is_minor(player), player.is_invented,
            *told.get(player.id, (None, 0, 0)),
        )
        for player in players
    ]  # fmt: skip


def sort_key(name: str) -> str:
    """A name as it is sorted and searched: accents and case aside."""
    plain = unicodedata.normalize("NFKD", name)
    return "".join(c for c in plain if not unicodedata.combining(c)).casefold().strip()


def _checked(values: dict[str, Any]) -> dict[str, Any]:
    unknown = set(values) - _CHANGEABLE
    if unknown:
        raise SettingsError(f"{', '.join(sorted(unknown))} of a player cannot be changed.")
    checked = dict(values)
    if "name" in values:
        checked["name"] = _name(values["name"])
        checked["sort_name"] = sort_key(checked["name"])
    year = values.get("birth_year")
    if year is not None and not 1900 <= year <= 2100:
        raise SettingsError(f"A birth year of {year} makes no sense; give all four digits.")
    if "units" in values:
        check_units(values["units"])
    if len(values.get("notes", "")) > LONGEST_NOTE:
        raise SettingsError(f"The note is longer than {LONGEST_NOTE} characters.")
    if not 2 <= len(values.get("language", "en")) <= 12:
        raise SettingsError("A language is named by a short code such as en or de.")
    return checked


def _name(text: str) -> str:
    name = " ".join(text.split())
    if not name or len(name) > LONGEST_NAME or not name.isprintable():
        raise SettingsError(f"A name has 1 to {LONGEST_NAME} characters on one line.")
    return name
