"""How often the search for a beat finds the player's own, beside choosing the best block.

Run `python -m validation.tempo`: it rewrites docs/validation-tempo.md (some minutes; a number as argument
gives the players a row). A beat is right within four beats of the true one.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pacewright.coaching.tempo import NEAR_BEATS, TempoBlock, TempoChoice, search_tempo

OUTPUT = Path(__file__).parents[1] / "docs" / "validation-tempo.md"
PLAYERS = 200
GRID = (74.0, 82.0, 90.0, 98.0, 106.0)
PUTTS = 10
SPREAD = 0.08
BLOCK_SD = 0.08
LENGTH_M = 6.0


@dataclass(frozen=True)
class Player:
    """True best beat; the share by which the log spread rises ten beats off it; whether comfort knows it."""

    best: float
    rise: float
    comfort_knows: bool | None

    def block(self, beat: float, rng: np.random.Generator) -> TempoBlock:
        """Ten putts at a beat. The block's own luck is 8 % of the spread; mean errors differ by block."""
        log_spread = self.rise * ((beat - self.best) / 10.0) ** 2 + BLOCK_SD * rng.normal()
        errors = 0.03 * rng.normal() + SPREAD * math.exp(log_spread) * rng.normal(size=PUTTS)
        asked = np.full(PUTTS, LENGTH_M)
        return TempoBlock(beat, asked, asked * np.exp(errors), self._comfort(beat, rng))

    def _comfort(self, beat: float, rng: np.random.Generator) -> float:
        if self.comfort_knows is None:
            return math.nan
        felt = self.best if self.comfort_knows else 90.0 + 20.0 * rng.normal()
        return float(np.clip(round(5.0 - abs(beat - felt) / 8.0 + 0.7 * rng.normal()), 1, 5))


def draw(rng: np.random.Generator, rise: float, comfort_knows: bool | None) -> Player:
    """A player whose best beat lies anywhere from 74 to 106."""
    return Player(float(rng.uniform(74.0, 106.0)), rise, comfort_knows)


def on_a_grid(player: Player, blocks: int, rng: np.random.Generator) -> list[TempoBlock]:
    """The same five beats again and again, each round in its own order."""
    rounds = [rng.permutation(GRID) for _ in range(math.ceil(blocks / len(GRID)))]
    return [player.block(float(beat), rng) for beat in np.concatenate(rounds)[:blocks]]


def as_proposed(player: Player, blocks: int, rng: np.random.Generator) -> list[TempoBlock]:
    """Three beats to start with, then each block at the beat that the search proposes."""
    played = [player.block(beat, rng) for beat in (82.0, 90.0, 98.0)]
    while len(played) < blocks:
        played.append(player.block(search_tempo(played).next_beats_per_minute, rng))
    return played


def best_spread(choice: TempoChoice) -> float:
    """The beat whose own putts spread least."""
    return min(choice.beats, key=lambda one: one.spread_share).beats_per_minute


def best_mean_error(blocks: Sequence[TempoBlock]) -> float:
    """The beat whose putts finished nearest on average."""
    errors: dict[float, list[float]] = {}
    for block in blocks:
        errors.setdefault(block.beats_per_minute, []).extend(
            np.abs(np.log(block.finish_along_m / block.asked_m))
        )
    return min(errors, key=lambda beat: float(np.mean(errors[beat])))


def row(rise: float, blocks: int, comfort_knows: bool | None, players: int, seed: int) -> str:
    """One row of the table: how often each way is right, and what the search said."""
    rng = np.random.default_rng(seed)
    right = np.zeros(4)
    said = {"settled": 0, "keep going": 0, "cannot be told apart": 0}
    settled_right = 0
    for _ in range(players):
        player = draw(rng, rise, comfort_knows)
        grid = on_a_grid(player, blocks, rng)
        fixed, proposed = search_tempo(grid), search_tempo(as_proposed(player, blocks, rng))
        picks = (
            best_spread(fixed),
            best_mean_error(grid),
            fixed.beats_per_minute,
            proposed.beats_per_minute,
        )
        hits = np.abs(np.array(picks) - player.best) <= NEAR_BEATS
        right += hits
        said[proposed.verdict] += 1
        settled_right += bool(hits[3]) and proposed.verdict == "settled"
    shares = " | ".join(f"{100 * share:.0f} %" for share in right / players)
    comfort = {None: "not asked", True: "near the best beat", False: "unrelated"}[comfort_knows]
    sure = f"{settled_right} of {said['settled']}" if said["settled"] else "–"
    verdicts = " | ".join(f"{100 * said[name] / players:.0f} %" for name in said)
    return (
        f"| {100 * math.expm1(rise):.0f} % | {blocks * PUTTS} | {comfort} | {shares} | {verdicts} | {sure} |"
    )


ROWS: tuple[tuple[float, int, bool | None], ...] = (
    (0.0, 5, None), (0.0, 10, None), (0.06, 5, None), (0.06, 10, None), (0.06, 20, None), (0.12, 5, None),
    (0.12, 10, None), (0.12, 20, None), (0.25, 5, None), (0.25, 10, None), (0.12, 5, True), (0.12, 5, False),
)  # fmt: skip


def main() -> None:
    players = int(sys.argv[1]) if len(sys.argv) > 1 else PLAYERS
    lines = [
        "# Validation: the search for a beat",
        "",
        "Made by `python -m validation.tempo` (seeded); the method: [tempo search](methods/tempo-search.md).",
        "",
        f"{players} players a row, their best beat anywhere from 74 to 106; blocks of {PUTTS} putts that "
        f"stray by {100 * BLOCK_SD:.0f} % of the spread by themselves. *Rise*: how much the spread grows ten "
        "beats off the best. The next four columns say how often the beat chosen lies within four beats of "
        "the true one, at equal putts: the block with the smallest spread, the block with the smallest mean "
        "error, the search over the same blocks at 74, 82, 90, 98 and 106, and the search over the beats "
        "that it proposed itself. Then what the last of them said, and how often `settled` was right.",
        "",
        "| rise | putts | comfort | best spread | best mean error | search, same blocks | search, own beats "
        "| settled | keep going | cannot be told apart | right when settled |",
        "|---|---|---|---|---|---|---|---|---|---|---|",
    ]
    for seed, (rise, blocks, comfort_knows) in enumerate(ROWS):
        lines.append(row(rise, blocks, comfort_knows, players, seed))
        print(lines[-1], flush=True)
    lines += [
        "",
        "Where the beat does not matter (rise 0) every choice is as good; what counts there is that "
        "`settled` is not said.",
        "",
    ]
    OUTPUT.write_text("\n".join(lines))


if __name__ == "__main__":
    main()
