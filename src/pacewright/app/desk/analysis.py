"""The job "analyse a recording": assess it, and write everything that follows in one transaction."""

from __future__ import annotations

import dataclasses
import math
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any
from uuid import UUID

from sqlalchemy import select, update
from sqlalchemy.orm import Session as Transaction

from pacewright.app.assessment import Assessment, assess, assessment_dict, finding_dict
from pacewright.app.desk import convert
from pacewright.app.desk.context import Context
from pacewright.app.desk.reading import assess_options
from pacewright.app.report import report_model
from pacewright.core.errors import NotFoundError, PacewrightError
from pacewright.core.stroke import Stroke as CoreStroke
from pacewright.records import schema
from pacewright.records.ids import new_id
from pacewright.records.packing import pack_curve, pack_recording

METHOD = "assess"
BY_HAND = "by hand"
BASELINE_STROKES = 120
SAME_STROKE_S = 0.25
"""Strokes of two analyses of one recording are the same when contact lies this near."""
COLUMNS = (
    "backswing_time_s", "downswing_time_s", "time_ratio", "backswing_length_m", "follow_through_length_m",
    "impact_speed_m_s", "impact_acceleration_index", "peak_speed_lead_s", "ball_speed_m_s", "roll_out_m",
    "smoothness_sparc", "path_angle_deg",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Wanted:
    """What an analysis needs to know of a recording."""

    recording: schema.Recording
    options: Any
    settings: Mapping[str, Any]


def assess_recording_row(
    context: Context,
    recording_id: UUID,
    progress: Callable[[float], None] | None = None,
    each: Callable[[CoreStroke], None] | None = None,
) -> tuple[Wanted, Assessment]:
    """Assess a stored recording; ``progress`` and ``each`` as for `assess`.

    Raises NotFoundError when it was deleted, else as `assess` does.
    """
    told = wanted(context, recording_id)
    row = told.recording
    with own_name(context, row) as path:
        (assessment,) = assess([path], told.options, progress=progress, each=each)
    provenance = dataclasses.replace(assessment.recording.provenance, source=row.name)
    recording = dataclasses.replace(assessment.recording, provenance=provenance)
    return told, dataclasses.replace(assessment, source=row.name, recording=recording)


@contextmanager
def own_name(context: Context, row: schema.Recording) -> Iterator[Path]:
    """The file of a recording under its own name, by which readers and messages go; on disk it lies under its
    hash. What is raised within names no folder."""
    path = context.files.checked(row.sha256)
    with tempfile.TemporaryDirectory(dir=context.files.incoming, prefix="read-") as folder:
        link = Path(folder) / row.name
        link.symlink_to(path.resolve())
        try:
            yield link
        except PacewrightError as error:
            raise type(error)(str(error).replace(str(link), row.name)) from error


def write_analysis(
    transaction: Transaction,
    wanted: Wanted,
    assessment: Assessment,
    *,
    method: str = METHOD,
    settings: Mapping[str, Any] | None = None,
) -> schema.Analysis:
    """Write an analysis with strokes, curves and findings, in place of the current one, which is kept.

    Raises NotFoundError when the recording was deleted meanwhile.
    """
    row = standing_recording(transaction, wanted.recording.id)
    analysis = schema.Analysis(
        player_id=row.player_id, session_id=row.session_id, recording_id=row.id, method=method,
        pacewright_version=pacewright_version(), settings=dict(wanted.settings) | dict(settings or {}),
        result=assessment_dict(assessment), about=report_model([assessment]).recordings[0],
    )  # fmt: skip
    transaction.add(analysis)
    transaction.flush()
    if assessment.recording.clip is not None:
        transaction.add(
            schema.Track(
                analysis_id=analysis.id, player_id=row.player_id, packed=pack_recording(assessment.recording)
            )
        )
    old = supersede(transaction, row.id, analysis.id)
    strokes = [_stroke_row(analysis, number, stroke) for number, stroke in enumerate(assessment.strokes)]
    transaction.add_all(strokes)
    transaction.flush()
    transaction.add_all(
        schema.Curve(stroke_id=kept.id, player_id=row.player_id, packed=pack_curve(stroke.curve))
        for kept, stroke in zip(strokes, assessment.strokes, strict=True)
        if stroke.curve is not None
    )
    transaction.add_all(_finding_rows(analysis, assessment))
    _relink_putts(transaction, old, strokes)
    transaction.execute(
        update(schema.Player)
        .where(schema.Player.id == row.player_id)
        .values(figures_version=schema.Player.figures_version + 1)
        .execution_options(synchronize_session=False)
    )
    return analysis


def standing_recording(transaction: Transaction, recording_id: UUID) -> schema.Recording:
    """The recording as it is now, locked. Raises NotFoundError when it was deleted meanwhile."""
    row = transaction.get(schema.Recording, recording_id, with_for_update=True, populate_existing=True)
    if row is None or row.deleted_step is not None:
        raise NotFoundError("The recording was deleted meanwhile.")
    return row


def baseline(transaction: Transaction, player_id: UUID, before: UUID) -> tuple[CoreStroke, ...]:
    """The player's newest putts of earlier recordings: the yardstick for findings."""
    rows = transaction.scalars(
        select(schema.Stroke)
        .where(
            schema.Stroke.player_id == player_id,
            schema.Stroke.is_current,
            schema.Stroke.deleted_step.is_(None),
            schema.Stroke.kind == "putt",
            schema.Stroke.recording_id < before,
        )
        .order_by(schema.Stroke.id.desc())
        .limit(BASELINE_STROKES)
    )
    return tuple(core_stroke(row, number) for number, row in enumerate(list(rows)[::-1]))


def core_stroke(row: schema.Stroke, index: int | None = None) -> CoreStroke:
    """A stored stroke as the figures want it, without its curve."""
    view = convert.stroke(row)
    return CoreStroke(
        kind=view.kind, events=view.events, measures=view.measures, quality=view.quality,
        index=row.number if index is None else index, asked_length_m=view.asked_m,
    )  # fmt: skip


def wanted(context: Context, recording_id: UUID) -> Wanted:
    """How a recording is to be read and judged. Raises NotFoundError when it was deleted."""
    with context.database.read() as transaction:
        row = transaction.get(schema.Recording, recording_id)
        if row is None or row.deleted_step is not None:
            raise NotFoundError("The recording was deleted.")
        session = transaction.get(schema.Session, row.session_id)
        player = transaction.get(schema.Player, row.player_id)
        assert session is not None
        assert player is not None
        putter = transaction.get(schema.Putter, session.putter_id) if session.putter_id else None
        green = convert.green_of_session(session, None)
        options = assess_options(
            row.settings,
            asked_m=row.asked_m,
            green=green,
            putter=None if putter is None else convert.putter(putter).putter,
            left_handed=player.left_handed,
            baseline=baseline(transaction, row.player_id, row.id),
        )
        settings = dict(row.settings) | {
            "asked_m": row.asked_m,
            "left_handed": options.read.left_handed,
            "green_speed_m": None if green is None else green.speed_m,
            "head_mass_kg": options.putter.head_mass_kg,
        }
        return Wanted(row, options, settings)


def supersede(transaction: Transaction, recording_id: UUID, by: UUID) -> list[schema.Stroke]:
    """Mark the analyses before ``by`` as superseded; returns the strokes that were current."""
    transaction.execute(
        update(schema.Analysis)
        .where(
            schema.Analysis.recording_id == recording_id,
            schema.Analysis.superseded_by.is_(None),
            schema.Analysis.id != by,
        )
        .values(superseded_by=by)
        .execution_options(synchronize_session=False)
    )
    current = list(
        transaction.scalars(
            select(schema.Stroke).where(schema.Stroke.recording_id == recording_id, schema.Stroke.is_current)
        )
    )
    for stroke in current:
        stroke.is_current = False
    return current


def _relink_putts(
    transaction: Transaction, old: Sequence[schema.Stroke], new: Sequence[schema.Stroke]
) -> None:
    """Putts that hung on a stroke of the old analysis hang on the same stroke of the new one."""
    if not old:
        return
    putts = transaction.scalars(
        select(schema.Putt).where(schema.Putt.stroke_id.in_([stroke.id for stroke in old]))
    )
    place = {stroke.id: stroke.impact_time_s for stroke in old}
    for putt in putts:
        assert putt.stroke_id is not None
        was_at = place[putt.stroke_id]
        near = [
            (abs(stroke.impact_time_s - was_at), stroke.number, stroke)
            for stroke in new
            if stroke.impact_time_s is not None and was_at is not None
        ]
        if near and min(near)[0] <= SAME_STROKE_S:
            putt.stroke_id = min(near)[2].id


def _stroke_row(analysis: schema.Analysis, number: int, stroke: CoreStroke) -> schema.Stroke:
    def known(value: float) -> float | None:
        return value if math.isfinite(value) else None

    impact = stroke.events.get("impact")
    return schema.Stroke(
        id=new_id(), player_id=analysis.player_id, session_id=analysis.session_id,
        recording_id=analysis.recording_id, analysis_id=analysis.id, number=number, kind=stroke.kind,
        asked_m=stroke.asked_length_m, impact_time_s=None if impact is None else known(impact.value),
        events=convert.measures_body(stroke.events), measures=convert.measures_body(stroke.measures),
        quality=[[remark.code, remark.text] for remark in stroke.quality],
        **{name: known(stroke.value(name)) for name in COLUMNS},
    )  # fmt: skip


def _finding_rows(analysis: schema.Analysis, assessment: Assessment) -> list[schema.Finding]:
    return [
        schema.Finding(
            player_id=analysis.player_id, session_id=analysis.session_id, analysis_id=analysis.id,
            code=finding.id, severity=finding.severity, body=finding_dict(finding),
        )
        for finding in assessment.findings
    ]  # fmt: skip


@cache
def pacewright_version() -> str:
    """The version of Pacewright that works here."""
    from importlib.metadata import version

    return version("pacewright")
