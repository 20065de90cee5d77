"""The player around the head: shaft, grip, hands, arms, legs and shoes, as capsules and ellipsoids
that move."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from pacewright.core.recording import FloatArray
from validation.clips.camera import rotations
from validation.clips.motion import Timeline

LIE_RAD = np.radians(20.0)
"""How far the shaft leans from the vertical towards the player."""


@dataclass(frozen=True)
class Player:
    """Sizes, colours (linear light) and small habits of the player's body.

    ``sway`` rows: frequency in Hz, phase, amplitude in m of the upper body along x.
    ``shoe_lift_s`` is when the rear heel comes up (infinite: never), after contact.
    """

    stance_m: float = 0.32
    toe_line_m: float = 0.24
    ball_place_m: float = 0.04
    shoe: tuple[float, float, float] = (0.6, 0.6, 0.6)
    sole: tuple[float, float, float] = (0.75, 0.75, 0.75)
    trousers: tuple[float, float, float] = (0.05, 0.06, 0.09)
    sleeve: tuple[float, float, float] = (0.45, 0.08, 0.07)
    skin: tuple[float, float, float] = (0.42, 0.25, 0.17)
    grip: tuple[float, float, float] = (0.03, 0.03, 0.03)
    shaft_gloss: float = 0.6
    sway: FloatArray = field(default_factory=lambda: np.array([[0.4, 0.3, 0.0015], [0.9, 1.7, 0.0008]]))
    shoe_lift_s: float = np.inf
    hands_travel: float = 0.38
    shows: bool = True


@dataclass(frozen=True)
class Bodies:
    """Capsules (..., n, 7: two ends and a radius), ellipsoids (..., m, 15: centre, rotation, radii), coats.

    Coats have the columns red, green, blue, gloss. ``shades`` says which capsules throw a shadow of their own
    (shaft and grip); the others go into the player's soft shadow, ``torso`` (..., k, 7) too, unseen.
    """

    capsules: FloatArray
    capsule_coats: FloatArray
    ellipsoids: FloatArray
    ellipsoid_coats: FloatArray
    torso: FloatArray


SHAFT_CAPSULES = 3
"""Hosel, shaft and grip come first and are seen in sharp shadow."""


def bodies(player: Player, timeline: Timeline, time_s: FloatArray) -> Bodies:
    """Everything of the player but the head of the putter, at times (...)."""
    side = float(timeline.path.side)
    origin, rotation = timeline.head(time_s)
    along = timeline.along(time_s)
    sway = sum(
        (row[2] * np.sin(2 * np.pi * row[0] * time_s + row[1]) for row in player.sway), np.zeros_like(time_s)
    )
    heel = origin + np.einsum("...ij,j->...i", rotation, np.array([-0.008, 0.034 * side, 0.018]))
    neck = origin + np.einsum("...ij,j->...i", rotation, np.array([-0.010, 0.040 * side, 0.055]))
    hands_x = player.hands_travel * along + sway - 0.01
    aside = timeline.aside(time_s)
    top = _points(hands_x, aside + side * (0.04 + 0.86 * np.sin(LIE_RAD)), 0.02 + 0.86 * np.cos(LIE_RAD))
    low_grip = neck + 0.70 * (top - neck)
    coats = [
        (0.5, 0.5, 0.5, player.shaft_gloss), (0.5, 0.5, 0.5, player.shaft_gloss), (*player.grip, 0.05)
    ]  # fmt: skip
    capsules = [_capsule(heel, neck, 0.006), _capsule(neck, low_grip, 0.005), _capsule(low_grip, top, 0.014)]
    ellipsoids: list[FloatArray] = []
    ellipsoid_coats: list[tuple[float, ...]] = []
    torso: list[FloatArray] = []
    if player.shows:
        _upper(player, capsules, coats, torso, neck, top, side, sway)
        _lower(player, capsules, coats, ellipsoids, ellipsoid_coats, side, time_s, timeline)
    none = np.zeros((*time_s.shape, 0, 7))
    return Bodies(
        np.stack(capsules, axis=-2),
        np.array(coats),
        np.stack(ellipsoids, axis=-2) if ellipsoids else np.zeros((*time_s.shape, 0, 15)),
        np.array(ellipsoid_coats).reshape(-1, 4),
        np.stack(torso, axis=-2) if torso else none,
    )


def _upper(player, capsules, coats, torso, neck, top, side, sway) -> None:  # type: ignore[no-untyped-def]
    """Hands on the grip, forearms, upper arms; trunk and head only for their shadow."""
    still = np.zeros_like(sway)
    for k, (share, foot) in enumerate(((0.93, 1.0), (0.82, -1.0))):
        hand = neck + share * (top - neck)
        knuckles = hand + np.array([0.0, -0.02 * side, 0.0])
        elbow = _points(
            0.35 * (hand[..., 0] - sway) + sway + foot * 0.20, still + side * 0.36, 1.02 + 0.0 * k
        )
        shoulder = _points(sway + foot * 0.19, still + side * 0.27, 1.33)
        shirt = _points(elbow[..., 0], elbow[..., 1], elbow[..., 2])
        wrist = hand + 0.22 * (elbow - hand)
        capsules += [
            _capsule(hand, knuckles, 0.038), _capsule(hand, wrist, 0.033), _capsule(wrist, shirt, 0.037),
            _capsule(shirt, shoulder, 0.052),
        ]  # fmt: skip
        coats += [(*player.skin, 0.05), (*player.skin, 0.05), (*player.skin, 0.05), (*player.sleeve, 0.0)]
    hip = _points(0.4 * sway, still + side * 0.50, 0.95)
    chest = _points(sway, still + side * 0.30, 1.30)
    head = _points(sway + 0.01, still + side * 0.12, 1.48)
    torso += [_capsule(hip, chest, 0.16), _capsule(chest, head, 0.09), _capsule(head, head + 0.02, 0.11)]


def _lower(player, capsules, coats, ellipsoids, ellipsoid_coats, side, time_s, timeline) -> None:  # type: ignore[no-untyped-def]
    """Shoes of an upper and a sole, legs."""
    still = np.zeros_like(time_s)
    tau = np.clip((time_s - timeline.contact_s - player.shoe_lift_s) / 0.35, 0.0, 1.0)
    lift = np.nan_to_num(tau**2 * (3 - 2 * tau))
    for k, sign in enumerate((-1.0, 1.0)):
        raised = lift if k == 0 else still
        x = sign * player.stance_m / 2 - player.ball_place_m
        turn = rotations(np.stack([-0.3 * side * raised, still, still + side * -0.12 * sign], -1))
        for back, width, height, length, up, coat in (
            (0.145, 0.047, 0.016, 0.150, 0.014, player.sole),
            (0.150, 0.046, 0.055, 0.140, 0.032, player.shoe),
            (0.205, 0.044, 0.070, 0.075, 0.055, player.shoe),
        ):  # fmt: skip
            centre = _points(still + x, still + side * (player.toe_line_m + back), still + up + 0.04 * raised)
            radii = np.broadcast_to(np.array([width, length, height]), (*time_s.shape, 3))
            ellipsoids.append(np.concatenate([centre, turn.reshape(*time_s.shape, 9), radii], axis=-1))
            ellipsoid_coats.append((*coat, 0.1))
        ankle = _points(still + x, still + side * (player.toe_line_m + 0.21), 0.11 + 0.05 * raised)
        knee = _points(still + 0.95 * x, still + side * (player.toe_line_m + 0.20), 0.50)
        hip = _points(still + 0.6 * x, still + side * (player.toe_line_m + 0.28), 0.95)
        capsules += [_capsule(ankle, knee, 0.076), _capsule(knee, hip, 0.082)]
        coats += [(*player.trousers, 0.0), (*player.trousers, 0.0)]


def _points(x: FloatArray, y: FloatArray | float, z: FloatArray | float) -> FloatArray:
    return np.stack(np.broadcast_arrays(x, y, z), axis=-1).astype(float)


def _capsule(start: FloatArray, end: FloatArray, radius: float) -> FloatArray:
    return np.concatenate([start, end, np.full((*start.shape[:-1], 1), radius)], axis=-1)
