"""What players of known skill do, by distance, from published figures only (`skill_norms.toml`)."""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

from pacewright.core.units import FOOT_M


@dataclass(frozen=True, slots=True)
class HoledNorm:
    """Share of putts holed: rows of distance in metres, putts, holed; with population and source."""

    rows: tuple[tuple[float, int, int], ...]
    population: str
    source: str
    status: str

    def share(self, distance_m: float) -> tuple[float, int]:
        """Share holed from that distance and the putts behind it (of the nearer row).

        Linear in log-odds over log distance between the rows; nan and 0 outside them.
        """
        distances = np.array([row[0] for row in self.rows])
        if not distances[0] <= distance_m <= distances[-1]:
            return math.nan, 0
        odds = np.array([math.log(holed / (putts - holed)) for _, putts, holed in self.rows])
        at = float(np.interp(math.log(distance_m), np.log(distances), odds))
        nearest = int(np.argmin(np.abs(np.log(distances / distance_m))))
        return 1.0 / (1.0 + math.exp(-at)), self.rows[nearest][1]


@dataclass(frozen=True, slots=True)
class ExpectedPuttsNorm:
    """Putts to hole out on average: rows of distance in metres, putts; with population and source."""

    rows: tuple[tuple[float, float], ...]
    population: str
    source: str
    status: str

    def putts(self, distance_m: float) -> float:
        """Putts from that distance, linear between the rows; nan outside them."""
        distances, putts = zip(*self.rows, strict=True)
        if not distances[0] <= distance_m <= distances[-1]:
            return math.nan
        return float(np.interp(distance_m, distances, putts))


@dataclass(frozen=True, slots=True)
class SpreadNorm:
    """Spread of distance as a share of it, for one task; ``players`` is the number of people."""

    id: str
    task: str
    value: float
    population: str
    players: int
    source: str
    status: str


@cache
def tour_holed() -> HoledNorm:
    """Share of putts that tour players hole, by distance."""
    table = _data()["tour_holed"]
    rows = tuple((FOOT_M * feet, int(putts), int(holed)) for feet, putts, holed in table["rows"])
    return HoledNorm(rows, table["population"], table["source"], table["status"])


@cache
def tour_expected_putts() -> ExpectedPuttsNorm:
    """Putts that tour players need, by distance."""
    table = _data()["tour_expected_putts"]
    rows = tuple((FOOT_M * feet, float(putts)) for feet, putts in table["rows"])
    return ExpectedPuttsNorm(rows, table["population"], table["source"], table["status"])


@cache
def spread_norm(norm_id: str) -> SpreadNorm:
    """The spread of distance in that task: ``mixed`` or ``repeated``. Raises KeyError for another."""
    return {entry["id"]: SpreadNorm(**entry) for entry in _data()["distance_spread"]}[norm_id]


@cache
def _data() -> dict[str, Any]:
    text = files("pacewright.coaching").joinpath("skill_norms.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)
