"""Strokes, their curves and findings; events that a person moves are measured again at once."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session as Transaction

from pacewright.app.desk import convert
from pacewright.app.desk.analysis import core_stroke
from pacewright.app.desk.comparing import Neighbours, line_of, neighbours
from pacewright.app.desk.context import Context, alive, page, page_of
from pacewright.app.desk.correcting import correct_event, newest_track
from pacewright.app.desk.views import (
    AnalysisView,
    CorrectionView,
    EventName,
    FindingView,
    Page,
    StrokeLine,
    StrokeView,
)
from pacewright.core.clip import ClipTrack
from pacewright.core.errors import SettingsError
from pacewright.core.stroke import Stroke as CoreStroke
from pacewright.core.stroke import StrokeCurve
from pacewright.records.packing import unpack_curve, unpack_recording
from pacewright.records.schema import (
    Analysis,
    Correction,
    Curve,
    Finding,
    Player,
    Recording,
    Session,
    Stroke,
)


class Strokes:
    """The strokes that analyses found."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def get(self, stroke_id: UUID) -> StrokeView:
        """A stroke. Raises NotFoundError."""
        with self._context.read() as transaction:
            return convert.stroke(self._context.get(transaction, Stroke, stroke_id, "stroke"))

    def list(
        self,
        *,
        player_id: UUID | None = None,
        session_id: UUID | None = None,
        recording_id: UUID | None = None,
        after: str | None = None,
        limit: int = 100,
        newest_first: bool = False,
    ) -> Page[StrokeView]:
        """The current strokes of a player, a session or a recording, in the order recorded."""
        named = [(Player, player_id), (Session, session_id), (Recording, recording_id)]
        given = [(table, identifier) for table, identifier in named if identifier is not None]
        if len(given) != 1:
            raise SettingsError("Say whose strokes: of a player, a session or a recording.")
        statement = select(Stroke).where(Stroke.is_current, alive(Stroke))
        for column, identifier in (
            (Stroke.player_id, player_id), (Stroke.session_id, session_id),
            (Stroke.recording_id, recording_id),
        ):  # fmt: skip
            if identifier is not None:
                statement = statement.where(column == identifier)
        with self._context.read() as transaction:
            for table, identifier in given:
                self._context.get(transaction, table, identifier, table.__tablename__.rstrip("s"))
            rows, cursor = page_of(
                transaction, statement, (Stroke.id,), after=after, limit=limit, descending=newest_first,
                key_of=lambda row: (row[0].id,),
            )  # fmt: skip
            return page([convert.stroke(row[0]) for row in rows], cursor)

    def neighbours(self, stroke_id: UUID, *, with_others: bool = False) -> Neighbours:
        """A stroke among those of its session, and what it can be compared with. Raises NotFoundError."""
        return neighbours(self._context, stroke_id, with_others=with_others)

    def line(self, stroke_id: UUID) -> StrokeLine:
        """Whose stroke that is, of which day. Raises NotFoundError."""
        return line_of(self._context, stroke_id)

    def curve(self, stroke_id: UUID) -> StrokeCurve | None:
        """The fitted curve of a stroke; None where none was kept."""
        with self._context.read() as transaction:
            self._context.get(transaction, Stroke, stroke_id, "stroke")
            row = transaction.get(Curve, stroke_id)
            return None if row is None else unpack_curve(row.packed)

    def curves(self, stroke_ids: Sequence[UUID]) -> dict[UUID, StrokeCurve]:
        """The curves of several strokes, in one query; at most 100."""
        if len(stroke_ids) > 100:
            raise SettingsError("At most 100 curves at once.")
        with self._context.read() as transaction:
            rows = transaction.scalars(select(Curve).where(Curve.stroke_id.in_(list(stroke_ids)))).all()
            return {
                row.stroke_id: unpack_curve(row.packed)
                for row in rows
                if self._context.may_see(row.player_id)
            }

    def clip_track(self, recording_id: UUID) -> ClipTrack | None:
        """What was seen in a clip, frame by frame; None for other recordings."""
        with self._context.read() as transaction:
            self._context.get(transaction, Recording, recording_id, "recording")
            packed = newest_track(transaction, recording_id)
            return None if packed is None else unpack_recording(packed).clip

    def move_event(self, stroke_id: UUID, event: EventName, time_s: float) -> StrokeView:
        """Set the time of an event (seconds on the recording's clock) by hand and measure the stroke again.

        A new analysis takes the place of the current one, which is kept; so is the correction. Returns the
        stroke that stands now. Raises SettingsError for a time that does not lie between its neighbours,
        ConflictError when the stroke is not the current one any more.
        """
        self._context.must_be("coach", "assistant")
        return convert.stroke(correct_event(self._context, stroke_id, event, time_s))

    def corrections(self, recording_id: UUID) -> tuple[CorrectionView, ...]:
        """Every event of a recording that was moved, newest first."""
        with self._context.read() as transaction:
            self._context.get(transaction, Recording, recording_id, "recording")
            statement = select(Correction).where(Correction.recording_id == recording_id)
            return tuple(
                convert.correction(row)
                for row in transaction.scalars(statement.order_by(Correction.id.desc()))
            )

    def analyses(self, recording_id: UUID) -> tuple[AnalysisView, ...]:
        """Every analysis of a recording, newest first."""
        with self._context.read() as transaction:
            self._context.get(transaction, Recording, recording_id, "recording")
            statement = select(Analysis).where(Analysis.recording_id == recording_id, alive(Analysis))
            return tuple(
                convert.analysis(row) for row in transaction.scalars(statement.order_by(Analysis.id.desc()))
            )

    def analysis(self, analysis_id: UUID) -> AnalysisView:
        """An analysis with its whole result. Raises NotFoundError."""
        with self._context.read() as transaction:
            return convert.analysis(self._context.get(transaction, Analysis, analysis_id, "analysis"))

    def findings(
        self, *, session_id: UUID | None = None, player_id: UUID | None = None, limit: int = 50
    ) -> tuple[FindingView, ...]:
        """The findings of current analyses, newest first: of a session, or of a player."""
        with self._context.read() as transaction:
            if session_id is not None:
                self._context.get(transaction, Session, session_id, "session")
            if player_id is not None:
                self._context.get(transaction, Player, player_id, "player")
            return tuple(find_findings(transaction, session_id=session_id, player_id=player_id, limit=limit))

    def for_figures(self, player_id: UUID, *, most: int = 500) -> Sequence[CoreStroke]:
        """The player's newest ``most`` current putts as station and plan want them, oldest first."""
        with self._context.read() as transaction:
            self._context.get(transaction, Player, player_id, "player")
            return core_strokes(transaction, player_id, most=most)


def find_findings(
    transaction: Transaction,
    *,
    session_id: UUID | None = None,
    player_id: UUID | None = None,
    limit: int = 50,
) -> list[FindingView]:
    """As `Strokes.findings`, within a transaction."""
    statement = (
        select(Finding)
        .join(Analysis, Analysis.id == Finding.analysis_id)
        .where(alive(Finding), Analysis.superseded_by.is_(None))
        .order_by(Finding.id.desc())
        .limit(limit)
    )
    if session_id is not None:
        statement = statement.where(Finding.session_id == session_id)
    if player_id is not None:
        statement = statement.where(Finding.player_id == player_id)
    return [convert.finding(row) for row in transaction.scalars(statement)]


def core_strokes(transaction: Transaction, player_id: UUID, *, most: int = 500) -> list[CoreStroke]:
    """As `Strokes.for_figures`, within a transaction."""
    rows = transaction.scalars(
        select(Stroke)
        .where(Stroke.player_id == player_id, Stroke.is_current, alive(Stroke), Stroke.kind == "putt")
        .order_by(Stroke.id.desc())
        .limit(most)
    )
    return [core_stroke(row, number) for number, row in enumerate(list(rows)[::-1])]
