"""Looking through a clip once: balls at rest are watched, and one that leaves opens a stretch."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np

from pacewright.core.clip import View
from pacewright.core.recording import FloatArray
from pacewright.tracking.ball import Disc, ball_likeness, find_discs
from pacewright.tracking.camera import Camera
from pacewright.tracking.clip import Clip, Frame, Plane
from pacewright.tracking.keep import Box, Keeper, Kept, clipped
from pacewright.tracking.view import view_of

BEFORE_S, AFTER_S = 2.4, 0.8
"""What is kept of a putt before and after the ball leaves."""
SLOWEST_CAMERA_HZ = 61.0
"""A file that plays no faster may hold slow motion: what is kept is counted as at 240 a second."""
_SLOW_MOTION_HZ = 240.0
_COLOUR_EVERY_S = 0.2
_LOOK_EVERY_S, _LOOK_AGAIN_S, _SURE_ROUND = 0.5, 3.0, 0.8
_LAST_LOOK_S = 0.5
_GONE_S = 0.12
_CHANGED = 0.4
_MOST_WATCHED, _LEAST_BESIDE_BEST, _BEHIND = 3, 0.3, 0.2
_MOST_CANDIDATES = 6


@dataclass(slots=True)
class _Watched:
    """A disc at rest, what its middle looked like, and since when it has looked otherwise."""

    disc: Disc
    box: Box
    look: Plane
    changed_at: int | None = None


@dataclass(frozen=True, slots=True)
class Stretch:
    """The kept frames around the moment a disc was no longer there, which is frame ``left_at``."""

    disc: Disc
    left_at: int
    kept: Kept


@dataclass(slots=True)
class Watch:
    """Goes through a clip and yields a `Stretch` for every disc that leaves its place.

    ``up`` (2,) is the upright picture's up, ``said`` the view where it was given. ``ticks`` are the
    timestamps of all frames seen; ``discs_seen`` says whether anything ball-like ever lay still. With
    ``keeps_colour`` the colour planes of some frames of the last seconds are in ``colours``.
    """

    clip: Clip
    up: FloatArray
    said: View | None = None
    capture_rate_hz: float | None = None
    progress: Callable[[float], None] | None = None
    keeps_colour: bool = False
    ticks: list[int] = field(default_factory=list)
    discs_seen: int = 0
    colours: deque[tuple[int, Plane]] = field(
        default_factory=lambda: deque(maxlen=int((BEFORE_S + AFTER_S) / _COLOUR_EVERY_S))
    )

    @property
    def rate_hz(self) -> float:
        """The rate by which stretches are measured out in frames."""
        stated = self.capture_rate_hz or self.clip.info.capture_rate_hz
        played = self.clip.info.play_rate_hz
        return stated or (played if played > SLOWEST_CAMERA_HZ else _SLOW_MOTION_HZ)

    def stretches(self) -> Iterator[Stretch]:
        """Each stretch as soon as its last frame is there."""
        width, height = self.clip.info.size_px
        keeper = Keeper((height, width), self.rate_hz, every=12 if self._may_be_slow else None)
        watched: list[_Watched] = []
        pending: list[_Watched] = []
        look_at = 0
        camera: Camera | None = None
        frame = None
        colour_every = max(int(_COLOUR_EVERY_S * self.rate_hz), 1)
        for frame in self.clip.frames_ahead():
            self.ticks.append(frame.tick)
            if self.keeps_colour and frame.index % colour_every == 0:
                self.colours.append((frame.index, frame.colour()))
            if frame.index >= look_at and not pending and self._long_enough(frame.index):
                sure = any(w.disc.roundness > _SURE_ROUND and w.changed_at is None for w in watched)
                usual_s = _LOOK_EVERY_S if self._look(frame, watched) else 2 * _LOOK_EVERY_S
                look_at = frame.index + int((_LOOK_AGAIN_S if sure else usual_s) * self.rate_hz)
                prime = self._prime([w.disc for w in watched[:_MOST_CANDIDATES]], frame)
                keeper.watch([disc for disc, _ in prime], [view for _, view in prime], self.up)
            if camera is None:
                camera = Camera(frame.luma)
            keeper.add(frame, camera.motion(frame.luma))
            for gone in self._gone(frame, watched):
                watched.remove(gone)
                pending.append(gone)
            yield from self._due(frame.index, pending, keeper)
            if self.progress is not None and frame.index % 32 == 0 and self.clip.info.frames:
                self.progress(min(frame.index / self.clip.info.frames, 1.0))
        if frame is not None:
            last = [w for w in watched if w.changed_at is not None]
            yield from self._due(None, pending + last, keeper)

    def _long_enough(self, index: int) -> bool:
        """Whether a ball that is found now can still be struck and seen before the clip is over."""
        left = self.clip.info.frames - index
        return index == 0 or self.clip.info.frames <= 0 or left > _LAST_LOOK_S * self.rate_hz or left <= 0

    def _prime(self, discs: list[Disc], frame: Frame) -> list[tuple[Disc, View]]:
        """The discs that may be the ball, each with from where it is seen: those not much less like one than
        the one most like it. From in front the ball lies nearer than the shoes, so lower in the picture.
        """
        if not discs:
            return []
        views = [self._view(frame, disc) for disc in discs]
        likeness = np.array([ball_likeness(disc, frame.luma.shape) for disc in discs])
        low = np.array([disc.radius_px - self.up @ [disc.x_px, disc.y_px] for disc in discs])
        alike = likeness > _LEAST_BESIDE_BEST * likeness.max()
        for j, (disc, view) in enumerate(zip(discs, views, strict=True)):
            if view == "front" and (alike & (low > low[j] + 0.3 * disc.radius_px)).any():
                likeness[j] *= _BEHIND
        most = np.argsort(-likeness)[:_MOST_WATCHED]
        return [(discs[j], views[j]) for j in most if likeness[j] > _LEAST_BESIDE_BEST * likeness.max()]

    @property
    def _may_be_slow(self) -> bool:
        return self.rate_hz != self.clip.info.play_rate_hz

    def _view(self, frame: Frame, disc: Disc) -> View:
        return self.said or view_of(frame.luma, np.array([disc.x_px, disc.y_px]), disc.radius_px, self.up)

    def _look(self, frame: Frame, watched: list[_Watched]) -> bool:
        """Look for discs at rest; those already watched and unchanged stay as they are. Whether there are
        new ones.
        """
        kept = [w for w in watched if w.changed_at is None]
        before = len(kept)
        for disc in find_discs(frame.luma, _MOST_CANDIDATES - len(kept), [w.disc for w in kept]):
            half = 0.6 * disc.radius_px
            x, y = disc.x_px, disc.y_px
            corners = (int(x - half), int(y - half), int(x + half) + 1, int(y + half) + 1)
            box = clipped(corners, frame.luma.shape)
            kept.append(_Watched(disc, box, frame.luma[box[1] : box[3], box[0] : box[2]].copy()))
        self.discs_seen = max(self.discs_seen, len(kept))
        watched[:] = [w for w in watched if w.changed_at is not None] + kept
        watched.sort(key=lambda w: -ball_likeness(w.disc, frame.luma.shape))
        return len(kept) > before

    def _gone(self, frame: Frame, watched: list[_Watched]) -> list[_Watched]:
        """The discs that have not looked like themselves for long enough to have left."""
        import cv2

        long_gone = max(int(_GONE_S * self.rate_hz), 3)
        gone = []
        for w in watched:
            x0, y0, x1, y1 = w.box
            change = float(cv2.norm(frame.luma[y0:y1, x0:x1], w.look, cv2.NORM_L1)) / w.look.size
            if change < _CHANGED * w.disc.contrast:
                w.changed_at = None
            elif w.changed_at is None:
                w.changed_at = frame.index
            elif frame.index - w.changed_at >= long_gone:
                gone.append(w)
        return gone

    def _due(self, now: int | None, pending: list[_Watched], keeper: Keeper) -> Iterator[Stretch]:
        """The stretches whose last frame is there (``now`` None: the clip is over, so all of them)."""
        before, after = int(BEFORE_S * self.rate_hz), int(AFTER_S * self.rate_hz)
        for w in list(pending):
            assert w.changed_at is not None
            if now is None or now >= w.changed_at + after:
                if w in pending:
                    pending.remove(w)
                stretch = Stretch(w.disc, w.changed_at, keeper.since(w.changed_at - before))
                if stretch.kept.wholes:
                    yield stretch
                del stretch
