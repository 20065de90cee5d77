"""Strokes from what `pacewright assess --json` printed. It takes more than it needs, and less than all."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any, cast

from pacewright.core.errors import ReadError
from pacewright.core.measure import Measure, Remark
from pacewright.core.registry import EVENTS, MEASURES
from pacewright.core.stroke import Stroke, StrokeKind

_KINDS = ("putt", "rehearsal")
_EVENT_ENDING = "_time_s"
_LARGEST = 1e12
"""No time, length or speed of a stroke comes near it."""


def load_strokes(path: str | Path) -> list[Stroke]:
    """Every stroke in the file, numbered through from 0; curves are not in it.

    The file holds one assessment or a list of them. Names that are not known are passed over, a figure
    that is missing or null is left out. Raises ReadError naming the file and the place in it.
    """
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise ReadError(f"'{path}' cannot be read: {error.strerror}.") from None
    except UnicodeDecodeError:
        raise ReadError(f"'{path}' is not text; give the file that assess --json printed.") from None
    return parse_strokes(text, str(path))


def parse_strokes(text: str, name: str) -> list[Stroke]:
    """As `load_strokes`, from text; ``name`` is the file's, for messages."""
    try:
        body = json.loads(text)
    except (ValueError, RecursionError) as error:
        where = (
            f"line {error.lineno}, column {error.colno}" if isinstance(error, json.JSONDecodeError) else error
        )
        raise ReadError(
            f"'{name}' is not JSON ({where}); give the file that assess --json printed."
        ) from None
    assessments = body if isinstance(body, list) else [body]
    strokes: list[Stroke] = []
    for k, assessment in enumerate(assessments):
        place = f"'{name}', assessment {k + 1}"
        if not isinstance(assessment, dict) or not isinstance(assessment.get("strokes"), list):
            raise ReadError(f"{place}: it has no list of strokes; give the file that assess --json printed.")
        source = str(assessment.get("source") or name)
        for j, entry in enumerate(assessment["strokes"]):
            strokes.append(_stroke(entry, source, len(strokes), f"{place}, stroke {j + 1}"))
    return strokes


def _stroke(entry: Any, source: str, index: int, place: str) -> Stroke:
    if not isinstance(entry, dict):
        raise ReadError(f"{place}: it is not an object with measures.")
    kind = entry.get("kind", "putt")
    if kind not in _KINDS:
        raise ReadError(f"{place}: kind {_quoted(kind)} is neither putt nor rehearsal.")
    return Stroke(
        kind=cast(StrokeKind, kind),
        events=_measures(entry, "events", {f"{event}{_EVENT_ENDING}": event for event in EVENTS}, place),
        measures=_measures(entry, "measures", {measure: measure for measure in MEASURES}, place),
        quality=_remarks(entry.get("quality") or [], place),
        source=source,
        index=index,
        asked_length_m=_asked(entry.get("asked_length_m"), place),
    )


def _measures(
    entry: Mapping[str, Any], part: str, names: Mapping[str, str], place: str
) -> dict[str, Measure]:
    figures = entry.get(part) or {}
    if not isinstance(figures, dict):
        raise ReadError(f"{place}: {part} is not an object of figures.")
    found = {}
    for written, name in names.items():
        measure = _measure(figures.get(written), f"{place}, {written}")
        if measure is not None:
            found[name] = measure
    return found


def _measure(figure: Any, place: str) -> Measure | None:
    """A figure written as ``{"value", "sd"}`` or as a bare number; None when it is missing."""
    value, sd = (figure.get("value"), figure.get("sd")) if isinstance(figure, dict) else (figure, None)
    if value is None:
        return None
    number = _number(value, place)
    uncertainty = math.nan if sd is None else _number(sd, place)
    if uncertainty < 0:
        raise ReadError(f"{place}: its sd is below zero.")
    return Measure(number, uncertainty, "read")


def _number(value: Any, place: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= _LARGEST:
        raise ReadError(f"{place}: {_quoted(value)} is not a number that can be used.")
    return float(value)


def _quoted(value: Any) -> str:
    shown = str(value) if isinstance(value, int | float) else repr(value)
    return shown if len(shown) <= 40 else f"{shown[:40]}…"


def _remarks(entries: Any, place: str) -> tuple[Remark, ...]:
    """Remarks written as ``{"code", "text"}`` or as bare codes."""
    if not isinstance(entries, list):
        raise ReadError(f"{place}: quality is not a list of remarks.")
    remarks = []
    for entry in entries:
        if isinstance(entry, dict) and isinstance(entry.get("code"), str):
            remarks.append(Remark(entry["code"], str(entry.get("text", ""))))
        elif isinstance(entry, str):
            remarks.append(Remark(entry, ""))
        else:
            raise ReadError(f"{place}: {_quoted(entry)} is not a remark on quality.")
    return tuple(remarks)


def _asked(value: Any, place: str) -> float | None:
    if value is None:
        return None
    asked = _number(value, f"{place}, asked_length_m")
    if asked <= 0:
        raise ReadError(f"{place}: an asked length of {asked:g} m is not above zero.")
    return asked
