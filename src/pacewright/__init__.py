"""Pacewright: from a recorded putting stroke to a practice station.

``import pacewright as pw`` gives the whole public API; names load their modules on first use, so
that the import itself is quick.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

# For type checkers and editors, which do not see through `__getattr__`; a test holds it against the table.
# ruff: noqa: I001
if TYPE_CHECKING:
    from pacewright.app.annotation import AnnotateOptions as AnnotateOptions, annotate as annotate
    from pacewright.app.assessment import (
        Assessment as Assessment,
        AssessOptions as AssessOptions,
        across_recordings as across_recordings,
        assess as assess,
        assess_recording as assess_recording,
        assessment_dict as assessment_dict,
    )
    from pacewright.app.batch import BatchResult as BatchResult, batch as batch
    from pacewright.app.budgets import (
        BudgetOptions as BudgetOptions,
        budget_file as budget_file,
        budget_files as budget_files,
        budget_putts as budget_putts,
    )
    from pacewright.app.drills import history_of as history_of, score_drill_file as score_drill_file
    from pacewright.app.listening import (
        Heard as Heard,
        ListenOptions as ListenOptions,
        heard_dict as heard_dict,
        listen as listen,
    )
    from pacewright.app.outputs import (
        BeatPlan as BeatPlan,
        PuttTables as PuttTables,
        make_report as make_report,
        write_beats as write_beats,
        write_report as write_report,
        write_strip as write_strip,
    )
    from pacewright.app.plans import (
        PlanOptions as PlanOptions,
        make_plan as make_plan,
        write_plan as write_plan,
    )
    from pacewright.app.practice_page import (
        PracticePlayer as PracticePlayer,
        practice_file as practice_file,
        write_practice_file as write_practice_file,
    )
    from pacewright.app.progress import compare_files as compare_files, compare_putts as compare_putts
    from pacewright.app.putting import (
        launch_for_length as launch_for_length,
        measure_green as measure_green,
        putt_at_hole as putt_at_hole,
        roll_putt as roll_putt,
    )
    from pacewright.app.report import ReportOptions as ReportOptions, report_model as report_model
    from pacewright.app.scale_sheet import write_sheet as write_sheet
    from pacewright.app.stations import build_station as build_station
    from pacewright.app.strokes_json import load_strokes as load_strokes
    from pacewright.app.tempos import find_beat as find_beat, find_beat_in_file as find_beat_in_file
    from pacewright.core.equipment import Putter as Putter
    from pacewright.core.errors import (
        PacewrightError as PacewrightError,
        QualityError as QualityError,
        ReadError as ReadError,
        RecordError as RecordError,
        SettingsError as SettingsError,
        SimulationError as SimulationError,
    )
    from pacewright.core.finding import Finding as Finding
    from pacewright.core.green import Green as Green, GreenSpeed as GreenSpeed
    from pacewright.core.launch import AtHole as AtHole, Launch as Launch, RollOut as RollOut
    from pacewright.core.measure import Measure as Measure, Remark as Remark
    from pacewright.core.outcome import Outcome as Outcome, Putt as Putt
    from pacewright.core.plan import PracticePlan as PracticePlan
    from pacewright.core.recording import Recording as Recording, Trace as Trace
    from pacewright.core.registry import MEASURES as MEASURES
    from pacewright.core.station import PuttStation as PuttStation, Station as Station
    from pacewright.core.stroke import Stroke as Stroke
    from pacewright.core.units import (
        parse_length as parse_length,
        parse_quantity as parse_quantity,
        parse_slope as parse_slope,
        parse_speed as parse_speed,
    )
    from pacewright.readers import ReadOptions as ReadOptions

_NAMES = {
    "pacewright.app.annotation": "AnnotateOptions annotate",
    "pacewright.app.assessment": (
        "AssessOptions Assessment across_recordings assess assess_recording assessment_dict"
    ),
    "pacewright.app.batch": "BatchResult batch",
    "pacewright.app.budgets": "BudgetOptions budget_file budget_files budget_putts",
    "pacewright.app.drills": "history_of score_drill_file",
    "pacewright.app.listening": "Heard ListenOptions heard_dict listen",
    "pacewright.app.outputs": "BeatPlan PuttTables make_report write_beats write_report write_strip",
    "pacewright.app.plans": "PlanOptions make_plan write_plan",
    "pacewright.app.practice_page": "PracticePlayer practice_file write_practice_file",
    "pacewright.app.progress": "compare_files compare_putts",
    "pacewright.app.putting": "launch_for_length measure_green putt_at_hole roll_putt",
    "pacewright.app.report": "ReportOptions report_model",
    "pacewright.app.scale_sheet": "write_sheet",
    "pacewright.app.stations": "build_station",
    "pacewright.app.strokes_json": "load_strokes",
    "pacewright.app.tempos": "find_beat find_beat_in_file",
    "pacewright.core.equipment": "Putter",
    "pacewright.core.errors": (
        "PacewrightError QualityError ReadError RecordError SettingsError SimulationError"
    ),
    "pacewright.core.finding": "Finding",
    "pacewright.core.green": "Green GreenSpeed",
    "pacewright.core.launch": "AtHole Launch RollOut",
    "pacewright.core.measure": "Measure Remark",
    "pacewright.core.outcome": "Outcome Putt",
    "pacewright.core.plan": "PracticePlan",
    "pacewright.core.recording": "Recording Trace",
    "pacewright.core.registry": "MEASURES",
    "pacewright.core.station": "PuttStation Station",
    "pacewright.core.stroke": "Stroke",
    "pacewright.core.units": "parse_length parse_quantity parse_slope parse_speed",
    "pacewright.readers": "ReadOptions",
}
_HOMES = {name: module for module, names in _NAMES.items() for name in names.split()}

__all__ = sorted([*_HOMES, "__version__"])
__version__ = "0.1.0"


def __getattr__(name: str) -> Any:
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module 'pacewright' has no attribute '{name}'")
    value = getattr(importlib.import_module(home), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return list(__all__)
