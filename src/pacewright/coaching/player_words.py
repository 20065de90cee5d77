"""What a player's own law of head speed says, in plain sentences."""

from __future__ import annotations

from pacewright.coaching.percentages import count, percent
from pacewright.coaching.player_model import TEXTBOOK_CONSTANT, PlayerModel
from pacewright.coaching.words import figure


def model_sentences(model: PlayerModel) -> list[str]:
    """The constant, and what belongs to it, a sentence each."""
    constant = figure(model.constant.value, "number", model.constant.sd)
    return [
        f"Own constant {constant} (textbook {TEXTBOOK_CONSTANT:.2f}), from "
        f"{count(model.strokes, 'stroke')}: head speed is that times backswing length over downswing time.",
        *habit_sentences(model),
    ]


def habit_sentences(model: PlayerModel) -> list[str]:
    """Whether constant and time change with length, and what does not fit, a sentence each."""
    sentences = []
    exponent = model.length_exponent
    if abs(exponent.value) > 2.0 * exponent.sd:
        more = "more" if exponent.value > 0.0 else "less"
        sentences.append(
            f"Longer backswings give {more} speed than in proportion: the constant changes by "
            f"{percent(abs(2.0**exponent.value - 1.0))} for twice the length."
        )
    if model.time is not None:
        sentences.append(model.time.words)
    sentences.extend(check.text for check in model.checks if check.text)
    return sentences
