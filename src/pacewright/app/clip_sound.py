"""The click of contact on a clip's sound track against the contact in its pictures."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from pacewright.app.sound_files import read_sound
from pacewright.core.errors import ReadError
from pacewright.core.measure import Remark
from pacewright.core.stroke import Stroke
from pacewright.signals.clicks import find_clicks

_NEAR_S = 0.25
"""Sound and picture of one clip are at most this far apart."""


def sound_remark(path: str | Path, strokes: Sequence[Stroke]) -> Remark | None:
    """How far the click of contact lies from the contact seen, over the putts; None when none is heard.

    Sound comes late by the camera's distance over the speed of sound, and a file may hold picture and
    sound apart by more: the difference is measured, never assumed. The pictures settle contact to a tenth
    of a millisecond and the clicks only after this difference is known, so that they check it and do not
    change it.
    """
    contacts_s = [stroke.events["impact"].value for stroke in strokes if stroke.kind == "putt"]
    if not contacts_s:
        return None
    try:
        sound = read_sound(path)
    except ReadError:
        return None
    clicks = find_clicks(sound.samples, sound.rate_hz)
    late_s = []
    for contact_s in contacts_s:
        near = [click for click in clicks if abs(click.time_s - contact_s) < _NEAR_S]
        if near:
            late_s.append(max(near, key=lambda click: click.strength_db).time_s - contact_s)
    if not late_s:
        return None
    late_ms = 1000.0 * float(np.median(late_s))
    heard = "1 putt" if len(late_s) == 1 else f"{len(late_s)} putts"
    spread = f", within {1000.0 * float(np.ptp(late_s)):.1f} ms of one another" if len(late_s) > 1 else ""
    after = "after" if late_ms >= 0 else "before"
    return Remark(
        "sound-offset",
        f"The click of contact is heard {abs(late_ms):.1f} ms {after} contact is seen ({heard}{spread}): "
        "that is how far sound and picture lie apart in this clip.",
    )
