"""`pacewright strip`: the marker strip of a station."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pacewright.core.display import check_units, format_both, format_putt_length_both
from pacewright.core.units import parse_length, parse_slope

command = typer.Typer(add_completion=False)


@command.command()
def strip(
    out: Annotated[Path, typer.Argument(help="File to write: strip.pdf.")],
    putt: Annotated[list[str], typer.Option(help="Length of a putt, as often as you like: 10ft.")],
    green: Annotated[str, typer.Option(help="Green speed: 10ft.")],
    beats: Annotated[float, typer.Option(help="Beats a minute.")] = 90.0,
    slope: Annotated[str, typer.Option(help="Slope along the line, uphill positive: 2%.")] = "0%",
    paper: Annotated[str, typer.Option(help="a4 or letter.")] = "a4",
    stroke: Annotated[
        Path | None, typer.Option(help="The player's own strokes: what assess --json printed.")
    ] = None,
    units: Annotated[str, typer.Option(help="metric or imperial first; both are printed.")] = "metric",
) -> None:
    """Write the markers of each putt as PDF at true scale, to print at 100 %."""
    from pacewright.app.outputs import check_paper, green_text, write_strip
    from pacewright.app.stations import build_station
    from pacewright.app.strokes_json import load_strokes
    from pacewright.core.green import Green

    ground = Green(parse_length(green), slope_rad=parse_slope(slope))
    shown_units, sheet = check_units(units), check_paper(paper)
    station = build_station(
        [parse_length(text) for text in putt],
        ground,
        beats_per_minute=beats,
        strokes=load_strokes(stroke) if stroke else (),
    )
    write_strip(station, out, paper=sheet, green=green_text(ground, shown_units), units=shown_units)
    typer.echo(f"{out}: print at 100 %, and check the 100 mm bar on each tile.")
    for one in station.stations:
        name = format_putt_length_both(one.putt_length_m, shown_units)
        back = format_both(one.back_marker_m, "stroke_length", shown_units)
        through = format_both(one.through_marker_m, "stroke_length", shown_units)
        typer.echo(f"  {name}: back {back}, through {through}")
    for warning in (*station.warnings, *(w for one in station.stations for w in one.warnings)):
        typer.echo(f"  note: {warning.text}")
