"""Contact of head and ball: one-dimensional impact, and a strike off the centre of the face.

A free head of mass M meets a ball of mass m at rest with restitution e. Off the centre, at a heel or toe
distance b from the head's centre of mass, the head also turns, and meets the ball as if its mass were
M_eff = M / (1 + M·b²/I), where I is its moment of inertia about the vertical. Textbook mechanics; the
method page docs/methods/impact.md compares it with measured figures.

The shaft and the hands are left out: contact lasts half a millisecond, too short for them to push.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from pacewright.core.equipment import BALL_MASS_KG, Putter
from pacewright.core.errors import SettingsError

HEAD_INERTIA_KG_M2 = 5.0e-4
"""About the vertical (5,000 g·cm²). Heads on sale lie between about 3,500 and 6,000 g·cm² (common practice,
no source); within that range this default was set by the published loss at 30 mm."""

RESTITUTION_SD = 0.02
"""Standard uncertainty of restitution: half the width of the figures in use (0.78 to 0.85) over √3."""


@dataclass(frozen=True, slots=True)
class Impact:
    """What leaves a contact: speeds along the target line in m/s, the head's turn in rad/s.

    ``head_speed_after_m_s`` is that of the head's centre of mass; ``head_turn_rad_s`` is zero for a strike
    in the centre, and has the sign of the strike's offset.
    """

    ball_speed_m_s: float
    head_speed_after_m_s: float
    head_turn_rad_s: float


def effective_head_mass_kg(
    putter: Putter, offset_m: float = 0.0, head_inertia_kg_m2: float = HEAD_INERTIA_KG_M2
) -> float:
    """Mass with which the head meets a ball at that heel or toe distance from its centre of mass."""
    _check(putter, offset_m, head_inertia_kg_m2)
    return putter.head_mass_kg / (1.0 + putter.head_mass_kg * offset_m**2 / head_inertia_kg_m2)


def ball_speed_ratio(
    putter: Putter,
    offset_m: float = 0.0,
    *,
    head_inertia_kg_m2: float = HEAD_INERTIA_KG_M2,
    ball_mass_kg: float = BALL_MASS_KG,
) -> float:
    """Ball speed over head speed before contact: (1 + e)·M/(M + m), with M_eff for M off the centre."""
    mass = effective_head_mass_kg(putter, offset_m, head_inertia_kg_m2)
    return (1.0 + putter.restitution) * mass / (mass + ball_mass_kg)


def head_speed_kept(putter: Putter, *, ball_mass_kg: float = BALL_MASS_KG) -> float:
    """Share of its speed that the head keeps through a strike in the centre: (M − e·m)/(M + m)."""
    _check(putter, 0.0, HEAD_INERTIA_KG_M2)
    mass = putter.head_mass_kg
    return (mass - putter.restitution * ball_mass_kg) / (mass + ball_mass_kg)


def collide(
    head_speed_m_s: float,
    putter: Putter,
    offset_m: float = 0.0,
    *,
    head_inertia_kg_m2: float = HEAD_INERTIA_KG_M2,
    ball_mass_kg: float = BALL_MASS_KG,
) -> Impact:
    """Ball and head after contact; momentum and angular momentum are conserved.

    ``offset_m`` is the distance of the strike from the head's centre of mass, towards the toe positive.
    Raises SettingsError when a mass, the restitution, the offset or the speed is not physical.
    """
    if not (math.isfinite(head_speed_m_s) and head_speed_m_s > 0.0):
        raise SettingsError(f"A head speed of {head_speed_m_s:g} m/s hits no ball; give one above zero.")
    ratio = ball_speed_ratio(
        putter, offset_m, head_inertia_kg_m2=head_inertia_kg_m2, ball_mass_kg=ball_mass_kg
    )
    impulse = ball_mass_kg * ratio * head_speed_m_s
    return Impact(
        ball_speed_m_s=ratio * head_speed_m_s,
        head_speed_after_m_s=head_speed_m_s - impulse / putter.head_mass_kg,
        head_turn_rad_s=impulse * offset_m / head_inertia_kg_m2,
    )


def roll_out_share(
    putter: Putter, offset_m: float, *, head_inertia_kg_m2: float = HEAD_INERTIA_KG_M2
) -> float:
    """Roll-out of a strike off the centre over that of the same stroke in the centre.

    On a plane green every length of a roll-out grows with the square of ball speed, skid included.
    """
    off = ball_speed_ratio(putter, offset_m, head_inertia_kg_m2=head_inertia_kg_m2)
    return (off / ball_speed_ratio(putter)) ** 2


def _check(putter: Putter, offset_m: float, head_inertia_kg_m2: float) -> None:
    mass, restitution = putter.head_mass_kg, putter.restitution
    if not (math.isfinite(mass) and BALL_MASS_KG <= mass <= 2.0):
        raise SettingsError(f"A head mass of {mass * 1000:g} g is outside 46 to 2000 g; give it as 350g.")
    if not (math.isfinite(restitution) and 0.0 <= restitution <= 1.0):
        raise SettingsError(f"A restitution of {restitution:g} is outside 0 to 1; a putter has about 0.8.")
    if not (math.isfinite(offset_m) and abs(offset_m) <= 0.1):
        raise SettingsError(
            f"A strike {offset_m * 1000:g} mm off the centre misses the face (100 mm at most)."
        )
    if not (math.isfinite(head_inertia_kg_m2) and head_inertia_kg_m2 > 0.0):
        raise SettingsError(f"A moment of inertia of {head_inertia_kg_m2:g} kg·m² is not above zero.")
