"""The registry of measures: every norm, column, chart and page names one of these.

Times are of the head of the putter unless stated. `top` is the end of the backswing; a pause there
belongs to neither backswing nor downswing. Methods are explained in `docs/methods/<method>.md`.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class MeasureDefinition:
    """What a measure is: name with unit ending, unit for people, short label, definition, method page."""

    name: str
    unit: str
    label: str
    definition: str
    method: str


def _definitions() -> tuple[MeasureDefinition, ...]:
    d = MeasureDefinition
    return (
        d("backswing_time_s", "s", "Backswing time",
          "From takeaway to the top (arrival there; a pause is not counted).", "events"),
        d("top_pause_s", "s", "Pause at the top",
          "Time at rest between the end of the backswing and the start of the downswing.", "events"),
        d("downswing_time_s", "s", "Downswing time",
          "From the start of the downswing to contact.", "events"),
        d("follow_through_time_s", "s", "Follow-through time",
          "From contact to where the head first comes to rest.", "events"),
        d("time_ratio", "", "Time ratio",
          "Backswing time divided by downswing time.", "events"),
        d("backswing_length_m", "m", "Backswing length",
          "Along the target line, from the head's place at contact back to the top.", "lengths"),
        d("follow_through_length_m", "m", "Follow-through length",
          "Along the target line, from the head's place at contact forward to the finish.", "lengths"),
        d("length_ratio", "", "Length ratio",
          "Follow-through length divided by backswing length.", "lengths"),
        d("impact_speed_m_s", "m/s", "Head speed at contact",
          "Speed along the target line, the one-sided limit just before contact.", "contact"),
        d("impact_acceleration_m_s2", "m/s²", "Acceleration at contact",
          "The golfer's own: the one-sided limit just before contact; positive is speeding up.",
          "contact"),
        d("impact_acceleration_index", "", "Acceleration index",
          "Acceleration at contact times downswing time over head speed; 0 is constant speed.",
          "contact"),
        d("peak_speed_lead_s", "s", "Peak speed before contact",
          "From the peak of head speed to contact; 0 when the head is fastest at contact.", "contact"),
        d("collision_speed_kept", "", "Speed kept through contact",
          "Head speed just after contact divided by head speed just before it.", "contact"),
        d("ball_speed_m_s", "m/s", "Ball speed",
          "Speed of the ball as it leaves the face.", "ball-launch"),
        d("ball_speed_ratio", "", "Ball-speed ratio",
          "Ball speed divided by head speed at contact.", "ball-launch"),
        d("roll_out_m", "m", "Roll-out",
          "Distance that the ball rolls on the stated green.", "roll"),
        d("smoothness_sparc", "", "Smoothness (SPARC)",
          "Spectral arc length of head speed from takeaway to contact; nearer 0 is smoother.",
          "smoothness"),
        d("path_angle_deg", "°", "Path angle",
          "Direction of the head at contact in the ground plane against the target line; "
          "positive points to the side where the golfer stands (positive y).", "path"),
        d("backswing_time_threshold_s", "s", "Backswing time by threshold",
          "As backswing time, with takeaway where head speed first stays above 0.05 m/s: the figure "
          "of the literature, later than the true start.", "events"),
    )  # fmt: skip


MEASURES: dict[str, MeasureDefinition] = {d.name: d for d in _definitions()}
"""Every measure by name, in the order in which reports list them."""

EVENTS: tuple[str, ...] = ("takeaway", "top", "impact", "finish")
"""The events of a stroke in order of time."""
