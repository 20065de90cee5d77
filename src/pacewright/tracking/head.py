"""The head of one putt: its outline at address, and its place in every kept frame of the stretch."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pacewright.core.recording import FloatArray
from pacewright.tracking.ball import BALL_DIAMETER_M
from pacewright.tracking.keep import Box, clipped
from pacewright.tracking.outline import Colours, Hint, head_at_address
from pacewright.tracking.strip import HeadPlan, Strip
from pacewright.tracking.template import Held, Pose, Template

SWING_RADIUS_M = 1.35
"""From the swing axis to the head: common practice, no source (as for sensors)."""
LEAST_LIKENESS = 0.6
_LOST_FRAMES = 6
_LEAST_SIDE_PX = 8
_NEAR_PX = 4.0
_RESTING_PX, _RESTING_STRIDES, _STRIDE_DIAMETERS = 1.0, 3, 0.4
_SMEAR_STEP_PX = 1.5
_TURN_SD_RAD = 0.01
_LESS_ALIKE, _NEW_LOOK_DIAMETERS = 0.8, 0.5
_CHANGES_LITTLE, _GAINS_DIAMETERS = 0.1, 0.2


@dataclass(frozen=True, slots=True)
class HeadPath:
    """Poses (turn and size since address) in those frames ``k`` (n,) in which the head was found."""

    k: NDArray[np.int64]
    place_px: FloatArray
    turn_rad: FloatArray
    size: FloatArray
    likeness: FloatArray
    address: int


def follow_head(strip: Strip, plan: HeadPlan, hint: Hint | None, colours: Colours = ()) -> HeadPath | str:
    """The head's path through the stretch; or why there is none. ``hint`` says what is on it at address."""
    made = head_at_address(strip, plan, hint, colours)
    if isinstance(made, str):
        return made
    template, start = made
    follow = _Follower(strip, template, start)
    later = follow.along(start, range(plan.address, len(strip.kept)))
    earlier = follow.along(start, range(plan.address - 1, -1, -1))
    poses = {**later, **earlier}
    ks = np.array(sorted(poses))
    rows = [poses[int(k)] for k in ks]
    return HeadPath(
        ks,
        np.array([[p.x_px, p.y_px] for p in rows]),
        np.array([p.turn_rad for p in rows]),
        np.array([p.size for p in rows]),
        np.array([p.likeness for p in rows]),
        plan.address,
    )


@dataclass(frozen=True, slots=True)
class _Guess:
    """About where the head is, what is known of its turn, and how far it goes along the line a frame."""

    pose: Pose
    held: Held
    along_px: float


class _Follower:
    """Follows a template from frame to frame, foretelling each place from the two before.

    From in front, and under a lamp, the head looks otherwise as it swings: where it has become less alike
    it is taken anew, and on its way back the look nearest to the place is the one that is used.
    """

    def __init__(self, strip: Strip, template: Template, start: Pose) -> None:
        self._kept = strip.kept
        self._template = template
        self._direction, self._shutter_share = strip.path.direction, strip.path.shutter_share
        self._smeared = {0: template}
        self._start = start
        self._left, self._every = strip.path.left, strip.every
        self._lost: set[int] = set()
        self._looks: list[tuple[float, Template]] = []
        self._diameter_px = strip.diameter_px
        self._sideways = np.array([-strip.up[1], strip.up[0]]) if strip.view == "front" else None
        self._swing_px = SWING_RADIUS_M * strip.diameter_px / BALL_DIAMETER_M

    def along(self, start: Pose, ks: range) -> dict[int, Pose]:
        """Poses in the frames of ``ks`` in which the head is found, from ``start`` on.

        One frame in several is found roughly, one after the other. From there all are found side by side.
        """
        rough = self._rough(start, ks)
        guesses = dict(rough)
        for (a, at_a), (b, at_b) in pairwise(rough.items()):
            if not self._lost.intersection(range(min(a, b), max(a, b))):
                guesses.update(self._between(a, at_a.pose, b, at_b.pose))
        return self._found(guesses)

    def _rough(self, start: Pose, ks: range) -> dict[int, _Guess]:
        """About the poses in as many frames as foretelling the next one asks for; in all where it fails."""
        found: dict[int, _Guess] = {}
        last, speed, last_k, lost = start, np.zeros(4), ks.start, 0
        gaining, since = np.zeros(2), 1
        n, stride = 0, 1
        while n < len(ks):
            k = ks[n]
            ahead = abs(k - last_k)
            guess = _ahead(last, speed, ahead, gaining, since)
            held = self._held(guess, ahead)
            along_px = float(speed[:2] @ self._direction)
            pose = self._seen(k, guess, held, along_px)
            # What is suddenly less like it after some frames is the ground: none of them is left out then.
            if stride > 1 and not (
                _believable(pose, held) and pose.likeness > last.likeness - _CHANGES_LITTLE
            ):
                n, stride = n - stride + 1, 1
                continue
            if not _believable(pose, held):
                gains_px = _GAINS_DIAMETERS * self._diameter_px
                reach_px = 4 + gains_px + ahead * float(np.hypot(*speed[:2]))
                pose = self._searched(k, guess, held, reach_px)
            if not _believable(pose, held):
                lost += 1
                self._lost.add(k)
                if lost > _LOST_FRAMES:
                    break
                n += 1
                continue
            if ahead:
                before, speed = speed, _speed(last, pose, ahead, speed)
                # One frame's step says too little of how the speed changes, and contact changes it at once.
                steady = min(ahead, since) > 1
                gaining = 2 * (speed - before)[:2] / (ahead + since) if steady else np.zeros(2)
                since = ahead
            last, last_k, lost = pose, k, 0
            found[k] = _Guess(pose, held, along_px)
            self._look_again(k, pose)
            stride = max(min(self._stride(k, speed), len(ks) - 1 - n), 1)
            n += stride
        return found

    def _stride(self, k: int, speed: FloatArray) -> int:
        """How many frames on the next one is looked for: every one around contact, few at rest."""
        if -4 * self._every < k - self._left < 3 * self._every:
            return 1
        resting = max(abs(speed[0]), abs(speed[1])) * self._every < _RESTING_PX
        most = _STRIDE_DIAMETERS * self._diameter_px / max(float(np.hypot(*speed[:2])), 1e-6)
        return _RESTING_STRIDES * self._every if resting else max(min(self._every, int(most)), 1)

    def _between(self, a: int, at_a: Pose, b: int, at_b: Pose) -> dict[int, _Guess]:
        """About the poses in the frames between two."""
        one = np.array([at_a.x_px, at_a.y_px, at_a.turn_rad, at_a.size])
        other = np.array([at_b.x_px, at_b.y_px, at_b.turn_rad, at_b.size])
        along_px = float((other - one)[:2] @ self._direction) / abs(b - a)
        guesses = {}
        for k in range(a + 1, b) if b > a else range(a - 1, b, -1):
            x, y, turn, size = (one + (k - a) / (b - a) * (other - one)).tolist()
            pose = Pose(x, y, turn, size)
            guesses[k] = _Guess(pose, self._held(pose, 1), along_px)
        return guesses

    def _found(self, guesses: dict[int, _Guess]) -> dict[int, Pose]:
        """The believable poses near the guesses."""
        looks = [(k, self._smeared[self._smear(guess.along_px)]) for k, guess in guesses.items()]
        found = self._side_by_side(looks, guesses)
        if self._looks:
            other = self._side_by_side(
                [(k, self._look_at(pose)) for k, pose in found.items() if pose.likeness < _LESS_ALIKE],
                guesses,
            )
            found.update({k: pose for k, pose in other.items() if pose.likeness > found[k].likeness})
        for k, pose in found.items():
            guess = guesses[k]
            if not _believable(pose, guess.held):
                near = self._searched(k, guess.pose, guess.held, _NEAR_PX)
                found[k] = self._seen(k, near, guess.held, guess.along_px, rough=False)
        return {k: pose for k, pose in found.items() if _believable(pose, guesses[k].held)}

    def _side_by_side(self, looks: list[tuple[int, Template]], guesses: dict[int, _Guess]) -> dict[int, Pose]:
        """Poses near the guesses by the look said for each frame."""
        found: dict[int, Pose] = {}
        for template in {id(look): look for _, look in looks}.values():
            ks = [k for k, look in looks if look is template]
            near = [guesses[k].pose for k in ks]
            boxes = [self._box(pose, 4.0) for pose in near]
            cuts = [self._kept.cut(k, box) for k, box in zip(ks, boxes, strict=True)]
            held = [guesses[k].held for k in ks]
            poses = template.find_all(cuts, [box[:2] for box in boxes], near, held)
            found.update(zip(ks, poses, strict=True))
        return found

    def _held(self, guess: Pose, ahead: int) -> Held:
        """What is known of the turn: in front the club turns as it swings; from above, little a frame."""
        if self._sideways is None:
            return Held(guess.turn_rad, _TURN_SD_RAD * max(ahead, 1))
        swung = float((guess.place - self._start.place) @ self._sideways) / self._swing_px
        return Held(-swung, _TURN_SD_RAD + 0.2 * abs(swung))

    def _seen(self, k: int, guess: Pose, held: Held, px_per_frame: float, *, rough: bool = True) -> Pose:
        """The pose by the look at address, smeared as the exposure smears it; by a later look where that
        is like.
        """
        pose = self._find(self._smeared[self._smear(px_per_frame)], k, guess, held, rough)
        if pose.likeness < _LESS_ALIKE and self._looks:
            other = self._find(self._look_at(guess), k, guess, held, rough)
            if other.likeness > pose.likeness or not _believable(pose, held):
                return other
        return pose

    def _look_at(self, pose: Pose) -> Template:
        """Of the looks taken anew the one nearest to a place."""
        s = self._along(pose)
        return min(self._looks, key=lambda each: abs(each[0] - s))[1]

    def _smear(self, px_per_frame: float) -> int:
        """The number of the template that is smeared as the exposure smears a head that moves so fast."""
        step = round(abs(px_per_frame) * self._shutter_share / _SMEAR_STEP_PX)
        if step not in self._smeared:
            self._smeared[step] = self._template.blurred(step * _SMEAR_STEP_PX * self._direction)
        return step

    def _searched(self, k: int, guess: Pose, held: Held, reach_px: float) -> Pose:
        """The best of some starts before and behind the guess, and of where the head is seen softly."""
        tries = [replace(guess, x_px=guess.x_px + share * reach_px) for share in (-1.0, -0.5, 0.5, 1.0)]
        box = self._box(guess, 4.0 + reach_px)
        if min(box[2] - box[0], box[3] - box[1]) >= _LEAST_SIDE_PX:
            cut = self._kept.cut(k, box)
            soft = (self._template.found_softly(cut, box[:2], each) for each in (guess, *tries))
            tries = [max(soft, key=lambda each: each.likeness), *tries]
        poses = [self._seen(k, each, held, reach_px) for each in tries]
        return max(poses, key=lambda each: each.likeness if _believable(each, held) else 0.0)

    def _along(self, pose: Pose) -> float:
        return float((pose.place - self._start.place) @ self._direction)

    def _look_again(self, k: int, pose: Pose) -> None:
        """Take the head's look anew where it has become less alike, far enough from the looks there are."""
        s = self._along(pose)
        far = min(abs(s - look) for look in (0.0, *(at for at, _ in self._looks)))
        if pose.likeness < _LESS_ALIKE and far > _NEW_LOOK_DIAMETERS * self._diameter_px:
            box = self._box(pose, 8.0)
            self._looks.append((s, self._template.looking_as(self._kept.cut(k, box), box[:2], pose)))

    def _find(self, template: Template, k: int, guess: Pose, held: Held, rough: bool) -> Pose:
        box = self._box(guess, 4.0)
        if min(box[2] - box[0], box[3] - box[1]) < _LEAST_SIDE_PX:
            return Pose(guess.x_px, guess.y_px)
        return template.find(self._kept.cut(k, box), box[:2], guess, held, rough=rough)

    def _box(self, pose: Pose, margin: float) -> Box:
        reach = self._template.reach_px * pose.size + margin
        x, y = pose.x_px, pose.y_px
        corners = (int(x - reach), int(y - reach), int(x + reach) + 1, int(y + reach) + 1)
        return clipped(corners, self._kept.shape)


def _ahead(pose: Pose, speed: FloatArray, frames: int, gaining: FloatArray, since: int) -> Pose:
    """The pose some frames on, at the mean speed (x, y, turn, size a frame) of the last ``since`` frames
    that gains (x, y a frame a frame).
    """
    now = np.array([pose.x_px, pose.y_px, pose.turn_rad, pose.size]) + frames * speed
    now[:2] += 0.5 * frames * (frames + since) * gaining
    x, y, turn, size = now.tolist()
    return Pose(x, y, turn, size)


def _speed(before: Pose, now: Pose, frames: int, usual: FloatArray) -> FloatArray:
    """Speed from one pose to the next; that of turn and size, which are less sure, half of it the usual
    one.
    """
    change = np.array([now.x_px, now.y_px, now.turn_rad, now.size])
    change -= np.array([before.x_px, before.y_px, before.turn_rad, before.size])
    share = np.array([1.0, 1.0, 0.5, 0.5])
    return np.asarray(share * change / frames + (1 - share) * usual)


def _believable(pose: Pose, held: Held) -> bool:
    off = abs(pose.turn_rad - held.turn_rad)
    return pose.likeness >= LEAST_LIKENESS and 0.8 < pose.size < 1.25 and off < 4 * held.turn_sd_rad + 0.1
