"""`pacewright drill`: score one go at a drill, and follow it over goes."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from pacewright.core.display import check_units

command = typer.Typer(add_completion=False)


@command.command()
def drill(
    outcomes: Annotated[Path, typer.Argument(help="Putts of this go: CSV, in the order played.")],
    history: Annotated[
        list[Path] | None,
        typer.Option(help="Putts of an earlier go at the same drill. Once for each, oldest first."),
    ] = None,
    name: Annotated[str, typer.Option(help="Name of the drill; the file's if left out.")] = "",
    date: Annotated[
        datetime | None, typer.Option(formats=["%Y-%m-%d"], help="Day of this go, to be kept with it.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    units: Annotated[str, typer.Option(help="metric or imperial.")] = "metric",
) -> None:
    """Score a drill: how many putts were near, spread and bias of distance, timing, and norms beside them.

    Columns: asked_m and finish_along_m (the roll-out along the line), or finish in words such as +2ft; also
    holed, backswing_time_s, downswing_time_s, beats_per_minute.
    """
    from pacewright.app.drills import drill_dict, drill_report

    report = drill_report(
        outcomes, name, date.date() if date else None, earlier=history or [], units=check_units(units)
    )
    if as_json:
        print(json.dumps(drill_dict(report), indent=2))
        return
    first, *others = (*report.drill.sentences, *report.history_words)
    typer.echo(first)
    for sentence in others:
        typer.echo(sentence)
    for remark in report.drill.remarks:
        typer.echo(f"Note: {remark.text}")
