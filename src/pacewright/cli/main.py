"""The command line. Each command lives in a module of its own that is imported when it is called."""

from __future__ import annotations

import importlib
import sys
from typing import Any

import typer
from typer.core import TyperGroup

from pacewright.core.errors import PacewrightError

COMMANDS: dict[str, tuple[str, str]] = {
    "assess": ("pacewright.cli.assess", "Measure the strokes in recordings and say what they show."),
    "roll": ("pacewright.cli.roll", "Roll one putt: launch speed to rest, or length to launch speed."),
    "green": ("pacewright.cli.green", "Green speed from rolls measured both ways."),
    "station": ("pacewright.cli.station", "Markers and beat for the putts to practise."),
    "report": ("pacewright.cli.report", "Report to hand over, as PDF and as one HTML file."),
    "beats": ("pacewright.cli.beats", "Click track for the station, as WAV or FLAC."),
    "strip": ("pacewright.cli.strip", "Marker strip at true scale, as PDF."),
    "demo": ("pacewright.cli.demo", "Run the whole job on a bundled recording."),
}
"""Command name: (module with a Typer app called ``command``, one line of help)."""


class _LazyGroup(TyperGroup):
    """Lists every command from the table and imports a command's module only to run it."""

    def list_commands(self, ctx: Any) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        if cmd_name not in COMMANDS:
            return None
        module, summary = COMMANDS[cmd_name]
        wanted = any(argument == cmd_name for argument in sys.argv[1:]) or ctx.resilient_parsing
        if not wanted and "--help" in sys.argv:
            return _summary_only(cmd_name, summary)
        loaded = typer.main.get_command(importlib.import_module(module).command)
        loaded.name, loaded.short_help = cmd_name, summary
        return loaded


def _summary_only(name: str, summary: str) -> Any:
    stub = typer.Typer(add_completion=False)
    stub.command(name, help=summary)(lambda: None)
    return typer.main.get_command(stub)


app = typer.Typer(
    name="pacewright",
    cls=_LazyGroup,
    help="From a recorded putting stroke to a practice station.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
)


@app.callback()
def main() -> None:
    """From a recorded putting stroke to a practice station."""


def run() -> None:
    """Entry point: errors that Pacewright raises on purpose become one message and exit code 2."""
    try:
        app()
    except PacewrightError as error:
        print(f"pacewright: {error}", file=sys.stderr)
        sys.exit(2)
