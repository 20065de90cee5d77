"""The registry of measures: names carry their units, and every measure leads to its page."""

from __future__ import annotations

from pathlib import Path

import pytest

from pacewright.core.registry import EVENTS, MEASURES, MeasureDefinition
from pacewright.core.units import split_column_name

METHODS = Path(__file__).parents[2] / "docs" / "methods"
UNIT_OF_ENDING = {
    "time": "s",
    "length": "m",
    "speed": "m/s",
    "acceleration": "m/s²",
    "angle": "°",
}


@pytest.mark.parametrize("measure", MEASURES.values(), ids=MEASURES)
def test_the_name_of_a_measure_ends_with_its_unit(measure: MeasureDefinition) -> None:
    split = split_column_name(measure.name)
    assert measure.unit == ("" if split is None else UNIT_OF_ENDING[split[1]])


@pytest.mark.parametrize("measure", MEASURES.values(), ids=MEASURES)
def test_a_measure_is_defined_in_a_sentence_and_has_a_page(measure: MeasureDefinition) -> None:
    assert MEASURES[measure.name] is measure
    assert measure.label
    assert measure.definition.endswith(".")
    assert (METHODS / f"{measure.method}.md").is_file(), f"docs/methods/{measure.method}.md is missing"


def test_names_that_others_build_on_are_all_there() -> None:
    fixed = {
        "backswing_time_s", "top_pause_s", "downswing_time_s", "follow_through_time_s", "time_ratio",
        "backswing_length_m", "follow_through_length_m", "length_ratio", "impact_speed_m_s",
        "impact_acceleration_m_s2", "impact_acceleration_index", "peak_speed_lead_s", "collision_speed_kept",
        "ball_speed_m_s", "ball_speed_ratio", "roll_out_m", "smoothness_sparc", "path_angle_deg",
    }  # fmt: skip
    assert fixed <= set(MEASURES)
    assert EVENTS == ("takeaway", "top", "impact", "finish")
