"""The command line. Each command lives in a module of its own that is imported when it is called."""

from __future__ import annotations

import importlib
import os
import sys
from collections.abc import Sequence
from typing import Annotated, Any

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
    "listen": ("pacewright.cli.listen", "Contacts of putter and ball in a sound, against the beat."),
    "strip": ("pacewright.cli.strip", "Marker strip at true scale, as PDF."),
    "sheet": ("pacewright.cli.sheet", "Scale sheet to film with, as PDF."),
    "batch": ("pacewright.cli.batch", "Every recording of a folder, on all cores."),
    "annotate": ("pacewright.cli.annotate", "Film or strobe picture of the strokes in a clip."),
    "compare": ("pacewright.cli.compare", "Did practice work: two sessions of putts compared."),
    "budget": ("pacewright.cli.budget", "Why the distance varies, split into its causes."),
    "tempo": ("pacewright.cli.tempo", "Which beat gives this player the smallest spread of distance."),
    "drill": ("pacewright.cli.drill", "Score a drill, and follow it from go to go."),
    "plan": ("pacewright.cli.plan", "Practice plan: page, PDF and calendar."),
    "serve": ("pacewright.cli.serve", "Open the coach's desk in the browser."),
    "desk": ("pacewright.cli.desk", "Backups of the desk; export, import or erase a player."),
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
        loaded: Any = typer.main.get_command(importlib.import_module(module).command)
        loaded.name, loaded.short_help = cmd_name, summary
        # Plain help, as for the whole: Rich's Markdown and traceback modules cost a tenth of a second.
        loaded.rich_markup_mode = None
        return loaded

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, summary) for name, (_, summary) in COMMANDS.items()])


app = typer.Typer(name="pacewright", cls=_LazyGroup, rich_markup_mode=None, pretty_exceptions_enable=False)


@app.callback(invoke_without_command=True)
def main(
    context: typer.Context,
    version: Annotated[bool, typer.Option("--version", help="Print the version and leave.")] = False,
) -> None:
    """From a recorded putting stroke to a practice station."""
    if version:
        from pacewright import __version__

        typer.echo(f"pacewright {__version__}")
    elif context.invoked_subcommand is None:
        typer.echo(context.get_help())


def run(arguments: Sequence[str] | None = None) -> int:
    """Entry point: run the command line and return its exit code.

    What goes wrong on purpose (a PacewrightError, a bad option, a file that cannot be opened, results that
    cannot be printed) becomes one message on stderr and exit code 2; a pipe whose reader went away is
    silent, and code 1. `arguments` defaults to those of the process.
    """
    try:
        result = app(args=arguments, prog_name="pacewright", standalone_mode=False)
        sys.stdout.flush()  # here and not as the interpreter ends, where a failure could not be told
    except PacewrightError as error:
        return _refuse(str(error))
    except typer.TyperException as error:
        context = getattr(error, "ctx", None)  # only errors of usage know where they happened
        help_page = f"{context.command_path if context else 'pacewright'} --help"
        return _refuse(f"{error.format_message().rstrip('.')}. See {help_page}.")
    except typer.Abort:
        return _refuse("stopped.")
    except BrokenPipeError:
        _discard_output()
        return 1
    except OSError as error:
        if error.filename is not None:
            return _refuse(f"'{error.filename}' cannot be used: {error.strerror}.")
        _discard_output()
        return _refuse(f"the results cannot be printed: {error.strerror or error}.")
    return result if isinstance(result, int) else 0


def _discard_output() -> None:
    """Send what is still to be printed nowhere, or the interpreter would try it again as it ends."""
    if sys.__stdout__ is None or sys.stdout is not sys.__stdout__:
        return  # not the process's own
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.__stdout__.fileno())
    os.close(nowhere)


def _refuse(message: str) -> int:
    print(f"pacewright: {message}", file=sys.stderr)
    return 2
