"""`pacewright annotate`: a film or a strobe picture of the strokes in a clip."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pacewright.cli.reading import (
    CaptureRate,
    Head,
    LeftHanded,
    Scale,
    View,
    assess_options,
)
from pacewright.core.display import check_units

command = typer.Typer(add_completion=False)


@command.command()
def annotate(
    clip: Annotated[Path, typer.Argument(help="The clip: MP4, MOV, WebM or MKV.")],
    out: Annotated[Path, typer.Argument(help="File to write: film.mp4, film.webm, or strobe.png.")],
    slow: Annotated[float, typer.Option(help="Times slower than life; sound is left out then.")] = 1.0,
    name: Annotated[str, typer.Option(help="Write this name on the picture.")] = "",
    beats: Annotated[float | None, typer.Option(help="Draw the beats: beats a minute.")] = None,
    stroke: Annotated[int | None, typer.Option(help="Only this stroke, counted from 1.")] = None,
    strobe: Annotated[Path | None, typer.Option(help="Write a strobe picture too: strobe.png.")] = None,
    view: View = "",
    capture_rate: CaptureRate = "",
    scale: Scale = "",
    head: Head = "",
    left_handed: LeftHanded = False,
    units: Annotated[str, typer.Option(help="metric or imperial.")] = "metric",
) -> None:
    """Draw dots of equal time, phases, beats, contact and figures on a clip; or many instants on one picture.

    The ending of OUT decides: a film (.mp4, .webm) or a strobe picture (.png).
    """
    from pacewright.app.annotation import AnnotateOptions, annotate
    from pacewright.cli.progress import progress_bar

    options = AnnotateOptions(
        slow=slow, name=name, beats_per_minute=beats, stroke=stroke, units=check_units(units)
    )
    assessing = assess_options(
        left_handed=left_handed, view=view, capture_rate=capture_rate, scale=scale, head=head
    )
    with progress_bar("Annotating") as progress:
        assessment = annotate(clip, out, assessing, options, strobe=strobe, progress=progress)
    count = len(assessment.strokes)
    shown = f"stroke {stroke}" if stroke else "1 stroke" if count == 1 else f"{count} strokes"
    typer.echo(f"{out}: {shown}.")
    if strobe is not None:
        typer.echo(f"{strobe}: strobe picture.")
    for remark in assessment.remarks:
        typer.echo(f"  note: {remark.text}")
