"""`pacewright green`: green speed from rolls measured both ways."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Annotated

import typer

from pacewright.core.display import Units, check_units, format_both, format_figure
from pacewright.core.units import parse_length

if TYPE_CHECKING:
    from pacewright.core.green import GreenSpeed

command = typer.Typer(add_completion=False)


@command.command()
def green(
    up: Annotated[
        list[str], typer.Option(help="A roll of the ramp up the slope: 185cm. Once for each roll.")
    ],
    down: Annotated[list[str], typer.Option(help="A roll down the slope: 981cm. Once for each roll.")],
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    units: Annotated[str, typer.Option(help="metric or imperial first.")] = "metric",
) -> None:
    """Green speed from rolls measured both ways, corrected for the slope."""
    from pacewright.app.putting import measure_green

    shown_units = check_units(units)
    measured = measure_green([parse_length(text) for text in up], [parse_length(text) for text in down])
    if as_json:
        print(json.dumps(_as_dict(measured), indent=2))
    else:
        _show(measured, shown_units)


def _as_dict(measured: GreenSpeed) -> dict[str, object]:
    return {
        "green_speed_m": measured.speed_m,
        "green_speed_ft": measured.speed_ft,
        "green_speed_sd_m": measured.sd_m if math.isfinite(measured.sd_m) else None,
        "slope_rad": measured.slope_rad,
        "warnings": [{"code": warning.code, "text": warning.text} for warning in measured.warnings],
    }


def _show(measured: GreenSpeed, units: Units) -> None:
    from rich.console import Console

    console = Console()
    text = f"Green speed: {format_both(measured.speed_m, 'putt_length', units)}"
    spread = format_figure(measured.sd_m, "putt_length", units, measured.sd_m)
    if spread.unit:
        text += f", standard uncertainty {spread.plain}"
    console.print(text, style="bold", highlight=False)
    console.print(f"Slope: {100 * math.tan(measured.slope_rad):.1f} % along the way up", highlight=False)
    for warning in measured.warnings:
        console.print(f"Warning: {warning.text}", highlight=False, markup=False)
