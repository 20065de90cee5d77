"""Use case: budget, beat, green and days become a practice plan, as page, PDF and calendar."""

from __future__ import annotations

import datetime
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from pacewright.app.files import check_folder, write_whole
from pacewright.app.stations import build_station
from pacewright.coaching.plan import PlanRequest, practice_plan, session_dates
from pacewright.coaching.spread_change import Span
from pacewright.core.display import Units
from pacewright.core.errors import ReadError, SettingsError
from pacewright.core.green import Green
from pacewright.core.plan import PracticePlan
from pacewright.core.stroke import Stroke
from pacewright.render.typeset import Paper

SCHEMA = "pacewright.plan/1"
ENDINGS = (".pdf", ".html", ".htm", ".ics")


@dataclass(frozen=True, slots=True)
class PlanOptions:
    """What a plan is made from.

    ``weekdays`` (mon … sun) may be empty: sessions without dates. ``sessions`` takes the place of ``weeks``
    where it is above 0. ``budget_path`` is what budget --json printed, ``tempo_path`` what tempo --json
    printed. With a ``green`` the plan has markers; ``strokes`` make them the player's own.
    """

    lengths_m: tuple[float, ...]
    start: datetime.date
    player: str = ""
    weekdays: tuple[str, ...] = ("mon", "thu")
    weeks: int = 4
    sessions: int = 0
    minutes: int = 40
    test_putts: int = 30
    beats_per_minute: float | None = None
    green: Green | None = None
    budget_path: Path | None = None
    tempo_path: Path | None = None
    strokes: tuple[Stroke, ...] = ()


def make_plan(options: PlanOptions) -> PracticePlan:
    """The plan. Raises ReadError for a file that is not what it should be, SettingsError for bad options."""
    shares, enough = _read_budget(options.budget_path)
    beat, beat_found = _beat(options)
    station = None
    if options.green is not None:
        station = build_station(
            sorted(set(options.lengths_m)), options.green, beats_per_minute=beat, strokes=options.strokes
        )
    return practice_plan(
        PlanRequest(
            dates=_dates(options),
            lengths_m=options.lengths_m,
            beats_per_minute=beat,
            player=options.player,
            beat_found=beat_found,
            minutes=options.minutes,
            test_putts=options.test_putts,
            shares=shares,
            budget_enough=enough,
            station=station,
        )
    )


def write_plan(
    plan: PracticePlan,
    out: str | Path,
    *,
    units: Units = "metric",
    paper: Paper = "a4",
    at: datetime.time = datetime.time(17, 0),
) -> None:
    """Write a plan; the ending decides: ``.pdf``, ``.html`` or ``.ics`` (sessions start at ``at``).

    Raises SettingsError for another ending, or for a calendar of sessions without days.
    """
    path = Path(out)
    check_out(path)
    ending = path.suffix.lower()
    if ending == ".ics":
        from pacewright.render.calendar import plan_calendar

        write_whole(path, plan_calendar(plan, at, units, datetime.datetime.now(datetime.UTC)))
    elif ending == ".pdf":
        from pacewright.render.plan import plan_pdf

        write_whole(path, plan_pdf(plan, units, paper))
    else:
        from pacewright.render.plan import plan_html

        write_whole(path, plan_html(plan, units).encode("utf-8"))


def check_out(path: str | Path) -> None:
    """Raise SettingsError for an ending that no plan is written to, or a folder that is not there."""
    if Path(path).suffix.lower() not in ENDINGS:
        raise SettingsError(f"'{Path(path).name}' must end in .pdf, .html or .ics.")
    check_folder(path)


def plan_dict(plan: PracticePlan) -> dict[str, Any]:
    """What ``plan --json`` prints."""
    from pacewright.app.stations import station_dict
    from pacewright.render.export import json_ready

    body = asdict(plan) | {
        "station": None if plan.station is None else station_dict(plan.station),
        "focus": plan.focus or None,
    }
    for session in body["sessions"]:
        day = session["date"]
        session["date"] = None if day is None else day.isoformat()
        session["putts"] = sum(block["putts"] for block in session["blocks"])
    ready = json_ready({"schema": SCHEMA, **body})
    assert isinstance(ready, dict)
    return ready


def _dates(options: PlanOptions) -> list[datetime.date | None]:
    if options.weekdays:
        return list(
            session_dates(options.start, options.weekdays, weeks=options.weeks, sessions=options.sessions)
        )
    if options.sessions <= 0:
        raise SettingsError("Name the days, such as --days mon,thu, or give a number of sessions.")
    return [None] * options.sessions


def _beat(options: PlanOptions) -> tuple[float, bool]:
    """Beats a minute, and whether they were found with this player."""
    if options.beats_per_minute is not None:
        return options.beats_per_minute, False
    if options.tempo_path is None:
        return 90.0, False
    body = _read_json(options.tempo_path, "tempo --json")
    beat = _number(body.get("beats_per_minute"))
    if beat is None:
        raise ReadError(f"'{options.tempo_path}' has no beats_per_minute; give what tempo --json printed.")
    return beat, body.get("verdict") == "settled"


def _read_budget(path: Path | None) -> tuple[dict[str, Span], bool]:
    """Shares by cause and whether they are known well enough, from what budget --json printed."""
    if path is None:
        return {}, False
    body = _read_json(path, "budget --json")
    shares = body.get("shares")
    if not isinstance(shares, dict):
        raise ReadError(f"'{path}' has no shares; give what budget --json printed.")
    found = {}
    for name, share in shares.items():
        figures = (
            [_number(share.get(key)) for key in ("value", "low", "high")] if isinstance(share, dict) else []
        )
        known = [figure for figure in figures if figure is not None]
        if len(known) == 3:
            found[str(name)] = Span(*known)
    return found, body.get("enough") is True


def _read_json(path: Path, command: str) -> Mapping[str, Any]:
    try:
        body = json.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise ReadError(f"'{path}' cannot be read: {error.strerror}.") from None
    except (UnicodeDecodeError, json.JSONDecodeError):
        raise ReadError(f"'{path}' is not JSON; give what {command} printed.") from None
    if not isinstance(body, dict):
        raise ReadError(f"'{path}' is not what {command} prints.")
    return body


def _number(value: Any) -> float | None:
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return float(value) if is_number and math.isfinite(value) else None


def plan_rows(plan: PracticePlan, units: Units) -> Sequence[tuple[str, str, str, str]]:
    """Day, kind, size and aim of each session, for a table."""
    from pacewright.render.plan_page import session_page

    pages = [session_page(session, units) for session in plan.sessions]
    return [(page["name"], page["day"], page["size"], page["aim"]) for page in pages]
