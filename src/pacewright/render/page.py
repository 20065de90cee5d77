"""The words and tables of a report, once for HTML and PDF: plain text and lists, ready for a template."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from pacewright.core.display import (
    Quantity,
    Units,
    column_decimals,
    display_unit,
    format_figure,
    format_measure,
    format_putt_length_both,
    quantity_of,
)
from pacewright.core.finding import Finding
from pacewright.core.measure import Measure
from pacewright.core.station import PuttStation, Station
from pacewright.render.model import Answer, ReportModel, Spread, StrokeRow

Page = dict[str, Any]

_SEVERITY = {"act": "Work on this", "watch": "Keep an eye on", "note": "For the record"}
_QUESTIONS = {
    "shares": "Why the distance varies",
    "change": "Whether practice worked",
    "beat": "Which beat",
}
_STATION_HEAD = (
    "Putt", "Back marker", "Room at the back", "Through marker", "Head speed", "Ball speed", "Time ratio",
    "Acceleration at contact",
)  # fmt: skip


def report_page(model: ReportModel) -> Page:
    """Everything but the charts, as nested dicts and lists of text."""
    putts = sum(row.kind == "putt" for row in model.rows)
    rehearsals = len(model.rows) - putts
    return {
        "title": model.title,
        "player": model.player,
        "date": f"{model.date.day} {model.date:%B %Y}",
        "date_iso": model.date.isoformat(),
        "counts": _counts(putts, rehearsals),
        "recordings": list(model.recordings),
        "green": model.green,
        "remarks": [remark.text for remark in model.recording_remarks],
        "findings": [_finding(finding, model.rows) for finding in model.findings],
        "figures": [_spread(spread, model) for spread in model.spreads],
        "table": _stroke_table(model),
        "answers": [_answer(answer) for answer in model.answers],
        "station": None if model.station is None else _station(model.station, model),
        "definitions": [
            {
                "label": definition.label,
                "unit": _unit_symbol(definition.name, definition.unit, model),
                "text": definition.definition,
                "method": f"docs/methods/{definition.method}.md" if definition.method else "",
            }
            for definition in model.definitions
        ],
        "caution": model.caution,
    }


def _counts(putts: int, rehearsals: int) -> str:
    """Strokes in words, empty where there are none."""
    if putts + rehearsals == 0:
        return ""
    return _count(putts, "putt") + (f", {_count(rehearsals, 'rehearsal')}" if rehearsals else "")


def _answer(answer: Answer) -> Page:
    return {
        "name": answer.question,
        "title": _QUESTIONS[answer.question],
        "source": answer.source,
        "statement": answer.statement,
        "sentences": list(answer.sentences),
        "tables": [
            {"head": list(table.head), "rows": [list(row) for row in table.rows]} for table in answer.tables
        ],
        "further": list(answer.further),
        "notes": list(answer.notes),
    }


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" + ("" if number == 1 else "s")


def _unit_symbol(name: str, unit: str, model: ReportModel) -> str:
    """Unit of a measure for people; what is not in the registry keeps its own."""
    try:
        return display_unit(quantity_of(name), model.units).symbol
    except KeyError:
        return unit


def _finding(finding: Finding, rows: Sequence[StrokeRow]) -> Page:
    return {
        "severity": finding.severity,
        "severity_word": _SEVERITY[finding.severity],
        "confidence": finding.confidence,
        "statement": finding.statement,
        "parts": [
            {"name": name, "text": text}
            for name, text in (
                ("Seen", finding.evidence),
                ("Because", finding.cause),
                ("Practise", finding.advice),
            )
            if text
        ],
        "strokes": name_strokes([rows[k].label for k in finding.stroke_indices if k < len(rows)]),
        "source": finding.source,
    }


def name_strokes(labels: Sequence[str]) -> str:
    """Labels as a list in which three or more whole numbers in a row become a range: ``1–3, 7``."""
    parts: list[list[str]] = []
    for label in labels:
        follows = bool(parts) and label.isdigit() and parts[-1][-1].isdigit()
        if follows and int(label) == int(parts[-1][-1]) + 1:
            parts[-1].append(label)
        else:
            parts.append([label])
    return ", ".join(
        f"{part[0]}–{part[-1]}" if len(part) > 2 else ", ".join(part) for part in parts
    )  # fmt: skip


def _spread(spread: Spread, model: ReportModel) -> Page:
    """Mean of a measure over the putts, how far strokes differ, and where that lies beside its reference."""
    quantity, band = quantity_of(spread.measure), model.band(spread.measure)
    mean = format_figure(spread.mean, quantity, model.units, spread.between_sd)
    several = spread.count > 1 and math.isfinite(spread.between_sd)
    side = ""
    if band is not None and math.isfinite(spread.mean):
        side = "below" if spread.mean < band.low else "above" if spread.mean > band.high else "inside"
    reference = "" if band is None else (
        f"{format_figure(band.low, quantity, model.units).value} to "
        f"{format_figure(band.high, quantity, model.units).plain}"
    )  # fmt: skip
    return {
        "label": model.definition(spread.measure).label,
        "value": mean.value,
        "unit": mean.unit,
        "spread": f"± {mean.sd} between strokes" if several and mean.sd else "",
        "side": side,
        "side_mark": {"below": "◀", "inside": "●", "above": "▶", "": ""}[side],
        "reference": reference,
        "source": "" if band is None else band.source,
    }


def _stroke_table(model: ReportModel) -> Page:
    decimals = {
        name: column_decimals(
            [row.measures[name].sd for row in model.rows if name in row.measures],
            quantity_of(name),
            model.units,
        )
        for name in model.columns
    }
    head = [
        {
            "label": model.definition(name).label,
            "unit": display_unit(quantity_of(name), model.units).symbol,
        }
        for name in model.columns
    ]
    return {"head": head, "rows": [_stroke_row(row, decimals, model) for row in model.rows]}


def _stroke_row(row: StrokeRow, decimals: Mapping[str, int], model: ReportModel) -> Page:
    cells = []
    for name in model.columns:
        figure = format_measure(name, row.measures.get(name), model.units, most_decimals=decimals[name])
        cells.append({"value": figure.value, "sd": f"± {figure.sd}" if figure.sd else ""})
    asked = "" if row.asked_length_m is None else format_putt_length_both(row.asked_length_m, model.units)
    return {
        "label": row.label,
        "kind": row.kind,
        "asked": asked,
        "cells": cells,
        "remarks": [remark.text for remark in row.remarks],
    }


def _station(station: Station, model: ReportModel) -> Page:
    own = format_measure(
        "time_ratio", Measure(station.swing_constant, station.swing_constant_sd), model.units
    )
    return {
        "beats": f"{station.beats_per_minute:g}",
        "constant": str(own),
        "constant_source": station.constant_source,
        "head": list(_STATION_HEAD),
        "rows": [_putt_station(putt, model) for putt in station.stations],
        "notes": list(station.notes),
        "warnings": [remark.text for remark in station.warnings],
    }


def _putt_station(putt: PuttStation, model: ReportModel) -> Page:
    units = model.units
    low, high = (
        format_figure(edge, "stroke_length", units).value for edge in putt.back_marker_band_m
    )  # fmt: skip

    def other(value: float) -> str:
        second: Units = "imperial" if units == "metric" else "metric"
        return format_figure(value, "stroke_length", second).plain

    def text(value: float, quantity: Quantity) -> str:
        return format_figure(value, quantity, units).plain

    def cell(text: str, second: str = "", mark: str = "") -> Page:
        # A figure and its unit stay on one line.
        return {"text": text.replace(" ", "\u00a0"), "second": second, "mark": mark}

    return {
        "putt": format_putt_length_both(putt.putt_length_m, units),
        "cells": [
            cell(
                str(format_figure(putt.back_marker_m, "stroke_length", units, putt.back_marker_sd_m)),
                other(putt.back_marker_m),
                "back-marker",
            ),
            cell(f"{low}–{high}", f"for ± {text(putt.distance_tolerance_m, 'putt_length')}"),
            cell(
                text(putt.through_marker_m, "stroke_length"), other(putt.through_marker_m), "through-marker"
            ),
            cell(text(putt.head_speed_m_s, "speed")),
            cell(text(putt.launch_speed_m_s, "speed")),
            cell(text(putt.time_ratio, "number")),
            cell(text(putt.impact_acceleration_m_s2, "acceleration")),
        ],
        "warnings": [remark.text for remark in putt.warnings],
    }
