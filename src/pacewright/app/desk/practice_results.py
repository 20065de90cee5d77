"""What the player's page sends back (docs/contracts/practice.md): items with ids, each taken in once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from sqlalchemy import select

from pacewright.app.desk.context import Context
from pacewright.app.desk.putts import NewPutt
from pacewright.app.desk.sharing import NewDrillResult, PracticeDay, check_token, take_in, whose
from pacewright.core.errors import ForbiddenError, SettingsError
from pacewright.core.outcome import Outcome
from pacewright.records import undo
from pacewright.records.schema import Plan, Putt

PHASES = {"retention test": "retention"}
EARLY = "The putt that was taken back has not come yet; send it again after that."
REFUSED = "This link does not hold (any more); ask your coach for a new one."


@dataclass(frozen=True, slots=True)
class PagePutt:
    """A putt noted on the page, of one run of one session of the plan."""

    id: str
    at: dt.datetime
    run: str
    session_kind: str
    asked_m: float
    outcome: Outcome
    guess_along_m: float | None = None
    block: str = ""
    beats_per_minute: float | None = None
    beat_error_s: float | None = None


@dataclass(frozen=True, slots=True)
class PageEnd:
    """The end of a run: session ``number`` of the plan, with so many putts."""

    id: str
    at: dt.datetime
    run: str
    number: int
    putts: int


@dataclass(frozen=True, slots=True)
class PageResults:
    """One sending: putts, ends of runs, and the ids of putts that the player took back."""

    plan_id: UUID
    putts: tuple[PagePutt, ...] = ()
    ends: tuple[PageEnd, ...] = ()
    taken_back: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Received:
    """``added`` putts and ends were new; ``refused`` are ids of those that make no sense, and of putts to be
    taken back that have not come yet, with the reason."""

    added: int
    refused: tuple[tuple[str, str], ...] = ()


def receive_results(context: Context, sender: str | UUID, results: PageResults) -> Received:
    """As `Sharing.receive`."""
    if isinstance(sender, str):
        _check_plan(context, sender, results.plan_id)
    gone = set(results.taken_back)
    sent: tuple[PagePutt | PageEnd, ...] = (*results.putts, *results.ends)
    items = [item for item in sent if item.id not in gone]
    received = Received(0)
    for run in dict.fromkeys(item.run for item in items):
        received = _both(received, _sync(context, sender, run, [item for item in items if item.run == run]))
    early = gone - {item.id for item in sent}
    if gone:
        early -= _take_back(context, sender, gone)
    return _both(received, Received(0, tuple((one, EARLY) for one in sorted(early))))


def _sync(context: Context, sender: str | UUID, run: str, items: Sequence[PagePutt | PageEnd]) -> Received:
    """Take in the items of a run; where some make no sense, the others all the same."""
    try:
        return Received(take_in(context, sender, _day(run, items)).added)
    except SettingsError as error:
        if len(items) == 1:
            return Received(0, ((items[0].id, str(error)),))
    middle = len(items) // 2
    return _both(_sync(context, sender, run, items[:middle]), _sync(context, sender, run, items[middle:]))


def _both(one: Received, other: Received) -> Received:
    return Received(one.added + other.added, one.refused + other.refused)


def _check_plan(context: Context, token: str, plan_id: UUID) -> None:
    """A phone that holds plans of several players must not mix them up."""
    with context.database.read() as transaction:
        _, player = check_token(transaction, token)
        plan = transaction.get(Plan, plan_id)
        if plan is None or plan.player_id != player.id:
            raise ForbiddenError(REFUSED)


def _day(run: str, items: Sequence[PagePutt | PageEnd]) -> PracticeDay:
    putts = [item for item in items if isinstance(item, PagePutt)]
    return PracticeDay(
        client_id=run,
        held_on=min(item.at for item in items).date(),
        kind=putts[0].session_kind if putts else "practice",
        putts=tuple(
            NewPutt(
                putt.asked_m, putt.outcome, putt.guess_along_m, putt.block, PHASES.get(putt.session_kind, ""),
                putt.beats_per_minute, putt.beat_error_s, client_id=putt.id, played_at=putt.at,
            )
            for putt in putts
        ),
        drills=tuple(
            NewDrillResult(end.id, f"session {end.number} of the plan", end.at, {"putts": end.putts})
            for end in items
            if isinstance(end, PageEnd)
        ),
    )  # fmt: skip


def _take_back(context: Context, sender: str | UUID, ids: set[str]) -> set[str]:
    """Delete putts that were sent before they were taken back; which of them were ever here."""
    with context.database.write() as transaction:
        player, _ = whose(context, transaction, sender)
        found = list(
            transaction.scalars(select(Putt).where(Putt.player_id == player.id, Putt.client_id.in_(ids)))
        )
        for putt in found:
            if putt.deleted_step is None:
                undo.delete(transaction, putt, "player")
        context.figures_changed(transaction, player.id)
        return {str(putt.client_id) for putt in found}
