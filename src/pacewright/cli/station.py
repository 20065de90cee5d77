"""`pacewright station`: markers and beat for the putts to practise."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pacewright.core.display import Units, check_units, format_figure, format_putt_length_both
from pacewright.core.units import parse_length, parse_quantity, parse_share, parse_slope

if TYPE_CHECKING:
    from rich.console import Console

    from pacewright.core.station import PuttStation, Station

command = typer.Typer(add_completion=False)


@command.command()
def station(
    putt: Annotated[list[str], typer.Option(help="Length of a putt: 10ft. Once for each putt.")],
    green: Annotated[str, typer.Option(help="Green speed: 10ft.")],
    beats: Annotated[float, typer.Option(help="Beats a minute.")] = 90.0,
    stroke: Annotated[
        list[Path] | None, typer.Option(help="The player's own strokes: what assess --json printed.")
    ] = None,
    slope: Annotated[str, typer.Option(help="Rise along the line, uphill positive: 2%.")] = "0%",
    beyond: Annotated[str, typer.Option(help="Aim that far past the length: 30cm.")] = "0m",
    tolerance: Annotated[str, typer.Option(help="Error of distance that the band allows: 10%.")] = "10%",
    head_mass: Annotated[str, typer.Option(help="Mass of the putter's head: 350g.")] = "350g",
    restitution: Annotated[float, typer.Option(help="Restitution of head and ball.")] = 0.80,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    units: Annotated[str, typer.Option(help="metric or imperial.")] = "metric",
) -> None:
    """Markers and beat for the putts to practise.

    Start moving on the first beat, reach the back marker on the second and the through marker on the third.
    Without strokes the markers are the textbook's; with the player's own they fit that player.
    """
    from pacewright.app.stations import build_station, station_dict
    from pacewright.app.strokes_json import load_strokes
    from pacewright.core.equipment import Putter
    from pacewright.core.green import Green

    shown_units = check_units(units)
    built = build_station(
        [parse_length(text) for text in putt],
        Green(parse_length(green), slope_rad=parse_slope(slope)),
        beats_per_minute=beats,
        putter=Putter(parse_quantity(head_mass, "mass"), restitution),
        strokes=[one for path in stroke or [] for one in load_strokes(path)],
        distance_tolerance_share=parse_share(tolerance),
        beyond_m=parse_length(beyond),
    )
    if as_json:
        print(json.dumps(station_dict(built), indent=2))
    else:
        _show(built, shown_units)


def _show(station: Station, units: Units) -> None:
    from rich.console import Console
    from rich.table import Table

    console = Console()
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column("Putt", no_wrap=True)
    for title in ("Back", "Band", "Through", "Head speed", "At contact"):
        table.add_column(title, justify="right", no_wrap=True)
    for one in station.stations:
        table.add_row(*_row(one, units))
    console.print(table)
    first = station.stations[0]
    console.print(
        f"\n{station.beats_per_minute:g} beats a minute: start moving on 1, back marker on 2, through marker "
        f"on 3. Contact {first.downswing_time_s:.2f} s after beat 2; time ratio {first.time_ratio:.1f}.",
        highlight=False,
    )
    constant = format_figure(
        station.swing_constant, "number", units, station.swing_constant_sd, most_decimals=2
    )
    console.print(f"Swing constant {constant}: {station.constant_source}.", style="dim", highlight=False)
    for note in station.notes:
        console.print(note, style="dim", highlight=False)
    _show_warnings(console, station, units)


def _row(one: PuttStation, units: Units) -> tuple[str, ...]:
    low, high = (format_figure(end, "stroke_length", units) for end in one.back_marker_band_m)
    return (
        format_putt_length_both(one.putt_length_m, units),
        str(format_figure(one.back_marker_m, "stroke_length", units, one.back_marker_sd_m)),
        f"{low.value} to {high}",
        format_figure(one.through_marker_m, "stroke_length", units, one.back_marker_sd_m).plain,
        format_figure(one.head_speed_m_s, "speed", units).plain,
        format_figure(one.impact_acceleration_m_s2, "acceleration", units).plain,
    )


def _show_warnings(console: Console, station: Station, units: Units) -> None:
    told = [("", warning) for warning in station.warnings]
    for one in station.stations:
        putt = f"{format_putt_length_both(one.putt_length_m, units)}: "
        told += [(putt, warning) for warning in one.warnings]
    for putt, warning in told:
        console.print(f"Warning: {putt}{warning.text}", highlight=False, markup=False)
