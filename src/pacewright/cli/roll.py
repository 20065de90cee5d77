"""`pacewright roll`: one putt on a green."""

from __future__ import annotations

import typer

command = typer.Typer(add_completion=False)


@command.command()
def roll() -> None:
    """Roll one putt."""
