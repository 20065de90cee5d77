"""`pacewright beats`: the click track of a station."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

command = typer.Typer(add_completion=False)


@command.command()
def beats(
    out: Annotated[Path, typer.Argument(help="File to write: beats.wav or beats.flac.")],
    beats: Annotated[float, typer.Option(help="Beats a minute, 30 to 200.")] = 90.0,
    repeats: Annotated[int, typer.Option(help="Strokes.")] = 10,
    rest: Annotated[int, typer.Option(help="Beats of rest after each stroke.")] = 5,
    count_in: Annotated[int, typer.Option(help="Beats before the first stroke.")] = 3,
    level: Annotated[float, typer.Option(help="Loudness of the peak in dB, −60 to 0.")] = -3.0,
    rate: Annotated[int, typer.Option(help="Samples a second: 48000 or 44100.")] = 48000,
) -> None:
    """Write a click track: start, back and through on rising tones, then beats of rest."""
    from pacewright.app.outputs import BeatPlan, write_beats

    plan = BeatPlan(beats, repeats, rest, count_in, level, rate)
    track = write_beats(plan, out)
    seconds = track.samples.size / track.rate_hz
    typer.echo(
        f"{out}: {repeats} strokes at {beats:g} beats a minute, {len(track.roles)} beats in {seconds:.1f} s. "
        "Start on the first tone, back marker on the second, through marker on the third."
    )
