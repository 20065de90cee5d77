"""Recordings, what analyses made of them, and what a person moved by hand."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, Index
from sqlalchemy.orm import Mapped, mapped_column

from pacewright.records.schema.base import Body, Deletable, Identified, Row, of_player


class Upload(Identified, Row):
    """A file on its way in, piece by piece. ``received`` bytes are safe on disk.

    ``sha256`` is what the sender says it will be, or what was found once all of it is there
    (``is_complete``).
    """

    __tablename__ = "uploads"
    __table_args__ = (CheckConstraint("received >= 0 AND received <= size", name="received"),)
    player_id: Mapped[UUID] = mapped_column(ForeignKey("players.id"), index=True)
    session_id: Mapped[UUID] = mapped_column(ForeignKey("sessions.id"), index=True)
    name: Mapped[str]
    size: Mapped[int] = mapped_column(BigInteger)
    received: Mapped[int] = mapped_column(BigInteger, default=0)
    sha256: Mapped[str | None]
    is_complete: Mapped[bool] = mapped_column(default=False)
    settings: Mapped[Body] = mapped_column(default=dict)
    touched_at: Mapped[datetime]


class Recording(Identified, Deletable, Row):
    """A file as it was recorded: it lies on disk under its hash. ``settings`` say how to read it."""

    __tablename__ = "recordings"
    __table_args__ = (
        Index("ix_recordings_session_id_id", "session_id", "id"),
        Index("ix_recordings_player_id_id", "player_id", "id"),
    )
    player_id: Mapped[UUID] = of_player()
    session_id: Mapped[UUID] = mapped_column(ForeignKey("sessions.id"))
    sha256: Mapped[str] = mapped_column(index=True)
    size: Mapped[int] = mapped_column(BigInteger)
    kind: Mapped[str]
    name: Mapped[str]
    asked_m: Mapped[float | None]
    settings: Mapped[Body] = mapped_column(default=dict)


class Analysis(Identified, Deletable, Row):
    """What one run made of a recording. A later run is a row of its own and names itself in the old one.

    ``result`` is the assessment in the words of its contract; ``about`` what the recording says of itself
    on a report.
    """

    __tablename__ = "analyses"
    __table_args__ = (Index("ix_analyses_recording_id_id", "recording_id", "id"),)
    player_id: Mapped[UUID] = mapped_column(ForeignKey("players.id"), index=True)
    session_id: Mapped[UUID] = mapped_column(ForeignKey("sessions.id"), index=True)
    recording_id: Mapped[UUID] = mapped_column(ForeignKey("recordings.id"))
    method: Mapped[str]
    pacewright_version: Mapped[str]
    settings: Mapped[Body] = mapped_column(default=dict)
    result: Mapped[Body]
    about: Mapped[str] = mapped_column(default="")
    superseded_by: Mapped[UUID | None] = mapped_column(ForeignKey("analyses.id"))


class Track(Row):
    """What was seen in a clip, packed; see `records.packing`."""

    __tablename__ = "tracks"
    analysis_id: Mapped[UUID] = mapped_column(ForeignKey("analyses.id"), primary_key=True)
    player_id: Mapped[UUID] = mapped_column(ForeignKey("players.id"), index=True)
    packed: Mapped[bytes]


class Stroke(Identified, Deletable, Row):
    """A stroke of an analysis. The main measures stand in columns, all with their uncertainties in JSON.

    ``is_current`` is false once a later analysis or a correction has taken its place.
    """

    __tablename__ = "strokes"
    __table_args__ = (
        CheckConstraint("kind IN ('putt', 'rehearsal')", name="kind"),
        Index("ix_strokes_of_player", "player_id", "is_current", "deleted_step", "id"),
        Index("ix_strokes_of_session", "session_id", "is_current", "deleted_step", "id"),
        Index("ix_strokes_of_recording", "recording_id", "is_current", "deleted_step", "id"),
        Index("ix_strokes_analysis_id_number", "analysis_id", "number"),
    )
    player_id: Mapped[UUID] = of_player()
    session_id: Mapped[UUID] = mapped_column(ForeignKey("sessions.id"))
    recording_id: Mapped[UUID] = mapped_column(ForeignKey("recordings.id"))
    analysis_id: Mapped[UUID] = mapped_column(ForeignKey("analyses.id"))
    number: Mapped[int]
    kind: Mapped[str]
    is_current: Mapped[bool] = mapped_column(default=True)
    asked_m: Mapped[float | None]
    impact_time_s: Mapped[float | None]
    backswing_time_s: Mapped[float | None]
    downswing_time_s: Mapped[float | None]
    time_ratio: Mapped[float | None]
    backswing_length_m: Mapped[float | None]
    follow_through_length_m: Mapped[float | None]
    impact_speed_m_s: Mapped[float | None]
    impact_acceleration_index: Mapped[float | None]
    peak_speed_lead_s: Mapped[float | None]
    ball_speed_m_s: Mapped[float | None]
    roll_out_m: Mapped[float | None]
    smoothness_sparc: Mapped[float | None]
    path_angle_deg: Mapped[float | None]
    events: Mapped[Body] = mapped_column(default=dict)
    measures: Mapped[Body] = mapped_column(default=dict)
    quality: Mapped[list[Any]] = mapped_column(default=list)


class Curve(Row):
    """The fitted curve of a stroke, packed; see `records.packing`."""

    __tablename__ = "curves"
    stroke_id: Mapped[UUID] = mapped_column(ForeignKey("strokes.id"), primary_key=True)
    player_id: Mapped[UUID] = mapped_column(ForeignKey("players.id"), index=True)
    packed: Mapped[bytes]


class Finding(Identified, Deletable, Row):
    """A finding of an analysis, in the words of its contract (``body``)."""

    __tablename__ = "findings"
    __table_args__ = (Index("ix_findings_player_id_id", "player_id", "id"),)
    player_id: Mapped[UUID] = of_player()
    session_id: Mapped[UUID] = mapped_column(ForeignKey("sessions.id"), index=True)
    analysis_id: Mapped[UUID] = mapped_column(ForeignKey("analyses.id"), index=True)
    code: Mapped[str]
    severity: Mapped[str]
    body: Mapped[Body]


class Correction(Identified, Row):
    """An event that a person moved, and what it was before. ``analysis_id`` is the one that was looked at."""

    __tablename__ = "corrections"
    __table_args__ = (CheckConstraint("event IN ('takeaway', 'top', 'impact', 'finish')", name="event"),)
    player_id: Mapped[UUID] = mapped_column(ForeignKey("players.id"), index=True)
    recording_id: Mapped[UUID] = mapped_column(ForeignKey("recordings.id"), index=True)
    analysis_id: Mapped[UUID] = mapped_column(ForeignKey("analyses.id"), index=True)
    stroke_number: Mapped[int]
    event: Mapped[str]
    old_time_s: Mapped[float | None]
    new_time_s: Mapped[float]
    made_by: Mapped[str]
