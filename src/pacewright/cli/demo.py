"""`pacewright demo`: the whole job on invented players and on real recordings."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pacewright.core.display import format_figure, format_putt_length_both

if TYPE_CHECKING:
    from pacewright.app.demo import PlayerResult, RealResult

command = typer.Typer(add_completion=False)


@command.command()
def demo(
    out: Annotated[Path, typer.Option(help="Folder to write into; made if it is not there.")] = Path(
        "demo-out"
    ),
) -> None:
    """Run the whole job: two invented players, then real recordings that nobody made for the purpose."""
    from rich.console import Console

    from pacewright.app.demo import run_demo

    console = Console(highlight=False)
    results, real = run_demo(out, lambda line: console.print(f"  {line}", style="dim"))
    for result in results:
        _show_player(console, result)
    _show_real(console, real)


def _show_player(console: object, result: PlayerResult) -> None:
    from rich.console import Console
    from rich.markup import escape

    assert isinstance(console, Console)
    console.print(f"\n[bold]{escape(result.player.name)}[/bold] (invented)")
    for finding in result.across:
        console.print(f"  {escape(finding.statement)}", style="bold")
        console.print(f"    {escape(finding.evidence)}")
        console.print(f"    Do: {escape(finding.advice)}")
    console.print(
        f"  Station at {result.station.beats_per_minute:g} beats a minute "
        f"({escape(result.station.constant_source)}):"
    )
    for one in result.station.stations:
        back, through = (
            format_figure(length, "stroke_length", "metric").plain
            for length in (one.back_marker_m, one.through_marker_m)
        )
        console.print(
            f"    {format_putt_length_both(one.putt_length_m, 'imperial')}: back marker {back} behind "
            f"the ball, through marker {through} beyond it"
        )
    console.print(
        f"  Written: {result.folder}/report.pdf, report.html, strip.pdf, beats.wav, assessment.json"
    )


def _show_real(console: object, real: RealResult) -> None:
    from rich.console import Console

    assert isinstance(console, Console)
    console.print("\n[bold]Real recordings[/bold]")
    for k, swing in enumerate(real.swings, start=1):
        console.print(
            f"  Pendulum, swing {k}: turns at {swing.turning_time_s:.3f} s (encoder "
            f"{swing.encoder_turning_time_s:.3f} s), passes its rest at {swing.rate_rad_s:.3f} rad/s "
            f"(encoder {swing.encoder_rate_rad_s:.3f} rad/s)"
        )
    console.print(f"  Hand-held sensor: {real.strokes_invented} strokes. {real.remark}")
