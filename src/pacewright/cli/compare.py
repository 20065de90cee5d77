"""`pacewright compare`: did practice work."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from pacewright.app.progress import Progress

command = typer.Typer(add_completion=False)


@command.command()
def compare(
    before: Annotated[Path, typer.Argument(help="Putts of the session before: CSV, in the order played.")],
    after: Annotated[Path, typer.Argument(help="Putts of the session after.")],
    one_look: Annotated[
        bool,
        typer.Option(
            "--one-look", help="The number of putts was fixed beforehand, and this is the only look."
        ),
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """Say whether the spread of distance changed: better, no clear change, or worse.

    You may look after every putt. Columns: asked_m and finish_along_m (the roll-out along the line); also
    holed, phase (learning, retention, transfer), downswing_time_s, backswing_time_s, time_ratio.
    """
    from pacewright.app.progress import compare_files, progress_dict

    found = compare_files(before, after, one_look=one_look)
    if as_json:
        print(json.dumps(progress_dict(found), indent=2))
    else:
        _show(found)


def _show(progress: Progress) -> None:
    from rich.console import Console
    from rich.table import Table

    console = Console(highlight=False, markup=False)
    console.print(progress.statement, style="bold")
    for sentence in (*progress.explanation, *progress.phases):
        console.print(sentence)
    table = Table(box=None, pad_edge=False, header_style="dim", title_justify="left")
    for heading in progress.head:
        table.add_column(heading)
    for row in progress.rows:
        table.add_row(*row)
    console.print()
    console.print(table)
    for remark in progress.remarks:
        console.print(f"Note: {remark.text}", style="dim")
