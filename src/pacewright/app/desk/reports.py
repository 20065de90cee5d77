"""Things to hand over, as bytes: report, marker strip, beats, plan, calendar."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session as Transaction

from pacewright.app.assessment import Assessment
from pacewright.app.desk import convert, hearing
from pacewright.app.desk.analysis import core_stroke
from pacewright.app.desk.context import Context, alive
from pacewright.app.desk.planning import make_plan
from pacewright.app.desk.practice import PlanRequest, StationRequest, Stations
from pacewright.app.outputs import BeatPlan, green_text
from pacewright.app.report import ReportOptions, report_model
from pacewright.core.display import Units
from pacewright.core.equipment import Putter as CorePutter
from pacewright.core.errors import QualityError
from pacewright.core.finding import Finding as CoreFinding
from pacewright.core.measure import Remark
from pacewright.core.recording import Provenance
from pacewright.core.recording import Recording as CoreRecording
from pacewright.core.stroke import Stroke as CoreStroke
from pacewright.records.packing import unpack_curve
from pacewright.records.schema import Analysis, Curve, Finding, Player, Putter, Session, Stroke
from pacewright.render.model import ReportModel
from pacewright.render.typeset import Paper

MOST_STROKES = 200
NO_STROKE = "There is no stroke in these sessions yet; record some, or wait for the analysis."
ReportKind = Literal["pdf", "html"]


@dataclass(frozen=True, slots=True)
class ReportRequest:
    """What a report shows: the sessions, and with a green and lengths the station to practise on.

    ``putt_lengths_m`` empty takes the lengths that were asked. Units None are the player's.
    """

    session_ids: tuple[UUID, ...]
    title: str = "Putting strokes"
    units: Units | None = None
    putt_lengths_m: tuple[float, ...] = ()
    beats_per_minute: float = 90.0
    paper: Paper = "a4"


class Reports:
    """Things to hand over."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def report(self, request: ReportRequest, kind: ReportKind = "pdf") -> bytes:
        """The report on the strokes of sessions of one player, from what their analyses kept.

        Raises NotFoundError, QualityError when there is no stroke in them, SettingsError for sessions of
        several players.
        """
        model = self.model(request)
        if kind == "pdf":
            from pacewright.render.pdf import report_pdf

            return report_pdf(model, request.paper)
        from pacewright.render.html import report_html

        return report_html(model).encode()

    def check(self, request: ReportRequest) -> None:
        """Raise what `report` would raise for these sessions and lengths. Without lengths of its own nothing
        can be wrong but the choice of sessions, and the report need not be worked out for that."""
        if request.putt_lengths_m:
            self.model(request)
            return
        with self._context.read() as transaction:
            sessions = self._sessions(transaction, request)
            stroke = (
                select(Stroke.id)
                .join(Analysis, Analysis.id == Stroke.analysis_id)
                .where(Stroke.session_id.in_([one.id for one in sessions]), Stroke.is_current, alive(Stroke))
                .where(Analysis.superseded_by.is_(None), alive(Analysis))
                .limit(1)
            )
            if transaction.scalar(stroke) is None:
                raise QualityError(NO_STROKE)

    def _sessions(self, transaction: Transaction, request: ReportRequest) -> list[Session]:
        sessions = [self._context.get(transaction, Session, one, "session") for one in request.session_ids]
        if not sessions or len({session.player_id for session in sessions}) > 1:
            raise QualityError("A report is about one or more sessions of one player.")
        return sessions

    def model(self, request: ReportRequest) -> ReportModel:
        """What a report shows, for a page's charts (`app.charts` draws them)."""
        with self._context.read() as transaction:
            sessions = self._sessions(transaction, request)
            player = self._context.get(transaction, Player, sessions[0].player_id, "player")
            newest = max(sessions, key=lambda session: (session.held_on, session.id))
            putter = transaction.get(Putter, newest.putter_id) if newest.putter_id else None
            analyses = list(
                transaction.scalars(
                    select(Analysis)
                    .where(Analysis.session_id.in_(request.session_ids), Analysis.superseded_by.is_(None))
                    .where(alive(Analysis), Analysis.method != hearing.METHOD)
                    .order_by(Analysis.recording_id)
                )
            )
            strokes = list(
                transaction.scalars(
                    select(Stroke)
                    .where(Stroke.analysis_id.in_([analysis.id for analysis in analyses]), alive(Stroke))
                    .order_by(Stroke.recording_id, Stroke.number)
                    .limit(MOST_STROKES)
                )
            )
            ids = [stroke.id for stroke in strokes]
            curves = {
                row.stroke_id: row.packed
                for row in transaction.scalars(select(Curve).where(Curve.stroke_id.in_(ids)))
            }
            findings = list(
                transaction.scalars(
                    select(Finding).where(Finding.analysis_id.in_([analysis.id for analysis in analyses]))
                )
            )
        if not strokes:
            raise QualityError(NO_STROKE)
        options = ReportOptions(
            player=player.name, title=request.title, date=newest.held_on,
            units=request.units or convert.player(player).units, green=convert.green_of_session(newest, None),
            putt_lengths_m=request.putt_lengths_m, beats_per_minute=request.beats_per_minute,
            putter=CorePutter() if putter is None else convert.putter(putter).putter,
        )  # fmt: skip
        assessments = [_assessment(analysis, strokes, curves, findings) for analysis in analyses]
        model = report_model(assessments, options)
        return dataclasses.replace(model, recordings=tuple(analysis.about for analysis in analyses))

    def strip(
        self, player_id: UUID | None, request: StationRequest, *, paper: Paper = "a4", units: Units = "metric"
    ) -> bytes:
        """The marker strip of a station as PDF at true scale."""
        from pacewright.app.desk.equipment import Greens
        from pacewright.render.strip import strip_pdf

        station = Stations(self._context).preview(player_id, request)
        green = Greens(self._context).get(request.green_id).green
        return strip_pdf(station, paper, green=green_text(green, units), units=units)

    def beats(self, plan: BeatPlan, kind: Literal["wav", "flac"] = "wav") -> bytes:
        """A click track."""
        from pathlib import Path

        from pacewright.render.audio import audio_bytes, check_audio_path
        from pacewright.render.beats import click_track

        return audio_bytes(click_track(plan), check_audio_path(Path(f"beats.{kind}")))

    def plan(
        self, player_id: UUID, request: PlanRequest, kind: Literal["pdf", "html", "ics"] = "pdf",
        *, units: Units = "metric", paper: Paper = "a4", at: dt.time = dt.time(17, 0),
    ) -> bytes:  # fmt: skip
        """A plan as PDF, page or calendar, made from the request that was kept with it (`plan_request`)."""
        plan = make_plan(self._context, player_id, request)
        if kind == "ics":
            from pacewright.render.calendar import plan_calendar

            return plan_calendar(plan, at, units, dt.datetime.now(dt.UTC))
        if kind == "pdf":
            from pacewright.render.plan import plan_pdf

            return plan_pdf(plan, units, paper)
        from pacewright.render.plan import plan_html

        return plan_html(plan, units).encode()


def _assessment(
    analysis: Analysis, strokes: Sequence[Stroke], curves: dict[UUID, bytes], findings: Sequence[Finding]
) -> Assessment:
    """The assessment that an analysis kept. Its recording is a name and a kind: the traces are not needed."""
    result = analysis.result
    recording = CoreRecording(
        kind=result["kind"],
        traces={},
        provenance=Provenance(result["source"], result["sha256"], ""),
        mirrored=result["mirrored"],
    )
    own: list[CoreStroke] = []
    for row in strokes:
        if row.analysis_id == analysis.id:
            packed = curves.get(row.id)
            curve = None if packed is None else unpack_curve(packed)
            own.append(dataclasses.replace(core_stroke(row), curve=curve, source=result["source"]))
    found = tuple(_finding(row) for row in findings if row.analysis_id == analysis.id)
    remarks = tuple(Remark(remark["code"], remark["text"]) for remark in result["remarks"])
    return Assessment(result["source"], recording, tuple(own), found, remarks)


def _finding(row: Finding) -> CoreFinding:
    body = dict(row.body)
    strokes = tuple(body.pop("strokes"))
    return CoreFinding(**body | {"chain": tuple(body["chain"])}, stroke_indices=strokes)
