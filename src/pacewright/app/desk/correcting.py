"""An event moved by hand: the stroke is measured again and a new analysis takes the place of the old one."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from typing import Any
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session as Transaction

from pacewright.app.assessment import Assessment
from pacewright.app.desk import analysis as analysing
from pacewright.app.desk.context import Context, alive
from pacewright.app.desk.remeasure import METHOD, measure_by_hand
from pacewright.app.desk.views import EventName
from pacewright.coaching.findings import find
from pacewright.core.errors import ConflictError, NotFoundError, SettingsError
from pacewright.core.measure import Remark
from pacewright.core.recording import Recording as CoreRecording
from pacewright.core.registry import EVENTS
from pacewright.core.stroke import Stroke as CoreStroke
from pacewright.readers import read
from pacewright.records import schema
from pacewright.records.packing import unpack_curve, unpack_recording

BY_HAND = "by_hand"
"""Name under which an analysis keeps the events that were set: stroke number, event, time in seconds."""
_SAME_TIME_S = 1e-6


def correct_event(context: Context, stroke_id: UUID, event: EventName, time_s: float) -> schema.Stroke:
    """Move an event of a stroke, measure it again, and write the analysis; returns the stroke that stands
    now.

    Moved back to where it was measured, the event is no longer one that a person set: it has its measured
    uncertainty again, and a stroke without any other correction is the one that was measured.
    """
    if event not in EVENTS or not math.isfinite(time_s):
        raise SettingsError(f"An event is one of {', '.join(EVENTS)}, at a time in seconds.")
    with context.read() as transaction:
        row = context.get(transaction, schema.Stroke, stroke_id, "stroke")
        if not row.is_current:
            raise ConflictError("This stroke was measured again meanwhile; look at the newest figures.")
        old = context.get(transaction, schema.Analysis, row.analysis_id, "analysis")
        strokes = _strokes_of(transaction, old.id)
        measured = _as_measured(transaction, row)
    wanted = analysing.wanted(context, row.recording_id)
    recording = load_recording(context, wanted)
    is_back = _is_at(measured, event, time_s)
    by_hand = _with_event(old.settings, row.number, event, None if is_back else time_s)
    moved = by_hand.get(str(row.number), {})
    if measured is not None and not moved:
        strokes[row.number] = measured
    else:
        strokes[row.number] = measure_by_hand(
            recording, strokes[row.number], moved, green=wanted.options.green, putter=wanted.options.putter
        )
    assessment = _assessment(old, recording, strokes, wanted)
    with context.write() as transaction:
        current = transaction.get(schema.Analysis, old.id, with_for_update=True)
        if current is None or current.superseded_by is not None:
            raise ConflictError("This recording was analysed again meanwhile; look at the newest figures.")
        new = analysing.write_analysis(
            transaction, wanted, assessment, method=analysing.BY_HAND, settings={BY_HAND: by_hand}
        )
        before = row.events.get(event)
        transaction.add(
            schema.Correction(
                player_id=row.player_id, recording_id=row.recording_id, analysis_id=old.id,
                stroke_number=row.number, event=event, old_time_s=None if before is None else before[0],
                new_time_s=time_s, made_by=context.actor.name,
            )
        )  # fmt: skip
        context.log(transaction, "correct", event, new.id, row.player_id)
        standing = transaction.scalar(
            select(schema.Stroke).where(
                schema.Stroke.analysis_id == new.id, schema.Stroke.number == row.number
            )
        )
        assert standing is not None
        return standing


def with_earlier_corrections(
    context: Context, wanted: analysing.Wanted, found: Assessment
) -> tuple[Assessment, dict[str, Any]]:
    """A new assessment with the events that were set by hand before set again, stroke by stroke."""
    with context.database.read() as transaction:
        old = transaction.scalar(
            select(schema.Analysis).where(
                schema.Analysis.recording_id == wanted.recording.id, schema.Analysis.superseded_by.is_(None)
            )
        )
        set_before = {} if old is None else old.settings.get(BY_HAND, {})
        before = {} if old is None or not set_before else dict(enumerate(_strokes_of(transaction, old.id)))
    strokes, kept = list(found.strokes), {}
    for number, moved in set_before.items():
        was_at = before[int(number)].events["impact"].value
        near = [
            (abs(s.events["impact"].value - was_at), k) for k, s in enumerate(strokes) if "impact" in s.events
        ]
        if not near or min(near)[0] > analysing.SAME_STROKE_S:
            continue
        k = min(near)[1]
        strokes[k] = measure_by_hand(
            found.recording, strokes[k], moved, green=wanted.options.green, putter=wanted.options.putter
        )
        kept[str(k)] = moved
    if not kept:
        return found, {}
    findings = tuple(find(strokes, baseline=wanted.options.baseline))
    return dataclasses.replace(found, strokes=tuple(strokes), findings=findings), {BY_HAND: kept}


def load_recording(context: Context, wanted: analysing.Wanted) -> CoreRecording:
    """The recording to measure again: from what was seen in its clip, else read from its file."""
    row = wanted.recording
    with context.database.read() as transaction:
        packed = newest_track(transaction, row.id)
    if packed is not None:
        return unpack_recording(packed)
    if row.kind == "clip":
        raise NotFoundError("What was seen in this clip was not kept; analyse it again first.")
    with context.files.checked(row.sha256).open("rb") as stream:
        return read(stream, wanted.options.read, name=row.name)


def newest_track(transaction: Transaction, recording_id: UUID) -> bytes | None:
    """The packed recording of the newest analysis that has one."""
    return transaction.scalar(
        select(schema.Track.packed)
        .join(schema.Analysis, schema.Analysis.id == schema.Track.analysis_id)
        .where(schema.Analysis.recording_id == recording_id)
        .order_by(schema.Analysis.id.desc())
        .limit(1)
    )


def _strokes_of(transaction: Transaction, analysis_id: UUID) -> list[CoreStroke]:
    """The strokes of an analysis with their curves, in their order."""
    rows = transaction.execute(
        select(schema.Stroke, schema.Curve.packed)
        .outerjoin(schema.Curve, schema.Curve.stroke_id == schema.Stroke.id)
        .where(schema.Stroke.analysis_id == analysis_id, alive(schema.Stroke))
        .order_by(schema.Stroke.number)
    )
    return [
        dataclasses.replace(
            analysing.core_stroke(row), curve=None if packed is None else unpack_curve(packed)
        )
        for row, packed in rows
    ]


def _as_measured(transaction: Transaction, row: schema.Stroke) -> CoreStroke | None:
    """The stroke as it was last measured with nothing moved by hand; None where that was not kept."""
    same = transaction.scalars(
        select(schema.Stroke)
        .where(schema.Stroke.recording_id == row.recording_id, schema.Stroke.number == row.number)
        .where(alive(schema.Stroke))
        .order_by(schema.Stroke.id.desc())
    )
    for kept in same:
        if kept.impact_time_s is None or row.impact_time_s is None:
            continue
        if abs(kept.impact_time_s - row.impact_time_s) > analysing.SAME_STROKE_S:
            continue
        if all(method != METHOD for _, _, method in kept.events.values()):
            return _strokes_of(transaction, kept.analysis_id)[kept.number]
    return None


def _is_at(stroke: CoreStroke | None, event: str, time_s: float) -> bool:
    """Whether the event of a stroke lies there."""
    found = None if stroke is None else stroke.events.get(event)
    return found is not None and abs(found.value - time_s) < _SAME_TIME_S


def _with_event(
    settings: Mapping[str, Any], number: int, event: str, time_s: float | None
) -> dict[str, dict[str, float]]:
    """The events set by hand, by stroke, with one more; with one less where ``time_s`` is None."""
    by_hand = {key: dict(events) for key, events in settings.get(BY_HAND, {}).items()}
    events = by_hand.pop(str(number), {})
    events.pop(event, None)
    if time_s is not None:
        events[event] = time_s
    return by_hand | ({str(number): events} if events else {})


def _assessment(
    old: schema.Analysis, recording: CoreRecording, strokes: list[CoreStroke], wanted: analysing.Wanted
) -> Assessment:
    remarks = tuple(Remark(remark["code"], remark["text"]) for remark in old.result["remarks"])
    findings = tuple(find(strokes, baseline=wanted.options.baseline))
    provenance = dataclasses.replace(recording.provenance, source=wanted.recording.name)
    named = dataclasses.replace(recording, provenance=provenance)
    return Assessment(wanted.recording.name, named, tuple(strokes), findings, remarks)
