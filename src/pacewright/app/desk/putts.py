"""Putts: where the balls finished, entered by hand, from tables, or from a player's own page."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session as Transaction

from pacewright.app.desk import convert
from pacewright.app.desk.context import Context, alive, page, page_of
from pacewright.app.desk.views import Page, PuttView, UndoView
from pacewright.app.outcomes_csv import PHASES, parse_putts
from pacewright.coaching.outcomes import parse_outcome
from pacewright.core.errors import NotFoundError, SettingsError
from pacewright.core.measure import Measure
from pacewright.core.outcome import Outcome
from pacewright.core.outcome import Putt as CorePutt
from pacewright.records import undo
from pacewright.records.ids import new_id
from pacewright.records.schema import Player, Putt, Session, Stroke, TempoBlock
from pacewright.records.schema.base import now

MOST_AT_ONCE = 2000
LONGEST_PUTT_M = 100.0


@dataclass(frozen=True, slots=True)
class NewPutt:
    """A putt to be kept. ``client_id`` names it for its sender, so that sending it again changes nothing.

    ``played_at`` None is now. Lengths in metres; see `core.outcome.Putt` for the words.
    """

    asked_m: float
    outcome: Outcome
    guess_along_m: float | None = None
    block: str = ""
    phase: str = ""
    beats_per_minute: float | None = None
    beat_error_s: float | None = None
    measures: Mapping[str, Measure] = field(default_factory=dict)
    stroke_id: UUID | None = None
    client_id: str | None = None
    played_at: dt.datetime | None = None


class Putts:
    """The putts of players."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def add(self, session_id: UUID, putts: Sequence[NewPutt]) -> tuple[PuttView, ...]:
        """Keep putts in the order played, all or none; those whose client id is there stay as they are.

        Returns them in the same order. Raises SettingsError for figures that make no sense.
        """
        with self._context.write() as transaction:
            session = self._context.get(transaction, Session, session_id, "session")
            kept = insert_putts(transaction, session, putts)
            self._context.log(transaction, "create", "putts", session_id, session.player_id, count=len(putts))
            return tuple(convert.putt(row) for row in kept)

    def add_spoken(
        self,
        session_id: UUID,
        asked_m: float,
        finish: str,
        *,
        guess: str = "",
        block: str = "",
        beats_per_minute: float | None = None,
        client_id: str | None = None,
    ) -> PuttView:
        """Keep one putt as it is called out: ``+2ft``, ``-40cm``, ``in``, ``holed 1ft past``.

        ``guess`` is said in the same way. Raises SettingsError with what would do.
        """
        _check_asked(asked_m)
        guessed = parse_outcome(guess, asked_m).along_m if guess else None
        new = NewPutt(
            asked_m, parse_outcome(finish, asked_m), guessed, block, beats_per_minute=beats_per_minute,
            client_id=client_id,
        )  # fmt: skip
        return self.add(session_id, [new])[0]

    def add_table(self, session_id: UUID, data: bytes, name: str) -> tuple[PuttView, ...]:
        """Keep the putts of a table (CSV), in its order; the same table twice is kept once.

        Raises ReadError that names the line.
        """
        import hashlib

        table = parse_putts(data, name)
        mark = hashlib.sha256(data).hexdigest()[:24]
        news = [
            NewPutt(
                putt.asked_m, putt.outcome, putt.guess_along_m, putt.block, putt.phase, putt.beats_per_minute,
                measures=putt.measures, client_id=f"table:{mark}:{session_id.hex[:12]}:{k}",
            )
            for k, putt in enumerate(table.putts)
        ]  # fmt: skip
        return self.add(session_id, news)

    def get(self, putt_id: UUID) -> PuttView:
        """A putt. Raises NotFoundError."""
        with self._context.read() as transaction:
            return convert.putt(self._context.get(transaction, Putt, putt_id, "putt"))

    def update(
        self, putt_id: UUID, version: int | None, *, outcome: Outcome | None = None, **changes: Any
    ) -> PuttView:
        """Change outcome, asked_m, guess_along_m, block, phase, beats_per_minute; see `Players.update`."""
        allowed = {"asked_m", "guess_along_m", "block", "phase", "beats_per_minute"}
        if set(changes) - allowed:
            raise SettingsError(f"{', '.join(sorted(set(changes) - allowed))} of a putt cannot be changed.")
        values = dict(changes)
        if outcome is not None:
            values |= _outcome_values(outcome)
        if "asked_m" in values:
            _check_asked(values["asked_m"])
        _check_figures(values)
        with self._context.write() as transaction:
            row = self._context.get(transaction, Putt, putt_id, "putt")
            self._context.change(transaction, Putt, putt_id, version, values)
            self._context.figures_changed(transaction, row.player_id)
            self._context.log(transaction, "update", "putt", putt_id, row.player_id, fields=sorted(values))
            return convert.putt(self._context.get(transaction, Putt, putt_id, "putt"))

    def delete(self, putt_id: UUID) -> UndoView:
        """Delete a putt; it can be taken back."""
        with self._context.write() as transaction:
            row = self._context.get(transaction, Putt, putt_id, "putt")
            step, rows = undo.delete(transaction, row, self._context.actor.name)
            self._context.figures_changed(transaction, row.player_id)
            self._context.log(transaction, "delete", "putt", putt_id, row.player_id)
            return convert.undo_step(step, rows)

    def link(self, putt_id: UUID, stroke_id: UUID | None) -> PuttView:
        """Say which stroke made a putt (None: none), so that its measures count in the budget."""
        with self._context.write() as transaction:
            row = self._context.get(transaction, Putt, putt_id, "putt")
            if stroke_id is not None:
                _check_stroke(transaction, stroke_id, row.player_id)
            self._context.change(transaction, Putt, putt_id, None, {"stroke_id": stroke_id})
            self._context.figures_changed(transaction, row.player_id)
            return convert.putt(self._context.get(transaction, Putt, putt_id, "putt"))

    def pair(self, session_id: UUID) -> int:
        """Pair the putts of a session that have no stroke with the strokes that have no putt, in their order.

        Nothing is paired unless there are as many of the one as of the other. Returns how many pairs.
        """
        with self._context.write() as transaction:
            session = self._context.get(transaction, Session, session_id, "session")
            putts = list(
                transaction.scalars(
                    select(Putt)
                    .where(Putt.session_id == session_id, Putt.stroke_id.is_(None), alive(Putt))
                    .order_by(Putt.played_at, Putt.id)
                )
            )
            taken = select(Putt.stroke_id).where(Putt.session_id == session_id, Putt.stroke_id.is_not(None))
            strokes = list(
                transaction.scalars(
                    select(Stroke.id)
                    .where(
                        Stroke.session_id == session_id, Stroke.is_current, alive(Stroke),
                        Stroke.kind == "putt", Stroke.id.not_in(taken),
                    )
                    .order_by(Stroke.recording_id, Stroke.number)
                )
            )  # fmt: skip
            if len(putts) != len(strokes):
                return 0
            for putt, stroke_id in zip(putts, strokes, strict=True):
                putt.stroke_id = stroke_id
            self._context.figures_changed(transaction, session.player_id)
            return len(putts)

    def comfort(self, session_id: UUID, block: str, beats_per_minute: float, comfort: float | None) -> None:
        """Note the beat of a block and the player's own mark for it, 1 to 5; the last one counts."""
        if comfort is not None and not 1.0 <= comfort <= 5.0:
            raise SettingsError("Comfort is marked from 1 to 5.")
        if not 20.0 <= beats_per_minute <= 240.0:
            raise SettingsError(f"{beats_per_minute:g} beats a minute make no sense; 60 to 120 is usual.")
        with self._context.write() as transaction:
            session = self._context.get(transaction, Session, session_id, "session")
            row = transaction.scalar(
                select(TempoBlock).where(TempoBlock.session_id == session_id, TempoBlock.block == block)
            )
            if row is None:
                row = TempoBlock(player_id=session.player_id, session_id=session_id, block=block[:60])
                transaction.add(row)
            row.beats_per_minute, row.comfort, row.deleted_step = beats_per_minute, comfort, None
            self._context.figures_changed(transaction, session.player_id)

    def list(
        self,
        *,
        session_id: UUID | None = None,
        player_id: UUID | None = None,
        after: str | None = None,
        limit: int = 200,
    ) -> Page[PuttView]:
        """Putts in the order played, of a session or of a player."""
        if (session_id is None) == (player_id is None):
            raise SettingsError("Say whose putts: of a session or of a player.")
        statement = select(Putt).where(alive(Putt))
        with self._context.read() as transaction:
            if session_id is not None:
                self._context.get(transaction, Session, session_id, "session")
                statement = statement.where(Putt.session_id == session_id)
            else:
                assert player_id is not None
                self._context.get(transaction, Player, player_id, "player")
                statement = statement.where(Putt.player_id == player_id)
            rows, cursor = page_of(
                transaction, statement, (Putt.played_at, Putt.id), after=after, limit=limit,
                key_of=lambda row: (row[0].played_at, row[0].id),
            )  # fmt: skip
            return page([convert.putt(row[0]) for row in rows], cursor)

    def for_figures(
        self, player_id: UUID, *, session_ids: Iterable[UUID] | None = None, most: int = 4000
    ) -> Sequence[CorePutt]:
        """A player's putts as the figures want them, in the order played: the newest ``most`` of all sessions
        or of those named, each with the measures of its stroke and the green of its day."""
        with self._context.read() as transaction:
            self._context.get(transaction, Player, player_id, "player")
            return core_putts(transaction, player_id, session_ids=session_ids, most=most)


def insert_putts(transaction: Transaction, session: Session, putts: Sequence[NewPutt]) -> list[Putt]:
    """Insert putts of a session within a transaction; returns their rows in the same order."""
    if len(putts) > MOST_AT_ONCE:
        raise SettingsError(f"{len(putts)} putts at once are too many; send at most {MOST_AT_ONCE}.")
    if not putts:
        return []
    moment = now()
    rows = [_values(session, new, moment + dt.timedelta(microseconds=k)) for k, new in enumerate(putts)]
    for stroke_id in {new.stroke_id for new in putts if new.stroke_id is not None}:
        _check_stroke(transaction, stroke_id, session.player_id)
    dialect = postgresql if transaction.get_bind().dialect.name == "postgresql" else sqlite
    new = dialect.insert(Putt).on_conflict_do_nothing(index_elements=["player_id", "client_id"])
    transaction.connection().execute(new, rows)
    transaction.execute(
        Player.__table__.update()  # type: ignore[attr-defined]
        .where(Player.id == session.player_id)
        .values(figures_version=Player.figures_version + 1)
    )
    return _found_again(transaction, session.player_id, rows)


def _found_again(transaction: Transaction, player_id: UUID, rows: list[dict[str, Any]]) -> list[Putt]:
    """The rows that stand for what was to be inserted: by client id, or else by the new id."""
    by_client = [row["client_id"] for row in rows if row["client_id"] is not None]
    by_id = [row["id"] for row in rows if row["client_id"] is None]
    found: dict[Any, Putt] = {}
    for start in range(0, len(by_client), 5000):
        some = by_client[start : start + 5000]
        statement = select(Putt).where(Putt.player_id == player_id, Putt.client_id.in_(some))
        found |= {putt.client_id: putt for putt in transaction.scalars(statement)}
    if by_id:
        found |= {putt.id: putt for putt in transaction.scalars(select(Putt).where(Putt.id.in_(by_id)))}
    return [found[row["client_id"] if row["client_id"] is not None else row["id"]] for row in rows]


def core_putts(
    transaction: Transaction, player_id: UUID, *, session_ids: Iterable[UUID] | None = None, most: int = 4000
) -> list[CorePutt]:
    """As `Putts.for_figures`, within a transaction: one query."""
    statement: Any = (
        select(Putt, Stroke.measures, Session, TempoBlock.comfort, TempoBlock.beats_per_minute)
        .join(Session, Session.id == Putt.session_id)
        .outerjoin(Stroke, (Stroke.id == Putt.stroke_id) & alive(Stroke))
        .outerjoin(
            TempoBlock,
            (TempoBlock.session_id == Putt.session_id) & (TempoBlock.block == Putt.block) & alive(TempoBlock),
        )
        .where(Putt.player_id == player_id, alive(Putt))
    )
    if session_ids is not None:
        statement = statement.where(Putt.session_id.in_(list(session_ids)))
    newest = statement.order_by(Putt.played_at.desc(), Putt.id.desc()).limit(most)
    rows = transaction.execute(newest).all()[::-1]
    return [_core(*row) for row in rows]


def session_label(held_on: dt.date, session_id: UUID) -> str:
    """The name of a session in the figures: its day, and enough of its id to tell two of one day apart."""
    return f"{held_on.isoformat()} {session_id.hex[-6:]}"


def _core(
    putt: Putt, stroke_measures: Mapping[str, Any] | None, session: Session, comfort: float | None,
    block_beats: float | None,
) -> CorePutt:  # fmt: skip
    return CorePutt(
        asked_m=putt.asked_m,
        outcome=Outcome(putt.finish_along_m, putt.finish_across_m, putt.holed, putt.finish_sd_m),
        guess_along_m=putt.guess_along_m,
        block=putt.block,
        session=session_label(session.held_on, session.id),
        phase=putt.phase,
        beats_per_minute=putt.beats_per_minute if putt.beats_per_minute is not None else block_beats,
        comfort=comfort,
        measures=convert.measures(dict(putt.measures) | dict(stroke_measures or {})),
        green=convert.green_of_session(session, None),
    )


def _values(session: Session, new: NewPutt, played_at: dt.datetime) -> dict[str, Any]:
    _check_asked(new.asked_m)
    values = {
        "id": new_id(), "created_at": now(), "version": 1,
        "player_id": session.player_id, "session_id": session.id, "stroke_id": new.stroke_id,
        "client_id": new.client_id, "played_at": new.played_at or played_at, "asked_m": new.asked_m,
        "guess_along_m": new.guess_along_m, "block": new.block, "phase": new.phase,
        "beats_per_minute": new.beats_per_minute, "beat_error_s": new.beat_error_s,
        "measures": convert.measures_body(new.measures), **_outcome_values(new.outcome),
    }  # fmt: skip
    _check_figures(values)
    return values


def _outcome_values(outcome: Outcome) -> dict[str, Any]:
    return {
        "finish_along_m": outcome.along_m, "finish_across_m": outcome.across_m, "holed": outcome.holed,
        "finish_sd_m": outcome.along_sd_m,
    }  # fmt: skip


def _check_asked(asked_m: float) -> None:
    if not (math.isfinite(asked_m) and 0.0 < asked_m <= LONGEST_PUTT_M):
        raise SettingsError(
            f"A putt of {asked_m:g} m makes no sense; give more than 0 and at most {LONGEST_PUTT_M:g} m."
        )


def _check_figures(values: Mapping[str, Any]) -> None:
    for name, low, high in (
        ("finish_along_m", 0.0, 300.0), ("finish_across_m", -100.0, 100.0), ("guess_along_m", 0.0, 300.0),
        ("finish_sd_m", 0.0, 10.0), ("beats_per_minute", 20.0, 240.0), ("beat_error_s", -5.0, 5.0),
    ):  # fmt: skip
        value = values.get(name)
        if value is not None and not (math.isfinite(value) and low <= value <= high):
            raise SettingsError(f"{name} = {value:g} makes no sense; it lies from {low:g} to {high:g}.")
    if values.get("phase", "") not in ("", *PHASES):
        raise SettingsError(f"'{values['phase']}' is none of {', '.join(PHASES)}.")
    for name, most in (("block", 60), ("client_id", 80)):
        if len(values.get(name) or "") > most:
            raise SettingsError(f"A {name} has at most {most} characters.")


def _check_stroke(transaction: Transaction, stroke_id: UUID, player_id: UUID) -> None:
    owner = transaction.scalar(select(Stroke.player_id).where(Stroke.id == stroke_id))
    if owner != player_id:
        raise NotFoundError("There is no such stroke of this player.")
