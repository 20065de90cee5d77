"""What the desk hands out: plain values, no rows of the database. Lengths in metres, times in seconds."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Generic, Literal, TypeVar
from uuid import UUID

from pacewright.core.display import Units
from pacewright.core.equipment import Putter
from pacewright.core.green import Green
from pacewright.core.measure import Measure, Remark
from pacewright.core.stroke import StrokeKind

T = TypeVar("T")
Role = Literal["coach", "assistant", "player"]
ConsentKind = Literal["recording", "sharing", "clip_review"]
GivenBy = Literal["player", "guardian"]
JobState = Literal["queued", "running", "done", "failed", "cancelled", "stuck"]
EventName = Literal["takeaway", "top", "impact", "finish"]


@dataclass(frozen=True, slots=True)
class Page(Generic[T]):
    """Some of a list. ``next`` goes into ``after`` for the following page; None at the end."""

    items: tuple[T, ...]
    next: str | None = None


@dataclass(frozen=True, slots=True)
class PlayerView:
    """A player. ``is_minor`` is worked out from the birth year where nobody said it; ``missing_consents``
    are the sentences that say whose consent to recording is still wanted (empty: recordings may be kept).
    """

    id: UUID
    name: str
    birth_year: int | None
    is_minor: bool
    left_handed: bool
    units: Units
    language: str
    notes: str
    is_invented: bool
    version: int
    created_at: datetime
    missing_consents: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PlayerLine:
    """A player in a list: when last seen, how much is there, what came in unread."""

    id: UUID
    name: str
    left_handed: bool
    is_minor: bool
    is_invented: bool
    last_session_on: dt.date | None
    sessions: int
    unread: int


@dataclass(frozen=True, slots=True)
class GuardianView:
    """A parent or guardian."""

    id: UUID
    player_id: UUID
    name: str
    contact: str
    relation: str


@dataclass(frozen=True, slots=True)
class ConsentView:
    """What somebody agreed to. ``withdrawn_at`` None: it holds."""

    id: UUID
    player_id: UUID
    kind: ConsentKind
    given_by: GivenBy
    guardian_id: UUID | None
    how: str
    recorded_by: str
    given_at: datetime
    withdrawn_at: datetime | None


@dataclass(frozen=True, slots=True)
class PutterView:
    """A player's putter."""

    id: UUID
    player_id: UUID
    name: str
    head_mass_kg: float
    restitution: float
    notes: str
    version: int

    @property
    def putter(self) -> Putter:
        """For the physics."""
        return Putter(self.head_mass_kg, self.restitution, self.name)


@dataclass(frozen=True, slots=True)
class GreenView:
    """A green as it was measured last."""

    id: UUID
    name: str
    place: str
    speed_m: float
    speed_sd_m: float | None
    slope_rad: float
    cross_slope_rad: float
    measured_at: datetime | None
    measured_how: str
    notes: str
    version: int

    @property
    def green(self) -> Green:
        """For the physics."""
        return Green(self.speed_m, self.slope_rad, self.cross_slope_rad, self.name)


@dataclass(frozen=True, slots=True)
class GreenReadingView:
    """One measuring of a green; ``rolls_m`` are the single rolls, up the slope and down it."""

    id: UUID
    green_id: UUID
    measured_at: datetime
    measured_how: str
    speed_m: float
    speed_sd_m: float | None
    slope_rad: float
    up_m: tuple[float, ...] = ()
    down_m: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class SessionView:
    """A session with its counts. ``green`` is the green as it was that day, None when none was named."""

    id: UUID
    player_id: UUID
    player_name: str
    putter_id: UUID | None
    green_id: UUID | None
    green: Green | None
    held_on: dt.date
    ended_at: datetime | None
    place: str
    note: str
    kind: str
    group_id: UUID | None
    turn: int
    origin: Literal["desk", "player"]
    is_unread: bool
    version: int
    recordings: int = 0
    strokes: int = 0
    putts: int = 0
    open_jobs: int = 0


@dataclass(frozen=True, slots=True)
class UploadView:
    """A file on its way in: ``received`` of ``size`` bytes are safe."""

    id: UUID
    player_id: UUID
    session_id: UUID
    name: str
    size: int
    received: int
    is_complete: bool


@dataclass(frozen=True, slots=True)
class JobView:
    """Work outside the request. ``progress`` from 0 to 1; ``error`` is a sentence for a person."""

    id: UUID
    kind: str
    state: JobState
    progress: float
    error: str
    player_id: UUID | None
    session_id: UUID | None
    recording_id: UUID | None
    result_id: UUID | None
    attempts: int
    cancel_asked: bool
    created_at: datetime
    started_at: datetime | None
    ended_at: datetime | None

    @property
    def is_open(self) -> bool:
        """Whether it waits or runs."""
        return self.state in ("queued", "running")


@dataclass(frozen=True, slots=True)
class RecordingView:
    """A recording, its newest analysis and the newest job on it."""

    id: UUID
    player_id: UUID
    session_id: UUID
    name: str
    kind: Literal["clip", "sound", "table", "motion"]
    size: int
    sha256: str
    asked_m: float | None
    settings: Mapping[str, Any]
    created_at: datetime
    analysis_id: UUID | None = None
    strokes: int = 0
    job: JobView | None = None


@dataclass(frozen=True, slots=True)
class AnalysisView:
    """What one run made of a recording; ``result`` in the words of `docs/contracts/assessment-json.md`."""

    id: UUID
    player_id: UUID
    recording_id: UUID
    method: str
    pacewright_version: str
    settings: Mapping[str, Any]
    result: Mapping[str, Any]
    about: str
    created_at: datetime
    superseded_by: UUID | None


@dataclass(frozen=True, slots=True)
class StrokeView:
    """A stroke with its events (seconds on the recording's clock) and measures by name."""

    id: UUID
    player_id: UUID
    session_id: UUID
    recording_id: UUID
    analysis_id: UUID
    number: int
    kind: StrokeKind
    is_current: bool
    asked_m: float | None
    events: Mapping[str, Measure]
    measures: Mapping[str, Measure]
    quality: tuple[Remark, ...] = ()


@dataclass(frozen=True, slots=True)
class StrokeLine:
    """A stroke as a line of a list: whose, of which day, the how manieth of its recording; no figures."""

    id: UUID
    player_id: UUID
    session_id: UUID
    number: int
    held_on: dt.date
    player_name: str
    recording_kind: Literal["clip", "sound", "table", "motion"]


@dataclass(frozen=True, slots=True)
class CorrectionView:
    """An event that a person moved."""

    id: UUID
    analysis_id: UUID
    stroke_number: int
    event: EventName
    old_time_s: float | None
    new_time_s: float
    made_by: str
    created_at: datetime


@dataclass(frozen=True, slots=True)
class FindingView:
    """A finding of an analysis, in the words of its contract; ``stroke_numbers`` count from 0."""

    id: UUID
    player_id: UUID
    session_id: UUID
    analysis_id: UUID
    code: str
    severity: str
    confidence: str
    statement: str
    evidence: str
    cause: str
    advice: str
    source: str
    stroke_numbers: tuple[int, ...]
    created_at: datetime


@dataclass(frozen=True, slots=True)
class PuttView:
    """A putt. ``finish_along_m`` is None for a holed putt whose pace was not noted."""

    id: UUID
    player_id: UUID
    session_id: UUID
    stroke_id: UUID | None
    client_id: str | None
    played_at: datetime
    asked_m: float
    finish_along_m: float | None
    finish_across_m: float | None
    holed: bool
    guess_along_m: float | None
    block: str
    phase: str
    beats_per_minute: float | None
    beat_error_s: float | None
    version: int


@dataclass(frozen=True, slots=True)
class PlanView:
    """A practice plan, in the words of ``plan --json`` (`body`)."""

    id: UUID
    player_id: UUID
    is_active: bool
    request: Mapping[str, Any]
    body: Mapping[str, Any]
    version: int
    created_at: datetime


@dataclass(frozen=True, slots=True)
class StationView:
    """A station that was kept, in the words of ``station --json`` (`body`)."""

    id: UUID
    player_id: UUID
    session_id: UUID | None
    request: Mapping[str, Any]
    body: Mapping[str, Any]
    created_at: datetime


@dataclass(frozen=True, slots=True)
class DrillResultView:
    """One go at a drill."""

    id: UUID
    player_id: UUID
    session_id: UUID
    plan_id: UUID | None
    client_id: str | None
    drill: str
    done_at: datetime
    score: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class ShareView:
    """A link handed to a player. The token itself is shown once, when it is made."""

    id: UUID
    player_id: UUID
    plan_id: UUID | None
    label: str
    created_at: datetime
    expires_at: datetime
    revoked_at: datetime | None
    last_used_at: datetime | None


@dataclass(frozen=True, slots=True)
class UserView:
    """Somebody who may log in."""

    id: UUID
    name: str
    role: Role
    player_id: UUID | None
    is_active: bool


@dataclass(frozen=True, slots=True)
class UndoView:
    """A deletion, to be taken back with `undo.take_back`. ``rows`` counts what went with it."""

    id: UUID
    what: str
    target_id: UUID
    made_by: str
    made_at: datetime
    undone_at: datetime | None
    rows: int = 0


@dataclass(frozen=True, slots=True)
class JournalView:
    """Who did what, when."""

    id: UUID
    made_by: str
    action: str
    target: str
    target_id: UUID | None
    player_id: UUID | None
    detail: Mapping[str, Any]
    made_at: datetime


@dataclass(frozen=True, slots=True)
class BackupView:
    """A backup file, as its own table of contents tells it."""

    name: str
    size: int
    made_at: datetime
    revision: str
    rows: int
    recordings: int


@dataclass(frozen=True, slots=True)
class ErasureView:
    """What an erasure took away, and the backups that still hold the player: delete them to be rid of it."""

    player_id: UUID
    rows: int
    files: int
    backups: tuple[str, ...]
    sentences: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ImportView:
    """What an import brought."""

    player_id: UUID
    rows_added: int
    rows_there_already: int
    files_added: int
