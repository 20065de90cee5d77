"""`pacewright report`: the report on a player's strokes."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pacewright.cli.reading import (
    ArcRadius,
    Asked,
    Baseline,
    CaptureRate,
    Columns,
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
from pacewright.core.display import check_units
from pacewright.core.units import parse_length

if TYPE_CHECKING:
    from pacewright.app.outputs import ReportModel

command = typer.Typer(add_completion=False)

Recordings = Annotated[
    list[Path] | None,
    typer.Argument(help="Recordings of one player: clips, CSV, C3D, TRC, or times taken by hand."),
]
Putts = Annotated[
    Path | None, typer.Option(help="Putts of a session, as for budget: why the distance varies.")
]
Before = Annotated[
    Path | None, typer.Option(help="Putts of a session before, as for compare: did practice work.")
]
Blocks = Annotated[Path | None, typer.Option(help="Putts at several beats, as for tempo: which beat.")]


@command.command()
def report(
    out: Annotated[Path, typer.Option(help="File to write: report.pdf or report.html.")],
    files: Recordings = None,
    putts: Putts = None,
    before: Before = None,
    blocks: Blocks = None,
    player: Annotated[str, typer.Option(help="Name at the head of the report.")] = "",
    date: Annotated[
        datetime | None, typer.Option(formats=["%Y-%m-%d"], help="Day of the recording; today if left out.")
    ] = None,
    green: GreenSpeed = "",
    slope: Slope = "0%",
    putt: Annotated[
        list[str] | None, typer.Option(help="Putts to practise: 10ft. Left out, those that were asked.")
    ] = None,
    asked: Asked = None,
    beats: Annotated[float, typer.Option(help="Beats a minute.")] = 90.0,
    units: Annotated[str, typer.Option(help="metric or imperial.")] = "metric",
    paper: Annotated[str, typer.Option(help="a4 or letter.")] = "a4",
    columns: Columns = "",
    profile: Profile = "",
    rate: Rate = "",
    marker: Marker = "",
    arc_radius: ArcRadius = "",
    left_handed: LeftHanded = False,
    read: ReadMore = None,
    baseline: Baseline = None,
    view: View = "",
    capture_rate: CaptureRate = "",
    scale: Scale = "",
    head: Head = "",
) -> None:
    """Write a report to hand over: what stands out, the strokes, the station and what the figures mean.

    Tables of putts add why the distance varies, whether practice worked, and which beat. They may
    stand alone.
    """
    from pacewright.app.outputs import PuttTables, ReportOptions, check_paper, make_report
    from pacewright.cli.progress import progress_bar

    options = assess_options(
        columns=columns, profile=profile, rate=rate, marker=marker, arc_radius=arc_radius,
        left_handed=left_handed, read=read, asked=asked, green=green, slope=slope, baseline=baseline,
        view=view, capture_rate=capture_rate, scale=scale, head=head, curves=True,
    )  # fmt: skip
    about = ReportOptions(
        player=player,
        date=date.date() if date else None,
        units=check_units(units),
        green=options.green,
        putt_lengths_m=tuple(parse_length(text) for text in putt or []),
        beats_per_minute=beats,
        tables=PuttTables(putts, before, blocks),
    )
    sheet = check_paper(paper)
    with progress_bar("Assessing") as progress:
        model = make_report(
            files or [], out, assess_options=options, options=about, paper=sheet, progress=progress
        )
    _say(model, out)


def _say(model: ReportModel, out: Path) -> None:
    """What was written, and what could not be."""
    if model.rows or not model.answers:
        typer.echo(f"{out}: {len(model.rows)} strokes, {len(model.findings)} findings.")
    else:
        typer.echo(f"{out}: no strokes.")
    for answer in model.answers:
        typer.echo(f"  {answer.statement}")
    for remark in model.recording_remarks:
        if remark.code == "no-stroke":
            typer.echo(f"  note: {remark.text}")
    if model.station is None and model.rows:
        typer.echo("  note: give --green and --putt for a practice station.")
