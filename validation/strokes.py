"""Accuracy of the stroke measures against strokes whose truth is known.

Run `python -m validation.strokes`: it rewrites docs/validation-strokes.md. The strokes come from
`simulate.stroke_model` (wide ranges: onsets like t² to t³, pauses, forward presses, ratios 1.5 to 3, contact
acceleration −3 to +6 m/s², a loss of 10 to 25 %) and from three laws of movement that share no formula with
the fits (`simulate.laws`). A quarter of all strokes are rehearsals without a ball.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from pacewright.core.stroke import Stroke
from pacewright.simulate.laws import LawStroke, random_law_stroke
from pacewright.simulate.sampling import Sampling, Sensor, record_inertial, record_trajectory
from pacewright.simulate.stroke_model import StrokeModel, random_stroke
from pacewright.stroke.analyse import analyse

OUTPUT = Path(__file__).parents[1] / "docs" / "validation-strokes.md"
RELATIVE = ("impact_speed_m_s",)
SHOWN = (
    "takeaway_time_s", "top_time_s", "impact_time_s", "finish_time_s", "backswing_time_s", "top_pause_s",
    "downswing_time_s", "follow_through_time_s", "time_ratio", "backswing_length_m",
    "follow_through_length_m", "length_ratio", "impact_speed_m_s", "impact_acceleration_m_s2",
    "impact_acceleration_index", "peak_speed_lead_s", "collision_speed_kept", "path_angle_deg",
)  # fmt: skip


@dataclass(frozen=True)
class Condition:
    """How a set of strokes is recorded."""

    name: str
    sampling: Sampling
    inertial: Sensor | None = None
    strokes: int = 160


@dataclass
class Tally:
    """Errors and standard uncertainties by measure, and what was missed, invented or told apart wrongly."""

    errors: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    sds: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    strokes: int = 0
    missed: int = 0
    invented: int = 0
    wrong_kind: int = 0


def conditions() -> list[Condition]:
    """Rates and noise that phones, motion capture and sensors have."""
    trajectory = [
        Condition(f"{rate} Hz, {noise} mm", Sampling(rate, noise / 1000), strokes=400 if main else 160)
        for rate, noise, main in (
            (60, 0.15, False), (120, 0.15, False), (240, 0.05, False), (240, 0.15, True), (240, 0.5, False),
            (240, 1.0, False), (500, 0.15, False),
        )
    ]  # fmt: skip
    faulty = Sampling(240, 0.00015, jitter_share=0.25, dropped_share=0.05)
    inertial = [
        Condition(f"sensor {rate} Hz", Sampling(rate), Sensor(), strokes=400 if rate == 400 else 120)
        for rate in (100, 200, 400, 1000)
    ]
    waggled = Sampling(240, 0.00015, waggle_length_m=0.03)
    return [
        *trajectory,
        Condition("240 Hz, 0.15 mm, jitter, 5 % dropped", faulty),
        Condition("240 Hz, 0.15 mm, waggles of ±30 mm", waggled),
        *inertial,
    ]


def draw(rng: np.random.Generator) -> StrokeModel | LawStroke:
    """Two thirds from the wide model, the rest from the three laws in turn."""
    rehearsal = rng.random() < 0.25
    if rng.random() < 2 / 3:
        return random_stroke(rng, rehearsal=rehearsal)
    law = ("half cosine", "minimum jerk", "driven pendulum")[int(rng.integers(3))]
    return random_law_stroke(rng, law, rehearsal=rehearsal)  # type: ignore[arg-type]


def run(condition: Condition, seed: int) -> Tally:
    """Record strokes three at a time, analyse, and compare with the truth."""
    rng = np.random.default_rng(seed)
    tally = Tally()
    while tally.strokes < condition.strokes:
        models = [draw(rng) for _ in range(3)]
        if condition.inertial is None:
            simulated = record_trajectory(models, rng, condition.sampling)  # type: ignore[arg-type]
        else:
            simulated = record_inertial(models, rng, condition.sampling, condition.inertial)  # type: ignore[arg-type]
        found = list(analyse(simulated.recording, with_curve=False))
        for model, takeaway_s in zip(models, simulated.takeaway_s, strict=True):
            contact_s = takeaway_s + model.impact_time_s
            near = [s for s in found if abs(s.events["impact"].value - contact_s) < 0.2]
            tally.strokes += 1
            if not near:
                tally.missed += 1
                continue
            found.remove(near[0])
            _compare(tally, near[0], model, takeaway_s)
        tally.invented += len(found)
    return tally


def _compare(tally: Tally, stroke: Stroke, model: StrokeModel | LawStroke, takeaway_s: float) -> None:
    met_a_ball = model.speed_kept < 1.0
    if (stroke.kind == "putt") != met_a_ball:
        tally.wrong_kind += 1
        return
    truth = model.truth() | {
        "takeaway_time_s": takeaway_s,
        "top_time_s": takeaway_s + model.backswing_time_s,
        "impact_time_s": takeaway_s + model.impact_time_s,
        "finish_time_s": takeaway_s + model.finish_time_s,
    }
    known = dict(stroke.measures) | {f"{name}_time_s": m for name, m in stroke.events.items()}
    at_contact = {"impact_time_s", "impact_acceleration_m_s2", "impact_acceleration_index", *RELATIVE}
    for name, value in truth.items():
        if name in known and (met_a_ball or name not in at_contact):
            scale = value if name in RELATIVE else 1.0
            tally.errors[name].append((known[name].value - value) / scale)
            tally.sds[name].append(known[name].sd / scale)


def table(tally: Tally) -> list[str]:
    """Rows of bias, rms, median, 95th percentile and coverage."""
    heading = "| measure | bias | rms | median | 95th percentile | 95 % interval covers |"
    rows = [heading, "|---|---|---|---|---|---|"]
    for name in SHOWN:
        if name not in tally.errors:
            continue
        error, sd = np.array(tally.errors[name]), np.array(tally.sds[name])
        factor, unit = _shown_unit(name)
        size = np.abs(error) * factor
        covered = np.mean(np.abs(error) <= 1.96 * sd)
        rows.append(
            f"| {name} ({unit}) | {error.mean() * factor:+.3g} | {np.sqrt(np.mean(size**2)):.3g} "
            f"| {np.median(size):.3g} | {np.percentile(size, 95):.3g} | {100 * covered:.0f} % |"
        )
    return rows


def _shown_unit(name: str) -> tuple[float, str]:
    if name in RELATIVE:
        return 100.0, "%"
    endings = (("_m_s2", 1.0, "m/s²"), ("_s", 1000.0, "ms"), ("_m", 1000.0, "mm"), ("_deg", 1.0, "°"))
    for ending, factor, unit in endings:
        if name.endswith(ending):
            return factor, unit
    return 1.0, "1"


def main() -> int:
    """Run every condition and rewrite the page."""
    lines = [
        "# Validation: stroke measures against known truth",
        "",
        "Made by `python -m validation.strokes` (seeded). Strokes: `src/pacewright/simulate`; a quarter are",
        "rehearsals. Events and figures at contact are judged on strokes that met a ball.",
        "",
    ]
    heading = "| recorded at | strokes | missed | invented | putt and rehearsal mixed up |"
    summary = [heading, "|---|---|---|---|---|"]
    details: list[str] = []
    for k, condition in enumerate(conditions()):
        print(f"{condition.name} …", flush=True)
        tally = run(condition, seed=20240 + k)
        summary.append(
            f"| {condition.name} | {tally.strokes} | {tally.missed} | {tally.invented} | {tally.wrong_kind} |"
        )
        details += ["", f"## {condition.name}", "", *table(tally)]
    OUTPUT.write_text("\n".join([*lines, *summary, *details]) + "\n", encoding="utf-8")
    print(f"written: {OUTPUT.name}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
