"""Rows of the database become the values that the desk hands out."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from typing import Any, cast

from pacewright.app.desk import views
from pacewright.core.display import Units
from pacewright.core.green import Green as CoreGreen
from pacewright.core.measure import Measure, Remark
from pacewright.records import schema

OF_AGE = 18


def is_minor(player: schema.Player, today: dt.date | None = None) -> bool:
    """Whether a player is under age: as was said, else by the birth year, in doubt yes."""
    if player.is_minor is not None:
        return player.is_minor
    if player.birth_year is None:
        return False
    # Only the year is known, so the birthday may be still to come.
    return (today or dt.date.today()).year - player.birth_year <= OF_AGE


def player(row: schema.Player, missing_consents: tuple[str, ...] = ()) -> views.PlayerView:
    """A player."""
    return views.PlayerView(
        row.id, row.name, row.birth_year, is_minor(row), row.left_handed, cast(Units, row.units),
        row.language, row.notes, row.is_invented, row.version, row.created_at, missing_consents,
    )  # fmt: skip


def guardian(row: schema.Guardian) -> views.GuardianView:
    """A guardian."""
    return views.GuardianView(row.id, row.player_id, row.name, row.contact, row.relation)


def consent(row: schema.Consent) -> views.ConsentView:
    """A consent."""
    return views.ConsentView(
        row.id, row.player_id, cast(views.ConsentKind, row.kind), cast(views.GivenBy, row.given_by),
        row.guardian_id, row.how, row.recorded_by, row.given_at, row.withdrawn_at,
    )  # fmt: skip


def putter(row: schema.Putter) -> views.PutterView:
    """A putter."""
    return views.PutterView(
        row.id, row.player_id, row.name, row.head_mass_kg, row.restitution, row.notes, row.version
    )


def green(row: schema.Green) -> views.GreenView:
    """A green."""
    return views.GreenView(
        row.id, row.name, row.place, row.speed_m, row.speed_sd_m, row.slope_rad, row.cross_slope_rad,
        row.measured_at, row.measured_how, row.notes, row.version,
    )  # fmt: skip


def green_reading(row: schema.GreenReading) -> views.GreenReadingView:
    """One measuring of a green."""
    up, down = row.rolls if len(row.rolls) == 2 else ([], [])
    return views.GreenReadingView(
        row.id, row.green_id, row.measured_at, row.measured_how, row.speed_m, row.speed_sd_m, row.slope_rad,
        tuple(up), tuple(down),
    )  # fmt: skip


def green_of_session(row: schema.Session, name: str | None) -> CoreGreen | None:
    """The green as it was on the day of a session."""
    if row.green_speed_m is None:
        return None
    return CoreGreen(row.green_speed_m, row.green_slope_rad, row.green_cross_slope_rad, name or "")


def session(
    row: schema.Session, player_name: str, green_name: str | None, counts: Mapping[str, int] | None = None
) -> views.SessionView:
    """A session with its counts."""
    return views.SessionView(
        row.id, row.player_id, player_name, row.putter_id, row.green_id, green_of_session(row, green_name),
        row.held_on, row.ended_at, row.place, row.note, row.kind, row.group_id, row.turn,
        cast(Any, row.origin), row.is_unread, row.version, **(counts or {}),
    )  # fmt: skip


def upload(row: schema.Upload) -> views.UploadView:
    """A file on its way in."""
    return views.UploadView(
        row.id, row.player_id, row.session_id, row.name, row.size, row.received, row.is_complete
    )


def job(row: schema.Job) -> views.JobView:
    """A job."""
    return views.JobView(
        row.id, row.kind, cast(views.JobState, row.state), row.progress, row.error, row.player_id,
        row.session_id, row.recording_id, row.result_id, row.attempts, row.cancel_asked, row.created_at,
        row.started_at, row.ended_at,
    )  # fmt: skip


def recording(
    row: schema.Recording, analysis_id: Any = None, strokes: int = 0, newest_job: schema.Job | None = None
) -> views.RecordingView:
    """A recording with its newest analysis and job."""
    return views.RecordingView(
        row.id, row.player_id, row.session_id, row.name, cast(Any, row.kind), row.size, row.sha256,
        row.asked_m, row.settings, row.created_at, analysis_id, strokes,
        None if newest_job is None else job(newest_job),
    )  # fmt: skip


def analysis(row: schema.Analysis) -> views.AnalysisView:
    """An analysis."""
    return views.AnalysisView(
        row.id, row.player_id, row.recording_id, row.method, row.pacewright_version, row.settings, row.result,
        row.about, row.created_at, row.superseded_by,
    )  # fmt: skip


def measures(body: Mapping[str, Any]) -> dict[str, Measure]:
    """Measures kept as {name: [value, sd, method]}."""
    return {
        name: Measure(v, math.nan if sd is None else sd, method) for name, (v, sd, method) in body.items()
    }


def measures_body(found: Mapping[str, Measure]) -> dict[str, Any]:
    """As `measures` reads them; what is not known is left out."""
    return {
        name: [m.value, m.sd if math.isfinite(m.sd) else None, m.method]
        for name, m in found.items()
        if math.isfinite(m.value)
    }


def stroke(row: schema.Stroke) -> views.StrokeView:
    """A stroke."""
    return views.StrokeView(
        row.id, row.player_id, row.session_id, row.recording_id, row.analysis_id, row.number,
        cast(Any, row.kind), row.is_current, row.asked_m, measures(row.events), measures(row.measures),
        tuple(Remark(code, text) for code, text in row.quality),
    )  # fmt: skip


def correction(row: schema.Correction) -> views.CorrectionView:
    """An event that was moved."""
    return views.CorrectionView(
        row.id, row.analysis_id, row.stroke_number, cast(views.EventName, row.event), row.old_time_s,
        row.new_time_s, row.made_by, row.created_at,
    )  # fmt: skip


def finding(row: schema.Finding) -> views.FindingView:
    """A finding."""
    body = row.body
    return views.FindingView(
        row.id, row.player_id, row.session_id, row.analysis_id, row.code, row.severity, body["confidence"],
        body["statement"], body["evidence"], body["cause"], body["advice"], body["source"],
        tuple(body["strokes"]), row.created_at,
    )  # fmt: skip


def putt(row: schema.Putt) -> views.PuttView:
    """A putt."""
    return views.PuttView(
        row.id, row.player_id, row.session_id, row.stroke_id, row.client_id, row.played_at, row.asked_m,
        row.finish_along_m, row.finish_across_m, row.holed, row.guess_along_m, row.block, row.phase,
        row.beats_per_minute, row.beat_error_s, row.version,
    )  # fmt: skip


def plan(row: schema.Plan) -> views.PlanView:
    """A plan."""
    return views.PlanView(
        row.id, row.player_id, row.is_active, row.request, row.body, row.version, row.created_at
    )


def station(row: schema.Station) -> views.StationView:
    """A station."""
    return views.StationView(row.id, row.player_id, row.session_id, row.request, row.body, row.created_at)


def drill_result(row: schema.DrillResult) -> views.DrillResultView:
    """One go at a drill."""
    return views.DrillResultView(
        row.id, row.player_id, row.session_id, row.plan_id, row.client_id, row.drill, row.done_at, row.score
    )


def share(row: schema.ShareToken) -> views.ShareView:
    """A link handed to a player."""
    return views.ShareView(
        row.id, row.player_id, row.plan_id, row.label, row.created_at, row.expires_at, row.revoked_at,
        row.last_used_at,
    )  # fmt: skip


def user(row: schema.User) -> views.UserView:
    """Somebody who may log in."""
    return views.UserView(row.id, row.name, cast(views.Role, row.role), row.player_id, row.is_active)


def undo_step(row: schema.UndoStep, rows: int = 0) -> views.UndoView:
    """A deletion."""
    return views.UndoView(row.id, row.what, row.target_id, row.made_by, row.created_at, row.undone_at, rows)


def journal_entry(row: schema.JournalEntry) -> views.JournalView:
    """Who did what."""
    return views.JournalView(
        row.id, row.made_by, row.action, row.target, row.target_id, row.player_id, row.detail, row.created_at
    )
