"""`pacewright sheet`: the scale sheet for filming."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

command = typer.Typer(add_completion=False)


@command.command()
def sheet(
    out: Annotated[Path, typer.Argument(help="File to write: sheet.pdf.")],
    paper: Annotated[str, typer.Option(help="a4 or letter.")] = "a4",
) -> None:
    """Write the scale sheet as PDF at true scale, to print at 100 % and lay beside the ball when filming."""
    from pacewright.app.scale_sheet import check_paper, write_sheet

    bar_mm = write_sheet(out, paper=check_paper(paper))
    typer.echo(f"{out}: print at 100 %, and check that the bar below the board measures {bar_mm:g} mm.")
    typer.echo(
        "Lay it flat beside the ball, arrow towards the hole; the second page says how, and holds head"
    )
    typer.echo("marks. Then: pacewright assess CLIP --scale SHEET")
