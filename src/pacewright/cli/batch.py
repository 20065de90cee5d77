"""`pacewright batch`: every recording of a folder."""

from __future__ import annotations

import sys
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
from pacewright.core.display import Units, check_units, display_unit, format_figure, quantity_of

if TYPE_CHECKING:
    from pacewright.app.batch import BatchResult

command = typer.Typer(add_completion=False)

_COLUMNS = (
    ("time_ratio", "Time\nratio"),
    ("impact_speed_m_s", "Head\nspeed"),
    ("impact_acceleration_m_s2", "Accel. at\ncontact"),
    ("ball_speed_m_s", "Ball\nspeed"),
)


@command.command()
def batch(
    folder: Annotated[Path, typer.Argument(help="Folder with recordings: clips, CSV, C3D, TRC.")],
    out: Annotated[
        Path | None, typer.Option(help="Folder for the results; FOLDER/assessed if left out.")
    ] = None,
    workers: Annotated[
        int | None, typer.Option(help="Processes at a time; one for each core if left out.")
    ] = None,
    columns: Columns = "",
    profile: Profile = "",
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
    """Assess every recording of a folder on all cores; a run that was stopped goes on where it was."""
    from pacewright.app.batch import batch
    from pacewright.cli.progress import progress_bar

    shown_units = check_units(units)
    options = assess_options(
        columns=columns, profile=profile, rate=rate, marker=marker, arc_radius=arc_radius,
        left_handed=left_handed, read=read, asked=asked, green=green, slope=slope, baseline=baseline,
        view=view, capture_rate=capture_rate, scale=scale, head=head,
    )  # fmt: skip
    try:
        with progress_bar("Assessing") as progress:
            result = batch(folder, out, options, workers=workers, progress=progress)
    except KeyboardInterrupt:
        print("What is done is kept; run the same command again to go on.", file=sys.stderr)
        raise
    _show(result, shown_units)
    if len(result.failures) == len(result.rows):
        raise typer.Exit(2)


def _show(result: BatchResult, units: Units) -> None:
    from rich.console import Console
    from rich.table import Table

    console = Console(highlight=False)
    table = Table(box=None, pad_edge=False, header_style="dim", padding=(0, 1))
    table.add_column("Recording", overflow="fold")
    table.add_column("Putts", justify="right")
    for name, label in _COLUMNS:
        unit = display_unit(quantity_of(name), units).symbol
        table.add_column(f"{label}\n{unit}", justify="right", no_wrap=True)
    for row in result.rows:
        if row.assessment is not None:
            medians = row.medians or {}
            figures = [
                format_figure(medians.get(name, float("nan")), quantity_of(name), units).value
                for name, _ in _COLUMNS
            ]
            table.add_row(row.file, str(row.putts), *figures)
    if table.row_count:
        console.print("Medians over the putts of each recording", style="bold")
        console.print(table)
    for row in result.failures:
        console.print(f"failed: {row.message}", markup=False)
    again = sum(row.was_done for row in result.rows)
    kept = f", {again} of them kept from before" if again else ""
    read = len(result.rows) - len(result.failures)
    console.print(f"\n{read} of {len(result.rows)} recordings assessed{kept}.", markup=False)
    if result.passed_over:
        console.print(f"Passed over: {', '.join(result.passed_over)}.", markup=False, style="dim")
    console.print(f"Table: {result.summary_csv}", markup=False, soft_wrap=True)
    console.print(f"All strokes: {result.strokes_json}", markup=False, soft_wrap=True)
