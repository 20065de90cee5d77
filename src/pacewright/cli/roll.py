"""`pacewright roll`: one putt on a green."""

from __future__ import annotations

import json
import math
from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated

import typer

from pacewright.core.display import Quantity, Units, check_units, format_both, format_number
from pacewright.core.equipment import HOLE_RADIUS_M
from pacewright.core.errors import SettingsError
from pacewright.core.units import FOOT_M, parse_length, parse_slope, parse_speed

if TYPE_CHECKING:
    from pacewright.core.launch import AtHole, RollOut

command = typer.Typer(add_completion=False)

_ROWS: tuple[tuple[str, str, Quantity], ...] = (
    ("launch_speed_m_s", "Launch speed", "speed"),
    ("roll_out_m", "Rests along the line", "putt_length"),
    ("time_s", "Time to rest", "time"),
    ("skid_length_m", "Skids for", "stroke_length"),
    ("skid_time_s", "Skids during", "time"),
)


@command.command()
def roll(
    green: Annotated[str, typer.Option(help="Green speed: 10ft.")],
    launch_speed: Annotated[
        str, typer.Option(help="Speed at which the ball leaves the face: 2.386m/s.")
    ] = "",
    length: Annotated[str, typer.Option(help="Or the length that the putt shall roll: 3m.")] = "",
    beyond: Annotated[str, typer.Option(help="With --length: roll that much further: 0.4m.")] = "",
    slope: Annotated[str, typer.Option(help="Rise along the line, uphill positive: 2%.")] = "0%",
    cross_slope: Annotated[str, typer.Option(help="Fall across the line, to the left positive: 2%.")] = "0%",
    skid_friction: Annotated[
        float | None, typer.Option(help="Friction while the ball skids; 0.4 where not given.")
    ] = None,
    no_skid: Annotated[bool, typer.Option("--no-skid", help="The ball rolls from the start.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    units: Annotated[str, typer.Option(help="metric or imperial first.")] = "metric",
) -> None:
    """Roll one putt: launch speed to rest, or length to launch speed.

    The ball starts along the target line, and no hole is in its way. On a cross-slope a putt of a given
    length comes to rest that far along the line, and beside it. With a length it is also said how the ball
    would come to a hole there.
    """
    from pacewright.app.putting import SLIDING_FRICTION, launch_for_length, putt_at_hole, roll_putt
    from pacewright.core.green import Green

    shown_units = check_units(units)
    if bool(launch_speed) == bool(length):
        raise SettingsError("Give either --launch-speed or --length, such as --length 3m.")
    if beyond and not length:
        raise SettingsError("--beyond goes with --length; a launch speed says itself how far the ball rolls.")
    if no_skid and skid_friction is not None:
        raise SettingsError("Give either --skid-friction or --no-skid.")
    friction = None if no_skid else SLIDING_FRICTION if skid_friction is None else skid_friction
    ground = Green(parse_length(green), parse_slope(slope), parse_slope(cross_slope))
    at_hole = None
    if length:
        length_m, beyond_m = parse_length(length), parse_length(beyond) if beyond else 0.0
        putt = launch_for_length(length_m, ground, beyond_m=beyond_m, sliding_friction=friction)
        if length_m > HOLE_RADIUS_M:
            at_hole = putt_at_hole(putt.launch_speed_m_s, length_m, ground, sliding_friction=friction)
    else:
        putt = roll_putt(parse_speed(launch_speed), ground, sliding_friction=friction)
    if as_json:
        print(json.dumps(asdict(putt) | _hole_dict(at_hole), indent=2))
    else:
        _show(putt, at_hole, shown_units)


def _hole_dict(at_hole: AtHole | None) -> dict[str, object]:
    """What the putt does at a hole at the length asked; null where there is none, or the ball misses it."""
    met = at_hole is not None and math.isfinite(at_hole.speed_m_s)
    return {
        "hole_speed_m_s": at_hole.speed_m_s if at_hole and met else None,
        "holed": at_hole.holed if at_hole else None,
    }


def _show(putt: RollOut, at_hole: AtHole | None, units: Units) -> None:
    from rich.console import Console
    from rich.table import Table

    table = Table(box=None, show_header=False, pad_edge=False)
    for name, label, quantity in _ROWS:
        table.add_row(label, format_both(getattr(putt, name), quantity, units))
        if name == "roll_out_m":
            table.add_row("Rests beside the line", _across_text(putt.across_m, units))
    slowing = putt.deceleration_m_s2
    both = [f"{format_number(slowing, 3)} m/s²", f"{format_number(slowing / FOOT_M, 2)} ft/s²"]
    first, second = both if units == "metric" else reversed(both)
    table.add_row("Slows while rolling by", f"{first} ({second})")
    if at_hole is not None:
        table.add_row("At a hole there", _at_hole_text(at_hole, units))
    Console().print(table)


def _across_text(across_m: float, units: Units) -> str:
    """Positive y lies to the left for somebody who looks towards the target."""
    side = "left" if across_m > 0.0 else "right"
    return f"{format_both(abs(across_m), 'putt_length', units)} to the {side}" if across_m else "on it"


def _at_hole_text(at_hole: AtHole, units: Units) -> str:
    if not math.isfinite(at_hole.speed_m_s):
        return "passes it by"
    comes = f"comes to the rim with {format_both(at_hole.speed_m_s, 'speed', units)}"
    return f"{comes} and {'drops' if at_hole.holed else 'rolls on'}"
