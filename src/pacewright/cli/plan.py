"""`pacewright plan`: a practice plan as page, PDF and calendar."""

from __future__ import annotations

import datetime
import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pacewright.core.display import Units, check_units
from pacewright.core.errors import SettingsError
from pacewright.core.units import parse_length, parse_slope

if TYPE_CHECKING:
    from pacewright.core.plan import PracticePlan

command = typer.Typer(add_completion=False)

Lengths = Annotated[list[str] | None, typer.Option(help="Length of a putt to practise: 20ft. Once for each.")]
Strokes = Annotated[
    list[Path] | None, typer.Option(help="The player's own strokes: what assess --json printed.")
]
Out = Annotated[list[Path] | None, typer.Option(help="File to write: .pdf, .html or .ics. Once for each.")]
Practice = Annotated[
    Path | None, typer.Option(help="The player's page as one file for a telephone: practice.html.")
]


@command.command()
def plan(
    putt: Lengths = None,
    budget: Annotated[Path | None, typer.Option(help="What budget --json printed.")] = None,
    tempo: Annotated[Path | None, typer.Option(help="What tempo --json printed: its beat is taken.")] = None,
    beats: Annotated[float | None, typer.Option(help="Beats a minute; 90 where nothing is given.")] = None,
    green: Annotated[str, typer.Option(help="Green speed, for the markers: 10ft.")] = "",
    slope: Annotated[str, typer.Option(help="Rise along the line, uphill positive: 2%.")] = "0%",
    stroke: Strokes = None,
    days: Annotated[str, typer.Option(help="Days of the week: mon,thu; none with --sessions.")] = "mon,thu",
    weeks: Annotated[int, typer.Option(help="For so many weeks.")] = 4,
    sessions: Annotated[int, typer.Option(help="Or so many sessions in all.")] = 0,
    start: Annotated[str, typer.Option(help="First day at hand: 2026-03-02. Today where not given.")] = "",
    at: Annotated[str, typer.Option(help="Time of day, for the calendar.")] = "17:00",
    minutes: Annotated[int, typer.Option(help="Minutes a day.")] = 40,
    test_putts: Annotated[int, typer.Option(help="Putts in each test.")] = 30,
    player: Annotated[str, typer.Option(help="Name on the plan.")] = "",
    out: Out = None,
    practice: Practice = None,
    language: Annotated[str, typer.Option(help="Language of the player's page: en or de.")] = "en",
    paper: Annotated[str, typer.Option(help="a4 or letter.")] = "a4",
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    units: Annotated[str, typer.Option(help="metric or imperial.")] = "metric",
) -> None:
    """Make a practice plan: a first test, practice days, and a retention test on another day.

    Every choice carries its reason and how strong the evidence for it is.
    """
    from pacewright.app.outputs import check_paper
    from pacewright.app.plans import PlanOptions, check_out, make_plan, plan_dict, write_plan
    from pacewright.app.practice_page import PracticePlayer, write_practice_file
    from pacewright.app.strokes_json import load_strokes
    from pacewright.core.green import Green

    shown_units, sheet, time = check_units(units), check_paper(paper), _time(at)
    reader = PracticePlayer(shown_units, language)
    for path in out or []:
        check_out(path)
    made = make_plan(
        PlanOptions(
            lengths_m=tuple(parse_length(text) for text in putt or ["10ft", "20ft", "30ft"]),
            start=_date(start),
            player=player,
            weekdays=() if days.strip().lower() in {"", "none"} else tuple(days.split(",")),
            weeks=weeks,
            sessions=sessions,
            minutes=minutes,
            test_putts=test_putts,
            beats_per_minute=beats,
            green=Green(parse_length(green), slope_rad=parse_slope(slope)) if green else None,
            budget_path=budget,
            tempo_path=tempo,
            strokes=tuple(one for path in stroke or [] for one in load_strokes(path)),
        )
    )
    for path in out or []:
        write_plan(made, path, units=shown_units, paper=sheet, at=time)
    if practice is not None:
        write_practice_file(made, practice, reader)
    if as_json:
        print(json.dumps(plan_dict(made), indent=2, ensure_ascii=False))
    else:
        written = [*(out or []), *([practice] if practice else [])]
        _show(made, shown_units, [str(path) for path in written])


def _date(text: str) -> datetime.date:
    if not text:
        return datetime.date.today()
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise SettingsError(f"'{text}' is not a date; write 2026-03-02.") from None


def _time(text: str) -> datetime.time:
    try:
        return datetime.time.fromisoformat(text).replace(tzinfo=None)
    except ValueError:
        raise SettingsError(f"'{text}' is not a time of day; write 17:00.") from None


def _show(plan: PracticePlan, units: Units, written: list[str]) -> None:
    from rich.console import Console
    from rich.table import Table

    from pacewright.app.plans import plan_rows

    console = Console(highlight=False, markup=False)
    console.print(plan.aim, style="bold")
    table = Table(box=None, pad_edge=False, header_style="dim")
    for heading in ("Session", "Day", "Size", "Aim"):
        table.add_column(heading)
    for row in plan_rows(plan, units):
        table.add_row(*row)
    console.print(table)
    console.print()
    for choice in plan.choices[:1]:
        console.print(f"Why: {choice.choice} {choice.reason}")
    for rule in plan.stop_rules:
        console.print(f"Stop: {rule}")
    for path in written:
        console.print(f"Wrote {path}", style="dim")
