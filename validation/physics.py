"""The ball against published values: `python -m validation.physics` rewrites docs/validation-physics.md.

The figures and their status come from the project's list of published values. `read`: read in the source or
its abstract; `second-hand`: read in a text that quotes the source; `derived`: computed apart from this code.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pacewright.ball.hole import FreeFallCapture, HolmesCapture
from pacewright.ball.impact import ball_speed_ratio, collide, head_speed_kept, roll_out_share
from pacewright.ball.path import path_of, roll_out
from pacewright.ball.plane import SPHERE, steepest_that_stops
from pacewright.ball.rolling import constant_resistance
from pacewright.ball.solve import launch_speed
from pacewright.ball.stimp import brede_speed_m, ramp_roll, ramp_rolls_m
from pacewright.core.equipment import BALL_MASS_KG, HOLE_RADIUS_M, Putter
from pacewright.core.green import GRAVITY_M_S2, RELEASE_SPEED_M_S, Green
from pacewright.core.launch import Launch
from pacewright.core.units import FOOT_M
from validation.tour_player import (
    EXPECTED_PUTTS,
    HOLED_PERCENT,
    TourPlayer,
    expected_putts,
    holed_percent,
    holed_percent_with,
    long_putts_firmly,
    one_foot_past,
)

OUTPUT = Path(__file__).parents[1] / "docs" / "validation-physics.md"
STIMP_10 = Green(10 * FOOT_M)
PENNER = "Penner, Can. J. Phys. 80 (2002)"


@dataclass(frozen=True)
class Check:
    """A published value and ours.

    ``tolerance`` is a share of the value, or absolute where ``absolute`` is set; a check with none is shown
    for comparison alone.
    """

    group: str
    what: str
    value: float
    unit: str
    source: str
    status: str
    ours: float
    tolerance: float | None
    absolute: bool = False

    @property
    def ok(self) -> bool | None:
        """Whether ours lies within the tolerance; None when there is none."""
        if self.tolerance is None:
            return None
        allowed = self.tolerance if self.absolute else self.tolerance * abs(self.value)
        return abs(self.ours - self.value) <= allowed


def all_checks() -> list[Check]:
    """Every check, in the order of the page."""
    groups = (
        green_speed_checks(), skid_checks(), launch_checks(), slope_checks(), break_checks(), impact_checks(),
        capture_checks(), outcome_checks(),
    )  # fmt: skip
    return [check for group in groups for check in group]


def green_speed_checks() -> Iterator[Check]:
    """Simulated rolls of the ramp, and the correction for slope."""
    group = "Green speed"
    roll = ramp_roll(STIMP_10)
    yield Check(
        group, "ramp roll at 10 ft, level", 3.048, "m", "definition", "derived", roll.roll_out_m, 0.005
    )
    yield Check(group, "its time", 3.331, "s", "definition", "derived", roll.time_s, 0.005)
    woods = "Woods, The Brede equation, 2021"
    brede = 100 * brede_speed_m(1.85, 9.81)
    yield Check(group, "185 cm up and 981 cm down", 311.3, "cm", woods, "read", brede, 0.001)
    source = "Brede, Green Section Record 28(6), 1990"
    for percent in (1.0, 2.0, 4.0):
        up, down = ramp_rolls_m(Green(10 * FOOT_M, slope_rad=math.atan(percent / 100)))
        what = f"level speed from a simulated pair on {percent:g} %"
        yield Check(group, what, 3.048, "m", source, "read", brede_speed_m(up, down), 0.01)
    for speed_ft, value in ((8, 0.687), (10, 0.549), (12, 0.458), (14, 0.392)):
        ours = Green(speed_ft * FOOT_M).level_deceleration_m_s2
        yield Check(group, f"deceleration at {speed_ft} ft", value, "m/s²", PENNER, "derived", ours, 0.005)
    for resistance, value in ((0.065, 12.06), (0.131, 5.98), (0.196, 4.00)):
        ours = _green_of(resistance).speed_ft
        yield Check(group, f"green speed of ρ = {resistance:g}", value, "ft", PENNER, "derived", ours, 0.005)


def skid_checks() -> Iterator[Check]:
    """A skid without spin on the level."""
    end = path_of(Launch(2.0), STIMP_10, sliding_friction=0.4).skid_end
    rows = (
        ("speed at its end", 1.4286, "m/s", float(end.velocity_m_s[0]), 0.005),
        ("length", 0.2496, "m", float(end.displacement_m[0]), 0.01),
        ("time", 0.1456, "s", float(end.time_s), 0.01),
    )
    for what, value, unit, ours, tolerance in rows:
        source = "textbook mechanics"
        yield Check("Skid, 2 m/s, μ = 0.4", what, value, unit, source, "derived", ours, tolerance)


def launch_checks() -> Iterator[Check]:
    """Launch speeds on the level at 10 ft."""
    lengths = (1, 2, 3, 5, 10)
    rolling, skidding = (1.048, 1.482, 1.816, 2.344, 3.315), (1.378, 1.949, 2.386, 3.081, 4.357)
    for kind, friction, values in (("rolling", None, rolling), ("skid, μ = 0.4", 0.4, skidding)):
        for length_m, value in zip(lengths, values, strict=True):
            ours = launch_speed(length_m, STIMP_10, sliding_friction=friction)
            group = "Launch at 10 ft, level"
            yield Check(group, f"{length_m} m, {kind}", value, "m/s", PENNER, "derived", ours, 0.005)


def slope_checks() -> Iterator[Check]:
    """Slopes on which a ball never stops, and how far one runs past the hole on 5°."""
    group = "Slope"
    for speed_ft, value in ((10, 4.48), (14, 3.21)):
        ours = math.degrees(math.atan(steepest_that_stops(Green(speed_ft * FOOT_M))))
        yield Check(group, f"never stops at {speed_ft} ft", value, "°", PENNER, "derived", ours, 0.01)
    down, up = _run_past_ft(-5.0, 1.56), _run_past_ft(5.0, 1.706)
    yield Check(group, "run past from 1.56 m/s, 5° down", 13.1, "ft", PENNER, "second-hand", down, 0.02)
    yield Check(group, "run past from 1.706 m/s, 5° up", 3.15, "ft", PENNER, "derived", up, 0.02)
    what = "the same as printed (not reproduced, for comparison)"
    yield Check(group, what, 2.9, "ft", PENNER, "second-hand", up, None)


def break_checks() -> Iterator[Check]:
    """A putt across a slope, launched along it at the speed for 3 m on the level."""
    speed = launch_speed(3.0, STIMP_10, sliding_friction=None)
    sloped = Green(10 * FOOT_M, cross_slope_rad=math.atan(0.02))
    rest = roll_out(Launch(speed), sloped, sliding_friction=None)
    group = "Cross-slope 2 %, 10 ft, 3 m, rolling"
    rows = (
        ("along", 3.050, "m", rest.roll_out_m),
        ("across", 0.409, "m", rest.across_m),
        ("time", 3.53, "s", rest.time_s),
    )
    for what, value, unit, ours in rows:
        yield Check(group, what, value, unit, PENNER, "derived", ours, 0.01)


def impact_checks() -> Iterator[Check]:
    """Contact with a 350 g head."""
    group, source = "Contact, 350 g head", "one-dimensional impact"
    for restitution, value in ((0.78, 1.574), (0.80, 1.591), (0.85, 1.635)):
        ours = ball_speed_ratio(Putter(0.350, restitution))
        what = f"ball over head speed, e = {restitution:.2f}"
        yield Check(group, what, value, "", source, "derived", ours, 0.001)
    measured = "Korean J. Appl. Biomech., abstract"
    yield Check(group, "the same, measured", 1.6, "", measured, "read", ball_speed_ratio(Putter()), 0.02)
    yield Check(
        group, "speed kept by the head", 0.791, "", source, "derived", head_speed_kept(Putter()), 0.001
    )
    after = collide(1.5, Putter(), 0.012)
    momentum = 0.350 * after.head_speed_after_m_s + BALL_MASS_KG * after.ball_speed_m_s
    what = "momentum after over before, 12 mm off centre"
    yield Check(group, what, 1.0, "", source, "derived", momentum / (0.350 * 1.5), 1e-9)
    loss = 100 * (roll_out_share(Putter(), 0.030) - 1)
    what = "roll-out lost 30 mm off centre (the default inertia was set by it)"
    yield Check(group, what, -13.0, "%", "Proceedings (ISEA) 2018, 2(6), 242", "read", loss, 1.0, True)


def capture_checks() -> Iterator[Check]:
    """Fastest speeds at which the hole takes a ball."""
    holmes, half = HolmesCapture(), HOLE_RADIUS_M / 2
    free, tilt = FreeFallCapture(), math.radians(5.0)
    rows = (
        ("free fall, centre", 1.314, free, 0.0, 0.0, PENNER, "second-hand and derived"),
        ("all mechanisms, centre", 1.63, holmes, 0.0, 0.0, "Holmes, Am. J. Phys. 59 (1991)", "second-hand"),
        ("half the radius off", 1.2225, holmes, half, 0.0, f"{PENNER} eq. 23", "second-hand"),
        ("5° up", 1.706, holmes, 0.0, tilt, f"{PENNER} eq. 30", "second-hand and derived"),
        ("5° down", 1.563, holmes, 0.0, -tilt, f"{PENNER} eq. 30", "second-hand and derived"),
    )
    for what, value, model, offset, rise, source, status in rows:
        ours = float(model.fastest_m_s(np.asarray(offset), np.asarray(rise)))
        yield Check("Capture", what, value, "m/s", source, status, ours, 0.005)


def outcome_checks() -> Iterator[Check]:
    """A simulated tour player; see `validation.tour_player` for the rule and the strategies."""
    counts, table = "Broadie's counts, with Gelman's case study", "per-foot table after Broadie"
    firm, plain = TourPlayer(long_putts_firmly), TourPlayer(one_foot_past)
    group = "Tour player, 1.02° and 8 %, aims 1 ft past, 5 % past beyond 20 ft"
    for length_ft, value in HOLED_PERCENT.items():
        ours = holed_percent(firm, length_ft)
        yield Check(group, f"holed from {length_ft:g} ft", value, "%", counts, "read", ours, 1.5, True)
    for length_ft, value in EXPECTED_PUTTS.items():
        ours = expected_putts(firm, length_ft)
        yield Check(group, f"putts from {length_ft:g} ft", value, "", table, "second-hand", ours, 0.03, True)
    group = "The same player, aims 1 ft past at every length (for comparison)"
    for length_ft, value in EXPECTED_PUTTS.items():
        ours = expected_putts(plain, length_ft)
        yield Check(group, f"putts from {length_ft:g} ft", value, "", table, "second-hand", ours, None)
    group = "The same player, capture after Holmes in place of the rule (for comparison)"
    for length_ft, value in HOLED_PERCENT.items():
        ours = holed_percent_with(HolmesCapture(), plain, length_ft)
        yield Check(group, f"holed from {length_ft:g} ft", value, "%", counts, "read", ours, None)


def _green_of(resistance: float) -> Green:
    """The green with that rolling resistance ρ."""
    return Green(RELEASE_SPEED_M_S**2 / (2 * SPHERE * GRAVITY_M_S2 * resistance))


def _run_past_ft(slope_deg: float, speed_m_s: float) -> float:
    """How far a rolling ball runs on with ρ = 0.131."""
    green = Green(_green_of(0.131).speed_m, slope_rad=math.radians(slope_deg))
    assert math.isclose(constant_resistance(green).resistance, 0.131)
    return roll_out(Launch(speed_m_s), green, sliding_friction=None).roll_out_m / FOOT_M


def page(checks: list[Check]) -> str:
    """The page as Markdown."""
    misses = [check for check in checks if check.ok is False]
    held = sum(check.ok is True for check in checks)
    lines = [
        "# The ball against published values",
        "",
        "Made by `python -m validation.physics`. Status: *read* in the source or its abstract;",
        "*second-hand* from a text that quotes the source; *derived* computed apart from this code. Rows",
        "without a tolerance are for comparison.",
        "",
        f"{held} of {held + len(misses)} checks hold."
        + "".join(f" Missed: {check.group}, {check.what}." for check in misses),
    ]
    group = ""
    for check in checks:
        if check.group != group:
            group = check.group
            lines += ["", f"## {group}", ""]
            lines += [HEADER, "|---|---|---|---|---|---|---|"]
        lines.append(_row(check))
    return "\n".join([*lines, "", *_worth_of_defaults(), "", NOTES])


HEADER = "| what | published | ours | tolerance | ok | source | status |"
NOTES = """## What these figures mean

- Nothing on the published side was measured by us. Where the status is *derived* the check tells that two
  ways of computing agree, not that greens behave so.
- The uphill run past the hole that is printed as 2.9 ft is not reproduced: the formula of the same paper
  gives what stands in the row above it.
- The standard deviations of the tour player were fitted together with a simple rule (whole ball over the
  hole, 0 to 3 ft past). With a physical model of capture the same player holes more, as the last table
  shows: the two must not be mixed. Nor does 8 % carry to the longest putts: with 1 ft past at every
  length too few three-putts come out at 60 ft. The strategy that aims further past on long putts was
  chosen with the table in view."""


def _worth_of_defaults() -> list[str]:
    """How the launch and head speed for one putt answer to the contested defaults."""

    def head_speed(launch: float, putter: Putter) -> float:
        return launch / ball_speed_ratio(putter)

    plain = launch_speed(3.0, STIMP_10)
    others = (
        ("sliding friction 0.1 in place of 0.4", launch_speed(3.0, STIMP_10, sliding_friction=0.1), Putter()),
        ("sliding friction 0.2 in place of 0.4", launch_speed(3.0, STIMP_10, sliding_friction=0.2), Putter()),
        ("rolling from the start", launch_speed(3.0, STIMP_10, sliding_friction=None), Putter()),
        (
            "release speed 6.4 ft/s in place of 1.83 m/s",
            launch_speed(3.0, STIMP_10, release_speed_m_s=6.4 * FOOT_M),
            Putter(),
        ),
        ("restitution 0.78 in place of 0.80", plain, Putter(restitution=0.78)),
        ("restitution 0.85 in place of 0.80", plain, Putter(restitution=0.85)),
    )
    base = head_speed(plain, Putter())
    rows = []
    for what, launch, putter in others:
        head = head_speed(launch, putter)
        rows.append(f"| {what} | {100 * (launch / plain - 1):+.1f} % | {100 * (head / base - 1):+.1f} % |")
    return [
        "## What the contested defaults are worth",
        "",
        f"A putt of 3 m at 10 ft on the level: {plain:.3f} m/s at launch, {base:.3f} m/s of head speed.",
        "",
        "| other default | launch speed | head speed |",
        "|---|---|---|",
        *rows,
    ]


def _row(check: Check) -> str:
    if check.tolerance is None:
        tolerance = "–"
    elif check.absolute:
        tolerance = f"± {check.tolerance:g} {'points' if check.unit == '%' else check.unit}".strip()
    else:
        tolerance = f"{100 * check.tolerance:g} %"
    verdict = {True: "yes", False: "no", None: "–"}[check.ok]
    unit = f" {check.unit}" if check.unit else ""
    decimals = max(len(f"{check.value}".partition(".")[2]), 2) + 1
    ours = f"{check.ours:.{decimals}f}{unit}"
    cells = (
        check.what, f"{check.value:g}{unit}", ours, tolerance, verdict, check.source, check.status
    )  # fmt: skip
    return f"| {' | '.join(cells)} |"


def main() -> None:
    """Rewrite the page and say how many checks hold."""
    checks = all_checks()
    OUTPUT.write_text(page(checks) + "\n")
    missed = [check for check in checks if check.ok is False]
    print(f"{len(checks) - len(missed)} of {len(checks)} rows without a miss; written to {OUTPUT.name}")
    for check in missed:
        print(f"missed: {check.group}: {check.what}: {check.ours:.5g} for {check.value:g}")


if __name__ == "__main__":
    main()
