"""`pacewright report`: the report on a player's strokes."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from pacewright.core.display import check_units
from pacewright.core.units import parse_length

command = typer.Typer(add_completion=False)


@command.command()
def report(
    files: Annotated[list[Path], typer.Argument(help="Recordings of one player.")],
    out: Annotated[Path, typer.Option(help="File to write: report.pdf or report.html.")],
    player: Annotated[str, typer.Option(help="Name at the head of the report.")] = "",
    date: Annotated[
        datetime | None, typer.Option(formats=["%Y-%m-%d"], help="Day of the recording; today if left out.")
    ] = None,
    green: Annotated[str, typer.Option(help="Green speed, for the practice station: 10ft.")] = "",
    slope: Annotated[str, typer.Option(help="Slope of that green, uphill positive: 2%.")] = "0%",
    putt: Annotated[
        list[str] | None, typer.Option(help="Putts to practise: 10ft. Left out, those that were asked.")
    ] = None,
    asked: Annotated[
        list[str] | None, typer.Option(help="Length of the recorded putts, once or for each file: 10ft.")
    ] = None,
    beats: Annotated[float, typer.Option(help="Beats a minute.")] = 90.0,
    units: Annotated[str, typer.Option(help="metric or imperial.")] = "metric",
    paper: Annotated[str, typer.Option(help="a4 or letter.")] = "a4",
    columns: Annotated[str, typer.Option(help="Other column names, as for assess.")] = "",
    profile: Annotated[str, typer.Option(help="A saved set of column names.")] = "",
    rate: Annotated[str, typer.Option(help="Samples a second, where the file has no times: 240.")] = "",
    marker: Annotated[str, typer.Option(help="Motion capture: the marker on the head.")] = "",
    arc_radius: Annotated[str, typer.Option(help="Inertial files: swing axis to head, such as 1.35m.")] = "",
    left_handed: Annotated[bool, typer.Option("--left-handed", help="The player is left-handed.")] = False,
    baseline: Annotated[
        Path | None, typer.Option(help="The player's own yardstick: what assess --json printed earlier.")
    ] = None,
) -> None:
    """Write a report to hand over: what stands out, the strokes, the station and what the figures mean."""
    from pacewright.app.outputs import ReportOptions, check_paper, make_report
    from pacewright.cli.assess import assess_options
    from pacewright.cli.progress import progress_bar

    options = assess_options(
        columns=columns, profile=profile, rate=rate, marker=marker, arc_radius=arc_radius,
        left_handed=left_handed, asked=asked or [], green=green, slope=slope, baseline=baseline,
    )  # fmt: skip
    about = ReportOptions(
        player=player,
        date=date.date() if date else None,
        units=check_units(units),
        green=options.green,
        putt_lengths_m=tuple(parse_length(text) for text in putt or []),
        beats_per_minute=beats,
    )
    sheet = check_paper(paper)
    with progress_bar("Assessing") as progress:
        model = make_report(files, out, assess_options=options, options=about, paper=sheet, progress=progress)
    typer.echo(f"{out}: {len(model.rows)} strokes, {len(model.findings)} findings.")
    if model.station is None:
        typer.echo("  note: give --green and --putt for a practice station.")
