"""Use case: every recording of a folder, on all cores, resumable, with one summary table."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import math
import statistics
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from pacewright import __version__
from pacewright.app.assessment import Assessment, AssessOptions, Progress, assess, assessment_dict
from pacewright.app.files import write_whole
from pacewright.app.strokes_json import parse_strokes
from pacewright.app.workers import Outcome, run_each
from pacewright.core.errors import PacewrightError, ReadError, SettingsError
from pacewright.core.registry import MEASURES
from pacewright.readers.profiles import with_profile
from pacewright.tracking.options import SUFFIXES as CLIP_ENDINGS

ENDINGS = CLIP_ENDINGS | {".csv", ".tsv", ".txt", ".dat", ".c3d", ".trc"}
SCHEMA = "pacewright.batch/1"
_BLOCK = 1 << 20


@dataclass(frozen=True, slots=True)
class BatchRow:
    """One recording: its assessment as `assess --json` prints it, or why there is none.

    ``was_done`` tells that the result of an earlier run was taken. ``medians`` holds the median of each
    measure over the putts, or over the rehearsal strokes where there is no putt.
    """

    file: str
    assessment: Mapping[str, Any] | None
    message: str
    was_done: bool
    putts: int = 0
    rehearsals: int = 0
    medians: Mapping[str, float] | None = None


@dataclass(frozen=True, slots=True)
class BatchResult:
    """What a run gave: rows by file name, where the tables lie, and files of other endings."""

    rows: tuple[BatchRow, ...]
    summary_csv: Path
    strokes_json: Path
    passed_over: tuple[str, ...]

    @property
    def failures(self) -> tuple[BatchRow, ...]:
        """Recordings without an assessment."""
        return tuple(row for row in self.rows if row.assessment is None)


def batch(
    folder: str | Path,
    out: str | Path | None = None,
    options: AssessOptions | None = None,
    *,
    workers: int | None = None,
    progress: Progress | None = None,
) -> BatchResult:
    """Assess every recording that lies in a folder; the results go to ``out`` (``FOLDER/assessed``).

    Each result is a file of its own, named by the recording's content and the options, and written whole: a
    run that was stopped, however hard, goes on where it was, and other options begin anew. A recording that
    fails is told and does not stop the others. Raises SettingsError for a folder without recordings.
    """
    folder = Path(folder)
    out = Path(out) if out is not None else folder / "assessed"
    options = options or AssessOptions()
    if len(options.asked_length_m) > 1:
        raise SettingsError("A batch takes one putt length for all recordings; several were given.")
    if workers is not None and workers < 1:
        raise SettingsError(f"{workers} workers make no sense; use 1 or more.")
    files, passed_over = _recordings(folder)
    results = out / "results"
    try:
        results.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SettingsError(f"'{out}' cannot be used: {error.strerror}.") from None
    for left_over in results.glob(".*.part"):
        left_over.unlink(missing_ok=True)
    rows = _run(files, results, options, workers, progress)
    summary, strokes = out / "summary.csv", out / "strokes.json"
    write_whole(summary, _summary_csv(rows).encode())
    assessments = [row.assessment for row in rows if row.assessment is not None]
    write_whole(strokes, json.dumps(assessments, indent=1).encode())
    return BatchResult(tuple(rows), summary, strokes, passed_over)


def _recordings(folder: Path) -> tuple[list[Path], tuple[str, ...]]:
    """Files that may be recordings by their ending, and the names of the others."""
    if not folder.is_dir():
        raise SettingsError(f"'{folder}' is not a folder.")
    seen = sorted(path for path in folder.iterdir() if path.is_file() and not path.name.startswith("."))
    files = [path for path in seen if path.suffix.lower() in ENDINGS]
    if not files:
        raise SettingsError(
            f"There is no recording in '{folder}'; it looks for {', '.join(sorted(ENDINGS))}."
        )
    return files, tuple(path.name for path in seen if path.suffix.lower() not in ENDINGS)


def _run(
    files: Sequence[Path],
    results: Path,
    options: AssessOptions,
    workers: int | None,
    progress: Progress | None,
) -> list[BatchRow]:
    rows: dict[Path, BatchRow] = {}
    places: dict[Path, Path] = {}
    said = options_fingerprint(options)
    for path in files:
        try:
            places[path] = results / f"{_sha256(path)[:32]}-{said[:16]}.json"
        except OSError as error:
            rows[path] = BatchRow(path.name, None, f"{path.name}: cannot be opened: {error.strerror}.", False)
            continue
        kept = _kept(places[path])
        if kept is not None:
            rows[path] = _row(path, kept, was_done=True)
    waiting = sorted((path for path in files if path not in rows), key=_size, reverse=True)
    total, done = sum(map(_size, files)), sum(map(_size, rows))
    told = _told(progress, total)
    told(done)
    tasks = [(str(path), options) for path in waiting]
    for number, outcome in run_each(assess_file, tasks, workers=workers):
        path = waiting[number]
        body = _body(path, outcome)
        if outcome.kind == "done":  # what went wrong by chance is tried again next time
            write_whole(places[path], json.dumps(body).encode())
        rows[path] = _row(path, body, was_done=False)
        done += _size(path)
        told(done)
    return [rows[path] for path in files]


def assess_file(task: tuple[str, AssessOptions]) -> dict[str, Any]:
    """The result of one recording as it is kept; runs in a process of its own."""
    path, options = task
    try:
        (assessment,) = assess([path], replace(options, curves=False))
    except PacewrightError as error:
        return {"error": type(error).__name__, "message": str(error)}
    return {"assessment": _named(assessment, path)}


def _named(assessment: Assessment, path: str) -> dict[str, object]:
    return {**assessment_dict(assessment), "source": Path(path).name}


def _body(path: Path, outcome: Outcome) -> dict[str, Any]:
    base = {"schema": SCHEMA, "recording": path.name}
    if outcome.kind == "done":
        return {**base, **outcome.value}
    why = {
        "raised": f"{path.name}: this recording brought Pacewright to a fault of its own ({outcome.value}).",
        "died": f"{path.name}: the process that read it ended ({outcome.value}).",
        "late": f"{path.name}: {outcome.value}.",
    }[outcome.kind]
    return {**base, "error": outcome.kind, "message": why}


def _kept(place: Path) -> dict[str, Any] | None:
    """A result of an earlier run; None when there is none, or none that can be read."""
    try:
        body = json.loads(place.read_bytes())
    except (OSError, ValueError):
        return None
    whole = (
        isinstance(body, dict) and body.get("schema") == SCHEMA and ("assessment" in body or "error" in body)
    )
    return body if whole else None


def _row(path: Path, body: Mapping[str, Any], *, was_done: bool) -> BatchRow:
    assessment = body.get("assessment")
    if assessment is None:
        return BatchRow(path.name, None, str(body.get("message", "")), was_done)
    assessment = {**assessment, "source": path.name}
    try:
        strokes = parse_strokes(json.dumps(assessment), path.name)
    except ReadError as error:
        return BatchRow(path.name, None, str(error), was_done)
    putts = [stroke for stroke in strokes if stroke.kind == "putt"]
    medians = {}
    for name in MEASURES:
        values = [value for stroke in putts or strokes if math.isfinite(value := stroke.value(name))]
        if values:
            medians[name] = statistics.median(values)
    remarks = " ".join(remark["text"] for remark in assessment.get("remarks", []))
    return BatchRow(
        path.name, assessment, remarks, was_done, len(putts), len(strokes) - len(putts), medians
    )  # fmt: skip


def _summary_csv(rows: Sequence[BatchRow]) -> str:
    """One row a recording: counts, medians of every measure that was seen, and what there is to say."""
    shown = [name for name in MEASURES if any(row.medians and name in row.medians for row in rows)]
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(
        ["recording", "status", "putts", "rehearsals", *(f"median_{name}" for name in shown), "message"]
    )
    for row in rows:
        medians = row.medians or {}
        figures = [f"{medians[name]:.6g}" if name in medians else "" for name in shown]
        status = "failed" if row.assessment is None else "done"
        table.writerow([row.file, status, row.putts, row.rehearsals, *figures, row.message])
    return text.getvalue()


def options_fingerprint(options: AssessOptions) -> str:
    """A hash of all that can change a result: the options (what a profile says too), and the version."""
    quiet = replace(options, read=replace(with_profile(options.read), progress=None), curves=False)
    return hashlib.sha256(repr((__version__, quiet)).encode()).hexdigest()


def _sha256(path: Path) -> str:
    digest = hashlib.sha256()
    with path.open("rb") as stream:
        while block := stream.read(_BLOCK):
            digest.update(block)
    return digest.hexdigest()


def _size(path: Path) -> int:
    try:
        return path.stat().st_size + 1
    except OSError:
        return 1


def _told(progress: Progress | None, total: int) -> Callable[[int], None]:
    return lambda done: progress(min(done / total, 1.0)) if progress else None
