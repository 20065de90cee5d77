"""How recordings are to be read: the options that `assess` and `report` share."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from pacewright.core.errors import SettingsError
from pacewright.core.units import parse_length, parse_quantity, parse_slope

if TYPE_CHECKING:
    from pacewright.app.assessment import AssessOptions
    from pacewright.core.stroke import Stroke

Files = Annotated[
    list[Path],
    typer.Argument(help="Recordings of one player: clips, CSV, C3D, TRC, or times taken by hand."),
]
Columns = Annotated[str, typer.Option(help="Other column names: head_x_mm=X,time_s=T (ours=the file's).")]
Profile = Annotated[str, typer.Option(help="A saved set of these options; see --save-profile of assess.")]
Rate = Annotated[str, typer.Option(help="Samples a second, where the file has no times: 240.")]
Marker = Annotated[str, typer.Option(help="Motion capture: the marker on the head.")]
ArcRadius = Annotated[
    str, typer.Option(help="Inertial files: swing axis to head, such as 1.35m; 1.35 ± 0.15 m if left out.")
]
LeftHanded = Annotated[bool, typer.Option("--left-handed", help="The player is left-handed.")]
ReadMore = Annotated[
    list[str] | None,
    typer.Option(
        "--read",
        help="More about the file, as name=value: delimiter=;  decimal=,  drop_bad_rows=yes  "
        "ball_marker=BALL  up_axis=z  target_axis=-x  timing_sd_s=0.05.",
    ),
]
View = Annotated[str, typer.Option(help="Clips: above (camera over the ball) or front (facing the player).")]
CaptureRate = Annotated[str, typer.Option(help="Clips: pictures a second when filmed, for slow motion: 240.")]
Scale = Annotated[
    str,
    typer.Option(help="Clips: ball, sheet (see pacewright sheet), or two points: 0.5m@x1,y1,x2,y2."),
]
Head = Annotated[
    str,
    typer.Option(
        help="Clips: where the head is in the first picture, x,y in pixels; or what is stuck on it: mark, "
        "sticker."
    ),
]
Asked = Annotated[list[str] | None, typer.Option(help="Length of the putts, once or for each file: 10ft.")]
GreenSpeed = Annotated[str, typer.Option(help="Green speed, for roll-out and station: 10ft.")]
Slope = Annotated[str, typer.Option(help="Slope of that green, uphill positive: 2%.")]
Baseline = Annotated[
    Path | None, typer.Option(help="The player's own yardstick: what assess --json printed earlier.")
]

_TEXTS = ("delimiter", "decimal", "ball_marker", "up_axis", "target_axis")
_YES = {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False}


def assess_options(
    *,
    columns: str = "",
    profile: str = "",
    rate: str = "",
    marker: str = "",
    arc_radius: str = "",
    left_handed: bool = False,
    read: list[str] | None = None,
    asked: list[str] | None = None,
    green: str = "",
    slope: str = "0%",
    baseline: Path | None = None,
    view: str = "",
    capture_rate: str = "",
    scale: str = "",
    head: str = "",
    curves: bool = False,
) -> AssessOptions:
    """What an assessment goes by, as it is typed. Raises SettingsError, and ReadError for the baseline."""
    from pacewright.app.assessment import AssessOptions, ReadOptions, parse_clip_options, parse_columns
    from pacewright.core.green import Green

    earlier: tuple[Stroke, ...] = ()
    if baseline is not None:
        from pacewright.app.strokes_json import load_strokes

        earlier = tuple(load_strokes(baseline))
    return AssessOptions(
        read=ReadOptions(
            columns=parse_columns(columns),
            profile=profile or None,
            rate_hz=parse_quantity(rate, "frequency", default_unit="Hz") if rate else None,
            marker=marker or None,
            arc_radius_m=parse_length(arc_radius) if arc_radius else None,
            left_handed=left_handed,
            **_more(read or []),
        ),
        clip=parse_clip_options(view=view, capture_rate=capture_rate, scale=scale, head=head),
        green=Green(parse_length(green), slope_rad=parse_slope(slope)) if green else None,
        asked_length_m=tuple(parse_length(text) for text in asked or []),
        baseline=earlier,
        curves=curves,
    )


def _more(pairs: list[str]) -> dict[str, Any]:
    """``name=value`` pairs of --read."""
    said: dict[str, Any] = {}
    for pair in pairs:
        name, equals, value = (part.strip() for part in pair.partition("="))
        if equals and value and name in _TEXTS:
            said[name] = value
        elif equals and name == "drop_bad_rows" and value.lower() in _YES:
            said[name] = _YES[value.lower()]
        elif equals and name == "timing_sd_s":
            said[name] = parse_quantity(value, "time", default_unit="s")
        else:
            known = ", ".join((*_TEXTS, "drop_bad_rows", "timing_sd_s"))
            raise SettingsError(f"--read '{pair}' is not known; write name=value with one of: {known}.")
    return said
