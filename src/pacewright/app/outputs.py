"""Use cases that leave a file behind: report, marker strip, click track."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from pacewright.app.answers import PuttTables
from pacewright.app.assessment import AssessOptions, Progress, assess
from pacewright.app.files import check_folder, write_whole
from pacewright.app.report import ReportOptions, green_text, report_model
from pacewright.core.display import Units
from pacewright.core.errors import QualityError, SettingsError
from pacewright.core.station import Station
from pacewright.render.audio import audio_bytes, check_audio_path
from pacewright.render.beats import BeatPlan, ClickTrack, click_track
from pacewright.render.model import ReportModel
from pacewright.render.typeset import Paper, check_paper

__all__ = [
    "BeatPlan",
    "PuttTables",
    "ReportModel",
    "ReportOptions",
    "check_paper",
    "green_text",
    "make_report",
    "write_beats",
    "write_report",
    "write_strip",
]


def make_report(
    paths: Sequence[str | Path],
    out: str | Path,
    *,
    assess_options: AssessOptions | None = None,
    options: ReportOptions | None = None,
    paper: Paper = "a4",
    progress: Progress | None = None,
) -> ReportModel:
    """Assess the recordings of one player and write the report on them as PDF or HTML.

    There may be no recording where ``options`` name tables of putts. Raises ReadError for a file that cannot
    be read, SettingsError for an ending other than .pdf or .html, QualityError when no recording holds a
    stroke and there is no table of putts.
    """
    _report_kind(Path(out))
    check_folder(out)
    options = options or ReportOptions()
    if not paths and options.tables.is_empty:
        raise SettingsError("There is nothing to report; give recordings, or a table of putts with --putts.")
    assessments = assess(paths, assess_options, progress=progress) if paths else []
    if options.tables.is_empty and not any(assessment.strokes for assessment in assessments):
        remarks = " ".join(remark.text for assessment in assessments for remark in assessment.remarks)
        raise QualityError(f"There is nothing to report. {remarks}")
    model = report_model(assessments, options)
    write_report(model, out, paper)
    return model


def write_report(model: ReportModel, out: str | Path, paper: Paper = "a4") -> None:
    """Write a report; the ending decides: ``.pdf``, or ``.html`` for one self-contained page."""
    path = Path(out)
    if _report_kind(path) == "pdf":
        from pacewright.render.pdf import report_pdf

        write_whole(path, report_pdf(model, paper))
    else:
        from pacewright.render.html import report_html

        write_whole(path, report_html(model).encode("utf-8"))


def write_strip(
    station: Station, out: str | Path, *, paper: Paper = "a4", green: str = "", units: Units = "metric"
) -> None:
    """Write the marker strip of a station as PDF at true scale; ``green`` is shown on each tile."""
    path = Path(out)
    if path.suffix.lower() != ".pdf":
        raise SettingsError(f"'{path.name}' must end in .pdf.")
    from pacewright.render.strip import strip_pdf

    write_whole(path, strip_pdf(station, paper, green=green, units=units))


def write_beats(plan: BeatPlan, out: str | Path) -> ClickTrack:
    """Write the click track of a plan as WAV or FLAC, by the ending, and return it."""
    path = Path(out)
    sound_format = check_audio_path(path)
    track = click_track(plan)
    write_whole(path, audio_bytes(track, sound_format))
    return track


def _report_kind(path: Path) -> str:
    kind = {".pdf": "pdf", ".html": "html", ".htm": "html"}.get(path.suffix.lower())
    if kind is None:
        raise SettingsError(f"'{path.name}' must end in .pdf or .html.")
    return kind
