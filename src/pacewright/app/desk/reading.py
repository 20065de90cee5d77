"""How recordings are read: settings by name, as they are kept beside a recording, become options."""

from __future__ import annotations

import dataclasses
import types
import typing
from collections.abc import Mapping
from typing import Any

from pacewright.app.assessment import AssessOptions, ReadOptions
from pacewright.core.equipment import Putter
from pacewright.core.errors import SettingsError
from pacewright.core.green import Green
from pacewright.core.stroke import Stroke

_NOT_FROM_OUTSIDE = frozenset({"progress", "profile"})
"""A profile is a file of whoever runs the desk; a recording keeps what it needs by itself."""


def check_settings(settings: Mapping[str, Any], asked_m: float | None) -> dict[str, Any]:
    """Settings of a recording, checked; with ``asked_m`` among them where it is given.

    Raises SettingsError for a name or a value that `ReadOptions` does not take.
    """
    read_options(settings)
    told = dict(settings)
    if asked_m is not None:
        AssessOptions(asked_length_m=(asked_m,))
        told["asked_m"] = asked_m
    return told


def read_options(settings: Mapping[str, Any]) -> ReadOptions:
    """Reading options from what was kept. Raises SettingsError."""
    hints = typing.get_type_hints(ReadOptions)
    known = {field.name for field in dataclasses.fields(ReadOptions)} - _NOT_FROM_OUTSIDE
    values: dict[str, Any] = {}
    for name, value in settings.items():
        if name == "asked_m":
            continue
        if name not in known:
            raise SettingsError(
                f"'{name}' is no setting of a recording; known are {', '.join(sorted(known))}."
            )
        if not _fits(value, hints[name]):
            raise SettingsError(f"The setting {name} does not take {str(value)[:40]!r}.")
        values[name] = value
    return ReadOptions(**values)


def assess_options(
    settings: Mapping[str, Any],
    *,
    asked_m: float | None,
    green: Green | None,
    putter: Putter | None,
    left_handed: bool,
    baseline: tuple[Stroke, ...] = (),
) -> AssessOptions:
    """How a recording of the desk is read and judged; the player's hand counts unless the settings say it."""
    read = read_options({"left_handed": left_handed} | dict(settings))
    return AssessOptions(
        read=read,
        green=green,
        putter=putter or Putter(),
        asked_length_m=() if asked_m is None else (asked_m,),
        baseline=baseline,
    )


def _fits(value: Any, hint: Any) -> bool:
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin in (types.UnionType, typing.Union):
        return any(_fits(value, one) for one in arguments)
    if origin is typing.Literal:
        return value in arguments
    if hint is type(None):
        return value is None
    if hint is float:
        return isinstance(value, int | float) and not isinstance(value, bool)
    if hint is int:
        return isinstance(value, int) and not isinstance(value, bool)
    if hint in (str, bool):
        return isinstance(value, hint) and (hint is bool or len(value) <= 200)
    return (
        isinstance(value, Mapping)
        and len(value) <= 64
        and all(isinstance(k, str) and isinstance(v, str) and len(k) + len(v) < 400 for k, v in value.items())
    )
