"""Putters and greens."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from typing import Any
from uuid import UUID

from sqlalchemy import select

from pacewright.app.desk import convert
from pacewright.app.desk.context import Context, alive, page, page_of
from pacewright.app.desk.views import GreenReadingView, GreenView, Page, PutterView, UndoView
from pacewright.app.putting import measure_green
from pacewright.core.equipment import Putter as CorePutter
from pacewright.core.errors import SettingsError
from pacewright.core.green import Green as CoreGreen
from pacewright.records import undo
from pacewright.records.schema import Green, GreenReading, Player, Putter
from pacewright.records.schema.base import now


class Putters:
    """The putters of players."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def create(
        self,
        player_id: UUID,
        name: str,
        *,
        head_mass_kg: float = CorePutter().head_mass_kg,
        restitution: float = CorePutter().restitution,
        notes: str = "",
    ) -> PutterView:
        """A putter of a player. Raises SettingsError for figures that make no sense."""
        values = _checked_putter(
            {"name": name, "head_mass_kg": head_mass_kg, "restitution": restitution, "notes": notes}
        )
        with self._context.write() as transaction:
            self._context.get(transaction, Player, player_id, "player")
            row = Putter(player_id=player_id, **values)
            transaction.add(row)
            transaction.flush()
            self._context.log(transaction, "create", "putter", row.id, player_id)
            return convert.putter(row)

    def get(self, putter_id: UUID) -> PutterView:
        """A putter. Raises NotFoundError."""
        with self._context.read() as transaction:
            return convert.putter(self._context.get(transaction, Putter, putter_id, "putter"))

    def update(self, putter_id: UUID, version: int | None, **changes: Any) -> PutterView:
        """Change name, head_mass_kg, restitution or notes; see `Players.update`."""
        values = _checked_putter(changes)
        with self._context.write() as transaction:
            row = self._context.get(transaction, Putter, putter_id, "putter")
            self._context.change(transaction, Putter, putter_id, version, values)
            self._context.log(
                transaction, "update", "putter", putter_id, row.player_id, fields=sorted(changes)
            )
            return convert.putter(self._context.get(transaction, Putter, putter_id, "putter"))

    def delete(self, putter_id: UUID) -> UndoView:
        """Delete a putter; the sessions it was used in keep it."""
        with self._context.write() as transaction:
            row = self._context.get(transaction, Putter, putter_id, "putter")
            step, rows = undo.delete(transaction, row, self._context.actor.name)
            self._context.log(transaction, "delete", "putter", putter_id, row.player_id)
            return convert.undo_step(step, rows)

    def of_player(self, player_id: UUID) -> tuple[PutterView, ...]:
        """A player's putters, oldest first."""
        with self._context.read() as transaction:
            self._context.get(transaction, Player, player_id, "player")
            found = transaction.scalars(
                select(Putter).where(Putter.player_id == player_id, alive(Putter)).order_by(Putter.id)
            )
            return tuple(convert.putter(row) for row in found)


class Greens:
    """The greens that were measured."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def create(
        self,
        name: str,
        speed_m: float,
        *,
        place: str = "",
        speed_sd_m: float | None = None,
        slope_rad: float = 0.0,
        cross_slope_rad: float = 0.0,
        measured_how: str = "stated",
        notes: str = "",
    ) -> GreenView:
        """A green whose speed (level roll of the ramp, m) is stated. Raises SettingsError out of range."""
        CoreGreen(speed_m, slope_rad, cross_slope_rad)
        values = _checked_green({"name": name, "place": place, "notes": notes, "measured_how": measured_how})
        with self._context.write() as transaction:
            row = Green(
                **values, speed_m=speed_m, speed_sd_m=speed_sd_m, slope_rad=slope_rad,
                cross_slope_rad=cross_slope_rad, measured_at=now(),
            )  # fmt: skip
            transaction.add(row)
            transaction.flush()
            transaction.add(_reading(row, []))
            self._context.log(transaction, "create", "green", row.id)
            return convert.green(row)

    def measure(
        self, green_id: UUID, up_m: Sequence[float], down_m: Sequence[float], *, how: str = "ramp"
    ) -> GreenView:
        """Measure a green anew from rolls of the ramp up the slope and down it, in metres, and keep it.

        Raises SettingsError for rolls that no green gives.
        """
        found = measure_green(up_m, down_m)
        sd = found.speed_sd_m if hasattr(found, "speed_sd_m") else found.sd_m
        with self._context.write() as transaction:
            row = self._context.get(transaction, Green, green_id, "green")
            values = {
                "speed_m": found.speed_m, "speed_sd_m": sd if math.isfinite(sd) else None,
                "slope_rad": found.slope_rad, "measured_at": now(), "measured_how": how[:60],
            }  # fmt: skip
            self._context.change(transaction, Green, green_id, None, values)
            row = self._context.get(transaction, Green, green_id, "green")
            transaction.add(_reading(row, [list(up_m), list(down_m)]))
            self._context.log(transaction, "measure", "green", green_id)
            return convert.green(row)

    def update(self, green_id: UUID, version: int | None, **changes: Any) -> GreenView:
        """Change name, place, notes, speed_m, speed_sd_m, slope_rad or cross_slope_rad; see `Players.update`.

        A new speed or slope is kept as a reading of its own.
        """
        values = _checked_green(changes)
        figures = {"speed_m", "speed_sd_m", "slope_rad", "cross_slope_rad"} & set(changes)
        if figures:
            values |= {"measured_at": now(), "measured_how": "stated"}
        with self._context.write() as transaction:
            row = self._context.get(transaction, Green, green_id, "green")
            CoreGreen(
                values.get("speed_m", row.speed_m), values.get("slope_rad", row.slope_rad),
                values.get("cross_slope_rad", row.cross_slope_rad),
            )  # fmt: skip
            self._context.change(transaction, Green, green_id, version, values)
            row = self._context.get(transaction, Green, green_id, "green")
            if figures:
                transaction.add(_reading(row, []))
            self._context.log(transaction, "update", "green", green_id, fields=sorted(changes))
            return convert.green(row)

    def get(self, green_id: UUID) -> GreenView:
        """A green. Raises NotFoundError."""
        self._context.must_be("coach", "assistant")
        with self._context.read() as transaction:
            return convert.green(self._context.get(transaction, Green, green_id, "green"))

    def list(self, *, after: str | None = None, limit: int = 50) -> Page[GreenView]:
        """Greens in the order of their names."""
        self._context.must_be("coach", "assistant")
        with self._context.read() as transaction:
            rows, cursor = page_of(
                transaction, select(Green).where(alive(Green)), (Green.name, Green.id), after=after,
                limit=limit, key_of=lambda row: (row[0].name, row[0].id),
            )  # fmt: skip
            return page([convert.green(row[0]) for row in rows], cursor)

    def readings(self, green_id: UUID) -> tuple[GreenReadingView, ...]:
        """Every measuring of a green, newest first, at most 200."""
        self._context.must_be("coach", "assistant")
        with self._context.read() as transaction:
            self._context.get(transaction, Green, green_id, "green")
            found = transaction.scalars(
                select(GreenReading)
                .where(GreenReading.green_id == green_id)
                .order_by(GreenReading.measured_at.desc())
                .limit(200)
            )
            return tuple(convert.green_reading(row) for row in found)

    def delete(self, green_id: UUID) -> UndoView:
        """Delete a green; sessions that were held on it keep its speed."""
        with self._context.write() as transaction:
            row = self._context.get(transaction, Green, green_id, "green")
            step, rows = undo.delete(transaction, row, self._context.actor.name)
            self._context.log(transaction, "delete", "green", green_id)
            return convert.undo_step(step, rows)


def _reading(green: Green, rolls: list[list[float]]) -> GreenReading:
    return GreenReading(
        green_id=green.id, measured_at=green.measured_at or dt.datetime.now(dt.UTC),
        measured_how=green.measured_how, speed_m=green.speed_m, speed_sd_m=green.speed_sd_m,
        slope_rad=green.slope_rad, rolls=rolls,
    )  # fmt: skip


def _checked_putter(values: dict[str, Any]) -> dict[str, Any]:
    _only(values, {"name", "head_mass_kg", "restitution", "notes"}, "a putter")
    _words(values)
    mass, restitution = values.get("head_mass_kg", 0.35), values.get("restitution", 0.8)
    if not 0.1 <= mass <= 1.5:
        raise SettingsError(
            f"A putter head of {mass:g} kg makes no sense; give its mass in kg, such as 0.35."
        )
    if not 0.3 <= restitution <= 1.0:
        raise SettingsError(f"A coefficient of restitution of {restitution:g} makes no sense; 0.8 is usual.")
    return dict(values)


def _checked_green(values: dict[str, Any]) -> dict[str, Any]:
    allowed = {
        "name", "place", "notes", "measured_how", "speed_m", "speed_sd_m", "slope_rad", "cross_slope_rad",
    }  # fmt: skip
    _only(values, allowed, "a green")
    _words(values)
    return dict(values)


def _only(values: dict[str, Any], allowed: set[str], of: str) -> None:
    unknown = set(values) - allowed
    if unknown:
        raise SettingsError(f"{', '.join(sorted(unknown))} of {of} cannot be changed.")


def _words(values: dict[str, Any]) -> None:
    for name, most in (("name", 120), ("place", 200), ("measured_how", 60), ("notes", 20_000)):
        text = values.get(name)
        if text is not None and (len(text) > most or (name == "name" and not text.strip())):
            raise SettingsError(f"The {name} has at most {most} characters, and a name is not empty.")
