"""Stories: observations that belong together, told once, cause first.

A story is told when each of its links is there and the links share strokes. Observations it uses are not
told again on their own. Method page: docs/methods/findings.md.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from pacewright.coaching.words import at_lengths
from pacewright.core.finding import Confidence, Finding, Severity
from pacewright.core.stroke import Stroke

SEVERITIES: tuple[Severity, ...] = ("note", "watch", "act")
CONFIDENCES: tuple[Confidence, ...] = ("low", "fair", "high")


@dataclass(frozen=True, slots=True)
class Story:
    """``links`` must all be there, cause first; ``also`` are effects told with it where they are there.

    ``at_most`` caps the severity, for stories that are no trouble.
    Stories that compare lengths do not name the lengths at which they hold.
    """

    id: str
    links: tuple[str, ...]
    statement: str
    cause: str
    advice: str
    also: tuple[str, ...] = ()
    at_most: Severity = "act"
    is_about_lengths: bool = False


_LATE = "Speed that is made late is made in a hurry, and a small error of time then costs most distance."

STORIES = (
    Story(
        "rushed-downswing", ("slow-backswing", "ratio-above-band", "speeding-up-at-contact"),
        "A slow backswing leaves a rushed downswing, and the head is still speeding up at the ball.",
        f"The way back takes too much of the time, so the speed has to come late. {_LATE}",
        "Work on the way back alone: be at the back marker on the second beat. Start with the shortest putt.",
        also=("short-backswing", "long-through"),
    ),
    Story(
        "rushed-downswing", ("slow-backswing", "ratio-above-band"),
        "A slow backswing leaves a rushed downswing.",
        "The way back takes too much of the time; the downswing has to make up for it.",
        "Work on the way back alone: be at the back marker on the second beat. Start with the shortest putt.",
        also=("short-backswing", "long-through"),
    ),
    Story(
        "rushed-downswing", ("ratio-above-band", "speeding-up-at-contact"),
        "The downswing is rushed, and the head is still speeding up at the ball.",
        _LATE,
        "Keep the backswing. Turn round on the second beat and let the ball come half a beat later.",
        also=("short-backswing", "long-through"),
    ),
    Story(
        "harder-instead-of-longer", ("length-ignores-putt", "speeding-up-at-contact"),
        "Longer putts get a harder hit instead of a longer backswing.",
        "The backswing hardly grows with the putt, so the speed is found at the ball.",
        "Putt to the back markers of two lengths in turn, at one beat.",
        also=("short-backswing", "time-changes-with-length", "long-through"),
        is_about_lengths=True,
    ),
    Story(
        "jab", ("quick-backswing", "short-backswing", "speeding-up-at-contact"),
        "A short, quick backswing leads into a hit: the head is still speeding up at the ball.",
        f"The length does not give the speed, so it is hit in. {_LATE}",
        "Go back to the back marker and let the backswing fill the beat.",
        also=("ratio-below-band", "long-through"),
    ),
    Story(
        "jab", ("short-backswing", "speeding-up-at-contact"),
        "The backswing is short, so the speed is hit in: the head is still speeding up at the ball.",
        f"The length does not give the speed. {_LATE}",
        "Go back to the back marker, at the same beat.",
        also=("ratio-below-band", "long-through"),
    ),
    Story(
        "jab", ("quick-backswing", "speeding-up-at-contact"),
        "A quick backswing leads into a hit: the head is still speeding up at the ball.",
        f"There is no time to swing, so the speed is hit in. {_LATE}",
        "Let the backswing fill the beat.",
        also=("ratio-below-band", "long-through"),
    ),
    Story(
        "braked-backswing", ("long-backswing", "braking-before-contact"),
        "The backswing is long for these putts, so the head is braked before the ball.",
        "The length gives more speed than the putt needs, and the hands take it away again.",
        "Shorten the way back to the back marker, and let the head go through.",
        also=("ratio-below-band", "short-through"),
    ),
    Story(
        "held-back-downswing", ("ratio-below-band", "braking-before-contact"),
        "The downswing is held back, and the head is slowing down before the ball.",
        "The speed is made early, and then held back.",
        "Let the head go: the ball comes half a beat after the back marker.",
        also=("short-through",),
    ),
    Story(
        "tempo-instead-of-length", ("length-ignores-putt", "time-changes-with-length"),
        "Longer putts get another tempo instead of a longer backswing.",
        "The backswing hardly grows with the putt, so the time has to change.",
        "Putt to the back markers of two lengths in turn, at one beat.",
        also=("slow-backswing", "quick-backswing"),
        is_about_lengths=True,
    ),
    Story(
        "uneven-distance", ("uneven-length", "uneven-timing", "uneven-speed"),
        "Backswing length and timing differ from putt to putt, so head speed does, and so will distance.",
        "Distance goes with the square of head speed: it differs about twice as much.",
        "Putt to the beat and to the back marker at one length until both come together.",
        also=("lengths-and-times-add-up", "lengths-and-times-cancel"),
    ),
    Story(
        "uneven-distance", ("uneven-timing", "uneven-speed"),
        "The timing differs from putt to putt, so head speed does, and so will distance.",
        "Distance goes with the square of head speed: it differs about twice as much.",
        "Putt to the beat at one length before mixing lengths.",
        also=("lengths-and-times-add-up", "lengths-and-times-cancel"),
    ),
    Story(
        "uneven-distance", ("uneven-length", "uneven-speed"),
        "The length of the backswing differs from putt to putt, so head speed does, and so will distance.",
        "Distance goes with the square of head speed: it differs about twice as much.",
        "Putt to the back marker at one length before mixing lengths.",
        also=("lengths-and-times-add-up", "lengths-and-times-cancel"),
    ),
    Story(
        "lengths-and-times-balance", ("uneven-length", "uneven-timing", "lengths-and-times-cancel"),
        "Backswing length and timing differ from putt to putt, but they go together and cancel in part.",
        "Length adds speed and time takes it away.",
        "Leave it alone while head speed is even.",
        at_most="note",
    ),
)  # fmt: skip


def told(observations: Sequence[Finding], putts: Sequence[Stroke]) -> list[Finding]:
    """Stories where observations on ``putts`` make one, and the observations that are left."""
    left = {observation.id: observation for observation in observations}
    findings = []
    for story in STORIES:
        links = [left[link] for link in story.links if link in left]
        shared = _shared_strokes(links)
        if len(links) < len(story.links) or not shared:
            continue
        links += [left[effect] for effect in story.also if effect in left]
        lengths = [] if story.is_about_lengths else _lengths(putts, shared)
        findings.append(_one_story(story, links, lengths))
        for link in links:
            del left[link.id]
    return findings + list(left.values())


def _shared_strokes(links: Sequence[Finding]) -> frozenset[int]:
    """Indices of the strokes that are behind every one of the links."""
    sets = [frozenset(link.stroke_indices) for link in links]
    return frozenset.intersection(*sets) if sets else frozenset()


def _lengths(putts: Sequence[Stroke], shared: frozenset[int]) -> list[float]:
    """The lengths asked at which a story holds; none when it holds at all of them."""
    lengths = {stroke.asked_length_m for stroke in putts}
    held = {stroke.asked_length_m for stroke in putts if stroke.index in shared}
    return [length for length in held if length is not None] if held < lengths else []


def _one_story(story: Story, links: Sequence[Finding], lengths_m: Sequence[float]) -> Finding:
    severity = max((link.severity for link in links), key=SEVERITIES.index)
    return replace(
        links[0],
        id=story.id,
        severity=min(severity, story.at_most, key=SEVERITIES.index),
        confidence=min((link.confidence for link in links), key=CONFIDENCES.index),
        statement=at_lengths(story.statement, lengths_m),
        evidence=" ".join(link.evidence for link in links),
        cause=story.cause,
        advice=story.advice,
        source=" ".join(dict.fromkeys(link.source for link in links)),
        stroke_indices=tuple(sorted({index for link in links for index in link.stroke_indices})),
        chain=tuple(link.id for link in links),
    )
