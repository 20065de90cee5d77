"""A plan from what is stored of a player: budget, beat, strokes and green."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any
from uuid import UUID

from pacewright.app.desk import convert
from pacewright.app.desk.context import Context
from pacewright.app.desk.story import Story
from pacewright.app.desk.strokes import core_strokes
from pacewright.app.plans import plan_dict
from pacewright.app.stations import build_station
from pacewright.coaching.plan import PlanRequest as Wish
from pacewright.coaching.plan import practice_plan, session_dates
from pacewright.coaching.spread_change import Span
from pacewright.core.errors import SettingsError
from pacewright.core.plan import PracticePlan
from pacewright.records.schema import Green, Player

if TYPE_CHECKING:
    from pacewright.app.desk.practice import PlanRequest

USUAL_BEAT = 90.0


def make_plan(context: Context, player_id: UUID, request: PlanRequest) -> PracticePlan:
    """The plan of a player. Raises SettingsError for days or lengths that make no sense."""
    figures = Story(context).figures(player_id)
    beat, beat_found = _beat(request, figures["tempo"]["body"])
    station = None
    with context.read() as transaction:
        player = context.get(transaction, Player, player_id, "player")
        if request.green_id is not None:
            green = convert.green(context.get(transaction, Green, request.green_id, "green")).green
            strokes = core_strokes(transaction, player_id)
            lengths = sorted(set(request.lengths_m))
            station = build_station(lengths, green, beats_per_minute=beat, strokes=strokes)
    shares, enough = _shares(figures["budget"]["body"])
    return practice_plan(
        Wish(
            dates=_dates(request),
            lengths_m=request.lengths_m,
            beats_per_minute=beat,
            player=player.name,
            beat_found=beat_found,
            minutes=request.minutes,
            test_putts=request.test_putts,
            shares=shares,
            budget_enough=enough,
            station=station,
        )
    )


def plan_body(context: Context, player_id: UUID, request: PlanRequest) -> dict[str, Any]:
    """The plan in the words of ``plan --json``."""
    return plan_dict(make_plan(context, player_id, request))


def _dates(request: PlanRequest) -> list[Any]:
    if request.weekdays:
        return list(
            session_dates(request.start, request.weekdays, weeks=request.weeks, sessions=request.sessions)
        )
    if request.sessions <= 0:
        raise SettingsError("Name the days of practice, or give a number of sessions.")
    return [None] * request.sessions


def _beat(request: PlanRequest, tempo: Mapping[str, Any] | None) -> tuple[float, bool]:
    """Beats a minute, and whether they were found with this player."""
    if request.beats_per_minute is not None:
        return request.beats_per_minute, False
    if tempo is None or tempo["beats_per_minute"] is None:
        return USUAL_BEAT, False
    return float(tempo["beats_per_minute"]), tempo["verdict"] == "settled"


def _shares(budget: Mapping[str, Any] | None) -> tuple[dict[str, Span], bool]:
    if budget is None:
        return {}, False
    found = {
        name: Span(share["value"], share["low"], share["high"])
        for name, share in budget["shares"].items()
        if None not in (share["value"], share["low"], share["high"])
    }
    return found, budget["enough"] is True
