"""`pacewright listen`: contacts and beats in a sound file."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pacewright.core.units import parse_length

if TYPE_CHECKING:
    from pacewright.app.listening import Heard

command = typer.Typer(add_completion=False)


@command.command()
def listen(
    file: Annotated[Path, typer.Argument(help="Sound: WAV, FLAC, OGG, MP3, or a clip with sound.")],
    beats: Annotated[
        float | None, typer.Option(help="Beats a minute, where it is known what was sounding or counted.")
    ] = None,
    back_marker: Annotated[
        str, typer.Option(help="Back marker behind the ball: 32cm. Equal markers where not given.")
    ] = "",
    through_marker: Annotated[str, typer.Option(help="Through marker beyond the ball: 32cm.")] = "",
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """Hear the contacts of putter and ball in a sound, and how far each is from the beat.

    Beats that sound are found: our own click track, or any metronome. With --beats and none sounding, the
    beat is laid where it fits the contacts best: then the errors show the spread alone.
    """
    from pacewright.app.listening import ListenOptions, heard_dict
    from pacewright.app.listening import listen as hear

    given = ListenOptions(beats)
    if back_marker or through_marker:
        given = ListenOptions(
            beats, parse_length(back_marker or through_marker), parse_length(through_marker or back_marker)
        )
    heard = hear(file, given)
    if as_json:
        print(json.dumps(heard_dict(heard), indent=2, ensure_ascii=False))
    else:
        _show(heard)


def _show(heard: Heard) -> None:
    from rich.console import Console
    from rich.table import Table

    console = Console(highlight=False, markup=False)
    console.print(_beats_sentence(heard))
    if not heard.contacts:
        console.print("No contact was heard.")
        return
    table = Table(box=None, pad_edge=False, header_style="dim")
    for heading in ("Contact", "Time", "Against the beat"):
        table.add_column(heading, justify="right")
    for number, contact in enumerate(heard.contacts, 1):
        error = contact.beat_error_s
        table.add_row(
            str(number),
            f"{contact.time_s:.3f} s",
            "–" if error is None else f"{abs(1000 * error):.0f} ms {'late' if error > 0 else 'early'}",
        )
    console.print(table)


def _beats_sentence(heard: Heard) -> str:
    beats = f"{heard.beats_per_minute:.1f}" if heard.beats_per_minute else ""
    return {
        "tones": f"{len(heard.beats)} beats of a click track, {beats} a minute.",
        "clicks": f"{len(heard.beats)} regular clicks, {beats} a minute; their phase is taken as the beat's.",
        "stated": f"No beat sounds; {beats} a minute as stated, laid where it fits the contacts best.",
        "none": "No beat sounds.",
    }[heard.beats_from]
