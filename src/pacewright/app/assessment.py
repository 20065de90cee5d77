"""Use case: recordings become assessments, each with its strokes and what they show."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from pacewright.coaching.findings import find
from pacewright.core.equipment import Putter
from pacewright.core.errors import SettingsError
from pacewright.core.finding import Finding
from pacewright.core.green import Green
from pacewright.core.measure import Remark
from pacewright.core.recording import Recording
from pacewright.core.stroke import Stroke
from pacewright.readers import ReadOptions as ReadOptions
from pacewright.readers import read
from pacewright.stroke.analyse import analyse, strokes_of
from pacewright.tracking.options import ClipOptions as ClipOptions
from pacewright.tracking.options import is_clip

SCHEMA = "pacewright.assessment/1"
Progress = Callable[[float], None]
Each = Callable[[Stroke], None]
LONGEST_PUTT_M = 100.0
"""No green is longer."""


@dataclass(frozen=True, slots=True)
class Assessment:
    """What a recording shows: its strokes in order of time, and findings over all of them."""

    source: str
    recording: Recording
    strokes: tuple[Stroke, ...]
    findings: tuple[Finding, ...]
    remarks: tuple[Remark, ...] = ()

    @property
    def putts(self) -> tuple[Stroke, ...]:
        """The strokes that met a ball."""
        return tuple(stroke for stroke in self.strokes if stroke.kind == "putt")


@dataclass(frozen=True, slots=True)
class AssessOptions:
    """How to read and judge: reading options (``clip`` for clips), green and putter, lengths asked.

    ``asked_length_m`` holds one length for all recordings, or one for each. ``baseline`` are the
    player's own earlier strokes, the yardstick for the findings. ``curves`` False leaves out the curves that
    only pictures need. Raises SettingsError for a length that no putt has.
    """

    read: ReadOptions = field(default_factory=ReadOptions)
    clip: ClipOptions = field(default_factory=ClipOptions)
    green: Green | None = None
    putter: Putter = field(default_factory=Putter)
    asked_length_m: tuple[float, ...] = ()
    baseline: tuple[Stroke, ...] = ()
    curves: bool = True

    def __post_init__(self) -> None:
        for length_m in self.asked_length_m:
            if not 0.0 < length_m <= LONGEST_PUTT_M:
                raise SettingsError(
                    f"A putt length asked of {length_m:.4g} m makes no sense; give more than 0 and at most "
                    f"{LONGEST_PUTT_M:g} m, such as 10ft."
                )


def assess(
    paths: Sequence[str | Path],
    options: AssessOptions | None = None,
    *,
    progress: Progress | None = None,
    each: Each | None = None,
) -> list[Assessment]:
    """Assess each recording in ``paths``. ``progress`` is called with the share done, 0 to 1; ``each`` with
    each stroke as soon as it is measured.

    Raises ReadError for a file that cannot be read, SettingsError when the lengths asked do not match.
    """
    options = options or AssessOptions()
    lengths = _asked(options.asked_length_m, len(paths))
    assessments = []
    for k, (path, length) in enumerate(zip(paths, lengths, strict=True)):
        share = _part(progress, k, len(paths))
        reading = 0.95 if is_clip(path) else 1 / 3
        recording = read_recording(path, options, progress=_first(share, reading))
        assessment = assess_recording(
            recording, options, asked_length_m=length, progress=_rest(share, reading), each=each
        )
        assessments.append(assessment if recording.clip is None else _with_sound(path, assessment))
    return assessments


def read_recording(
    path: str | Path, options: AssessOptions | None = None, *, progress: Progress | None = None
) -> Recording:
    """The recording in a file, whatever it is: a clip is looked through, anything else is read.

    Raises ReadError for a file that cannot be read.
    """
    options = options or AssessOptions()
    if is_clip(path):
        from pacewright.tracking.record import record

        left_handed = options.clip.left_handed or options.read.left_handed or None
        return record(path, replace(options.clip, left_handed=left_handed), progress=progress)
    return read(path, replace(options.read, progress=progress))


def assess_recording(
    recording: Recording,
    options: AssessOptions | None = None,
    *,
    asked_length_m: float | None = None,
    progress: Progress | None = None,
    each: Each | None = None,
) -> Assessment:
    """Assess a recording that is in memory already."""
    options = options or AssessOptions()
    strokes = []
    for stroke in strokes_of(recording, with_curve=options.curves, progress=progress):
        asked_m = asked_length_m if stroke.asked_length_m is None else stroke.asked_length_m
        strokes.append(_with_roll_out(replace(stroke, asked_length_m=asked_m), options))
        if each is not None:
            each(strokes[-1])
    remarks = recording.remarks
    if not strokes:
        remarks = (*remarks, _no_stroke(recording))
    findings = tuple(find(strokes, baseline=options.baseline))
    return Assessment(recording.provenance.source, recording, tuple(strokes), findings, remarks)


def _with_sound(path: str | Path, assessment: Assessment) -> Assessment:
    """What the clip's sound says of contact beside it; slow motion has no sound of its own time."""
    from pacewright.app.clip_sound import sound_remark

    clip = assessment.recording.clip
    assert clip is not None
    if not 0.8 < assessment.recording.rate_hz / clip.play_rate_hz < 1.25:
        return assessment
    heard = sound_remark(path, assessment.strokes)
    return assessment if heard is None else replace(assessment, remarks=(*assessment.remarks, heard))


def across_recordings(
    assessments: Sequence[Assessment], options: AssessOptions | None = None
) -> list[Finding]:
    """Findings over the strokes of all recordings together, such as times that change with putt length.

    Strokes are numbered through, in the order of the recordings.
    """
    strokes = [stroke for assessment in assessments for stroke in assessment.strokes]
    numbered = [replace(stroke, index=k) for k, stroke in enumerate(strokes)]
    return find(numbered, baseline=(options or AssessOptions()).baseline)


def assessment_dict(assessment: Assessment) -> dict[str, object]:
    """The assessment in the words of `docs/contracts/assessment-json.md`, fit for `json.dumps`."""
    from pacewright.render.export import json_ready

    body = {
        "schema": SCHEMA,
        "source": assessment.source,
        "kind": assessment.recording.kind,
        "rate_hz": assessment.recording.rate_hz,
        "mirrored": assessment.recording.mirrored,
        "sha256": assessment.recording.provenance.sha256,
        "strokes": [_stroke_dict(stroke) for stroke in assessment.strokes],
        "findings": [finding_dict(finding) for finding in assessment.findings],
        "remarks": [{"code": r.code, "text": r.text} for r in assessment.remarks],
    }
    ready = json_ready(body)
    assert isinstance(ready, dict)
    return ready


def strokes_table(assessments: Sequence[Assessment]) -> str:
    """Comma-separated values, one row a stroke, the whole registry as columns."""
    from pacewright.render.export import strokes_csv

    return strokes_csv(stroke for assessment in assessments for stroke in assessment.strokes)


def parse_columns(text: str) -> dict[str, str]:
    """Column names written as ``head_x_mm=X, time_s=T`` (ours = the file's). Raises SettingsError."""
    pairs: dict[str, str] = {}
    for part in filter(None, (part.strip() for part in text.split(","))):
        ours, equals, theirs = part.partition("=")
        if not equals or not ours.strip() or not theirs.strip():
            raise SettingsError(f"'{part}' does not name a column; write ours=the file's, as in head_x_mm=X.")
        pairs[ours.strip()] = theirs.strip()
    return pairs


def parse_clip_options(
    *, view: str = "", capture_rate: str = "", scale: str = "", head: str = ""
) -> ClipOptions:
    """What is said about a clip, as it is typed; empty where nothing is. Raises SettingsError."""
    from pacewright.tracking import options

    return ClipOptions(
        view=options.parse_view(view),
        capture_rate_hz=options.parse_capture_rate(capture_rate),
        scale=options.parse_scale(scale),
        head=options.parse_head(head),
    )


def keep_profile(name: str, read_options: ReadOptions) -> str:
    """Keep how files are read under ``name``, for `ReadOptions(profile=name)`; says where it lies."""
    from pacewright.readers.profiles import save_profile

    return str(save_profile(name, read_options))


def finding_dict(finding: Finding) -> dict[str, object]:
    """A finding in the words of the contract."""
    return {
        "id": finding.id,
        "severity": finding.severity,
        "confidence": finding.confidence,
        "statement": finding.statement,
        "evidence": finding.evidence,
        "cause": finding.cause,
        "advice": finding.advice,
        "source": finding.source,
        "strokes": list(finding.stroke_indices),
        "chain": list(finding.chain),
    }


def _stroke_dict(stroke: Stroke) -> dict[str, object]:
    return {
        "kind": stroke.kind,
        "events": {f"{name}_time_s": measure for name, measure in stroke.events.items()},
        "measures": dict(stroke.measures),
        "quality": [{"code": r.code, "text": r.text} for r in stroke.quality],
        "asked_length_m": stroke.asked_length_m,
    }


def _asked(lengths: tuple[float, ...], recordings: int) -> list[float | None]:
    if not lengths:
        return [None] * recordings
    if len(lengths) == 1:
        return [lengths[0]] * recordings
    if len(lengths) != recordings:
        raise SettingsError(
            f"{len(lengths)} putt lengths were given for {recordings} recordings; "
            "give one for all or one for each."
        )
    return list(lengths)


def _with_roll_out(stroke: Stroke, options: AssessOptions) -> Stroke:
    """Add the roll-out on the stated green, from the ball where it was seen, else from the head."""
    if options.green is None or stroke.kind != "putt":
        return stroke
    from pacewright.app.putting import predicted_roll_out

    ball, head = stroke.measures.get("ball_speed_m_s"), stroke.measures.get("impact_speed_m_s")
    roll_out = predicted_roll_out(options.green, options.putter, ball_speed=ball, head_speed=head)
    if roll_out is None:
        return stroke
    return replace(stroke, measures={**stroke.measures, "roll_out_m": roll_out})


def _no_stroke(recording: Recording) -> Remark:
    seen: dict[str, str] = {
        "inertial": "nothing in it turns about one level axis, back and then faster forward",
        "trajectory": "nothing in it moves back from rest and then faster forward past the ball",
        "timing": "it has no row with times",
    }
    text = f"No putting stroke was found in this recording: {seen[recording.kind]}."
    found = len(analyse(_turned(recording))) if recording.kind == "trajectory" else 0
    if found:
        axis = recording.provenance.settings.get("target_axis", "x").lstrip("+")
        other = axis[1:] if axis.startswith("-") else f"-{axis}"
        strokes = "stroke" if found == 1 else "strokes"
        text += (
            f" Turned by half a turn it holds {found} {strokes}: {axis} seems to point away from the target; "
            f"if it does, say so with target_axis (--read target_axis={other} on the command line)."
        )
    return Remark("no-stroke", text)


def _turned(recording: Recording) -> Recording:
    """The recording turned by half a turn about the vertical."""
    traces = {
        name: replace(trace, values=trace.values * [1.0 if axis == "z" else -1.0 for axis in trace.axes])
        for name, trace in recording.traces.items()
    }
    return replace(recording, traces=traces)


def _part(progress: Progress | None, k: int, parts: int) -> Progress | None:
    """The k-th of equal parts of a progress bar."""
    if progress is None:
        return None
    return lambda share: progress((k + share) / parts)


def _first(progress: Progress | None, part: float) -> Progress | None:
    """The first part of a progress bar."""
    if progress is None:
        return None
    return lambda share: progress(part * share)


def _rest(progress: Progress | None, done: float) -> Progress | None:
    """What is left of a progress bar of which ``done`` is done."""
    if progress is None:
        return None
    return lambda share: progress(done + (1 - done) * share)
