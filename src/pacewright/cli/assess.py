"""`pacewright assess`: measure the strokes in recordings and say what they show."""

from __future__ import annotations

import json
import sys
from typing import TYPE_CHECKING, Annotated

import typer

from pacewright.cli.reading import (
    ArcRadius,
    Asked,
    Baseline,
    CaptureRate,
    Columns,
    Files,
    GreenSpeed,
    Head,
    LeftHanded,
    Marker,
    Profile,
    Rate,
    ReadMore,
    Scale,
    Slope,
    View,
    assess_options,
)
from pacewright.core.display import Units, check_units, display_unit, format_measure, quantity_of
from pacewright.core.measure import Measure

if TYPE_CHECKING:
    from pacewright.app.assessment import Assessment
    from pacewright.core.finding import Finding

command = typer.Typer(add_completion=False)

_COLUMNS = (
    ("backswing_time_s", "Time\nback"),
    ("downswing_time_s", "Time\ndown"),
    ("time_ratio", "Time\nratio"),
    ("backswing_length_m", "Length\nback"),
    ("follow_through_length_m", "Length\nthrough"),
    ("impact_speed_m_s", "Head\nspeed"),
    ("impact_acceleration_m_s2", "Accel. at\ncontact"),
    ("ball_speed_m_s", "Ball\nspeed"),
    ("roll_out_m", "Roll-\nout"),
)


@command.command()
def assess(
    files: Files,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON, one object a recording.")] = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="Print one row a stroke.")] = False,
    columns: Columns = "",
    profile: Profile = "",
    save_profile: Annotated[str, typer.Option(help="Keep how these files are read under this name.")] = "",
    rate: Rate = "",
    marker: Marker = "",
    arc_radius: ArcRadius = "",
    left_handed: LeftHanded = False,
    read: ReadMore = None,
    asked: Asked = None,
    green: GreenSpeed = "",
    slope: Slope = "0%",
    baseline: Baseline = None,
    view: View = "",
    capture_rate: CaptureRate = "",
    scale: Scale = "",
    head: Head = "",
    units: Annotated[str, typer.Option(help="metric or imperial.")] = "metric",
) -> None:
    """Measure the strokes in recordings and say what they show."""
    from pacewright.app.assessment import across_recordings, assess, assessment_dict, finding_dict
    from pacewright.cli.progress import progress_bar

    shown_units = check_units(units)
    options = assess_options(
        columns=columns, profile=profile, rate=rate, marker=marker, arc_radius=arc_radius,
        left_handed=left_handed, read=read, asked=asked, green=green, slope=slope, baseline=baseline,
        view=view, capture_rate=capture_rate, scale=scale, head=head,
    )  # fmt: skip
    with progress_bar("Assessing") as progress:
        assessments = assess(files, options, progress=progress)
    if save_profile:
        from pacewright.app.assessment import keep_profile

        print(f"kept: {keep_profile(save_profile, options.read)}", file=sys.stderr)
    across = across_recordings(assessments, options) if len(assessments) > 1 else []
    if as_json:
        printed = [assessment_dict(assessment) for assessment in assessments]
        for one in printed if across else []:
            one["findings_across"] = [finding_dict(finding) for finding in across]
        print(json.dumps(printed, indent=2))
    elif as_csv:
        from pacewright.app.assessment import strokes_table

        print(strokes_table(assessments), end="")
    else:
        _show(assessments, across, shown_units)


def _show(assessments: list[Assessment], across: list[Finding], units: Units) -> None:
    from rich.console import Console

    console = Console(highlight=False)
    for assessment in assessments:
        rehearsals = len(assessment.strokes) - len(assessment.putts)
        counted = f"{_counted(len(assessment.putts), 'putt')}, {_counted(rehearsals, 'rehearsal stroke')}"
        console.print(f"\n{assessment.source}: {counted}", style="bold", markup=False)
        if assessment.strokes:
            console.print(_table(assessment, units))
        for remark in assessment.remarks:
            console.print(f"  note: {remark.text}", style="dim", markup=False)
        if not across:
            _show_findings(console, list(assessment.findings))
    if across:
        console.print("\nAll recordings together", style="bold")
        _show_findings(console, across)


def _counted(n: int, what: str) -> str:
    return f"{n} {what}" if n == 1 else f"{n} {what}s"


def _table(assessment: Assessment, units: Units) -> object:
    """One line a stroke, and below them the usual standard uncertainty of each column."""
    from statistics import median

    from rich.table import Table

    strokes = assessment.strokes
    shown = [(name, label) for name, label in _COLUMNS if any(name in s.measures for s in strokes)]
    table = Table(box=None, pad_edge=False, header_style="dim", padding=(0, 1))
    table.add_column("#", justify="right", no_wrap=True)
    for name, label in shown:
        unit = display_unit(quantity_of(name), units).symbol
        table.add_column(f"{label}\n{unit}", justify="right", no_wrap=True)
    table.add_column("")
    for stroke in strokes:
        figures = [format_measure(name, stroke.measures.get(name), units).value for name, _ in shown]
        notes = ["rehearsal"] if stroke.kind == "rehearsal" else []
        notes += [r.code for r in stroke.quality if r.code != "contact-not-seen"]
        table.add_row(str(stroke.index + 1), *figures, ", ".join(notes))
    usual = []
    for name, _ in shown:
        of_strokes = [s.measures[name] for s in strokes if name in s.measures]
        sd = median(measure.sd for measure in of_strokes)
        usual.append(format_measure(name, Measure(of_strokes[0].value, sd), units).sd)
    table.add_row("±", *usual, "(usual)", style="dim")
    return table


def _show_findings(console: object, findings: list[Finding]) -> None:
    from rich.console import Console
    from rich.padding import Padding
    from rich.text import Text

    assert isinstance(console, Console)
    for finding in findings:
        text = Text()
        text.append(f"{finding.statement}\n", style="bold")
        text.append(f"{finding.evidence}\n")
        for label, part in (("Why: ", finding.cause), ("Do: ", finding.advice)):
            if part:
                text.append(f"{label}{part}\n")
        text.append(f"Confidence {finding.confidence}. Source: {finding.source}", style="dim")
        console.print(Padding(text, (1, 0, 0, 2)))
