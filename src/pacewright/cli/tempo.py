"""`pacewright tempo`: which beat gives this player the smallest spread of distance."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from pacewright.app.tempos import BeatFound

command = typer.Typer(add_completion=False)


@command.command()
def tempo(
    blocks: Annotated[Path, typer.Argument(help="Putts at several beats: CSV, in the order played.")],
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """Say which beat gives this player the smallest spread of distance, and which to try next.

    Columns: beats_per_minute, asked_m, finish_along_m (the roll-out along the line); also comfort (1–5).
    """
    from pacewright.app.tempos import find_beat_in_file, tempo_dict

    found = find_beat_in_file(blocks)
    if as_json:
        print(json.dumps(tempo_dict(found), indent=2))
    else:
        _show(found)


def _show(search: BeatFound) -> None:
    from rich.console import Console
    from rich.table import Table

    console = Console(highlight=False, markup=False)
    console.print(search.statement, style="bold")
    for sentence in search.explanation:
        console.print(sentence)
    table = Table(box=None, pad_edge=False, header_style="dim")
    for heading in search.head:
        table.add_column(heading, justify="right")
    for row in search.rows:
        table.add_row(*row)
    console.print()
    console.print(table)
    for remark in search.remarks:
        console.print(f"Note: {remark.text}", style="dim")
