"""Reference values, each with its source: the data file `norms.toml`, read once."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Literal, get_args

from pacewright.core.errors import SettingsError
from pacewright.core.registry import MEASURES

Status = Literal["read", "second-hand", "derived", "common practice"]


@dataclass(frozen=True, slots=True)
class Norm:
    """A reference value or band with its source; figures that are not given are nan.

    ``measure`` names the registry, and is empty where the value is no measure of one stroke.
    Outside ``low``..``high`` a finding says so; beyond ``act_low``, ``act_high`` it asks to act.
    ``count`` is the number of people or putts behind it, 0 where it is not known.
    """

    id: str
    unit: str
    source: str
    status: Status
    measure: str = ""
    value: float = math.nan
    low: float = math.nan
    high: float = math.nan
    act_low: float = math.nan
    act_high: float = math.nan
    note: str = ""
    population: str = ""
    count: int = 0

    def __post_init__(self) -> None:
        if self.status not in get_args(Status):
            raise SettingsError(f"Norm '{self.id}': '{self.status}' is not a status of a source.")
        if self.measure and self.measure not in MEASURES:
            raise SettingsError(f"Norm '{self.id}': '{self.measure}' is not a measure of the registry.")
        if self.measure and self.unit != MEASURES[self.measure].unit:
            raise SettingsError(f"Norm '{self.id}': its unit is not that of {self.measure}.")
        given = [v for v in (self.act_low, self.low, self.value, self.high, self.act_high) if v == v]
        if not given or given != sorted(given):
            raise SettingsError(f"Norm '{self.id}': its figures are missing or not in order.")


@cache
def norms() -> Mapping[str, Norm]:
    """Every norm by its id. Raises SettingsError when the data file does not hold together."""
    text = files("pacewright.coaching").joinpath("norms.toml").read_text(encoding="utf-8")
    return parse_norms(text)


def norm(norm_id: str) -> Norm:
    """The norm of that id. Raises KeyError for an unknown one."""
    return norms()[norm_id]


def parse_norms(text: str) -> dict[str, Norm]:
    """Norms from the text of a data file. Raises SettingsError naming the norm that is wrong."""
    try:
        entries: list[dict[str, Any]] = tomllib.loads(text)["norm"]
        found = [Norm(**entry) for entry in entries]
    except (tomllib.TOMLDecodeError, KeyError, TypeError) as error:
        raise SettingsError(f"The file of norms cannot be read: {error}.") from None
    by_id = {one.id: one for one in found}
    if len(by_id) != len(found):
        raise SettingsError("The file of norms uses an id twice.")
    return by_id
