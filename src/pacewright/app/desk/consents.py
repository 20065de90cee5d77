"""Consent: who agreed to what, and what it takes before a recording is kept.

A player agrees for itself; for one under age a parent or guardian must agree as well. Without both, nothing
is recorded. Consent that was withdrawn stops what comes; what is there stays until it is deleted or erased.
"""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session as Transaction

from pacewright.app.desk import convert
from pacewright.app.desk.context import Context
from pacewright.app.desk.views import ConsentKind, ConsentView, GivenBy
from pacewright.core.errors import ConflictError, ConsentError, NotFoundError, SettingsError
from pacewright.records.schema import Consent, Guardian, Player
from pacewright.records.schema.base import now

KINDS: dict[str, str] = {
    "recording": "being recorded",
    "sharing": "being shown beside other players",
    "clip_review": "sending clips for review",
}


class Consents:
    """What players and their guardians agreed to."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def give(
        self,
        player_id: UUID,
        kind: ConsentKind,
        given_by: GivenBy,
        *,
        guardian_id: UUID | None = None,
        how: str = "",
    ) -> ConsentView:
        """Note a consent; ``how`` says in what way (signed, said in the lesson).

        A guardian's names the guardian. Raises SettingsError for an unknown kind, ConflictError when it
        holds already.
        """
        if kind not in KINDS or given_by not in ("player", "guardian"):
            raise SettingsError(f"Consent is to {', '.join(KINDS)}, by the player or a guardian.")
        if (given_by == "guardian") != (guardian_id is not None):
            raise SettingsError("Say which guardian agreed; a player agrees without one.")
        with self._context.write() as transaction:
            player = self._context.get(transaction, Player, player_id, "player")
            if guardian_id is not None:
                guardian = transaction.get(Guardian, guardian_id)
                if guardian is None or guardian.player_id != player_id:
                    raise NotFoundError("There is no such guardian of this player.")
            if given_by in _who_agreed(transaction, [player], kind)[player.id]:
                raise ConflictError("That consent is noted already and holds.")
            row = Consent(
                player_id=player_id, kind=kind, given_by=given_by, guardian_id=guardian_id, how=how[:500],
                recorded_by=self._context.actor.name, given_at=now(),
            )  # fmt: skip
            transaction.add(row)
            transaction.flush()
            self._context.log(transaction, "consent", kind, row.id, player_id, given_by=given_by)
            return convert.consent(row)

    def withdraw(self, consent_id: UUID) -> ConsentView:
        """End a consent as of now."""
        with self._context.write() as transaction:
            row = self._context.get(transaction, Consent, consent_id, "consent")
            if row.withdrawn_at is None:
                row.withdrawn_at = now()
                self._context.log(transaction, "withdraw", row.kind, row.id, row.player_id)
            return convert.consent(row)

    def of_player(self, player_id: UUID) -> tuple[ConsentView, ...]:
        """Every consent of a player, newest first, those withdrawn too."""
        with self._context.read() as transaction:
            self._context.get(transaction, Player, player_id, "player")
            found = transaction.scalars(
                select(Consent).where(Consent.player_id == player_id).order_by(Consent.id.desc())
            )
            return tuple(convert.consent(row) for row in found)

    def missing(self, player_id: UUID, kind: ConsentKind) -> tuple[str, ...]:
        """Sentences that say whose consent is still wanted; empty when nothing is."""
        with self._context.read() as transaction:
            player = self._context.get(transaction, Player, player_id, "player")
            return missing_consents(transaction, player, kind)


def missing_consents(transaction: Transaction, player: Player, kind: str) -> tuple[str, ...]:
    """As `Consents.missing`, within a transaction."""
    return missing_of_each(transaction, [player], kind)[player.id]


def missing_of_each(
    transaction: Transaction, players: Sequence[Player], kind: str
) -> dict[UUID, tuple[str, ...]]:
    """As `missing_consents` for several players: one query."""
    agreed = _who_agreed(transaction, players, kind)
    return {player.id: _sentences(player, kind, agreed[player.id]) for player in players}


def _who_agreed(transaction: Transaction, players: Sequence[Player], kind: str) -> dict[UUID, set[str]]:
    agreed: dict[UUID, set[str]] = {player.id: set() for player in players}
    found = transaction.execute(
        select(Consent.player_id, Consent.given_by).where(
            Consent.player_id.in_(agreed), Consent.kind == kind, Consent.withdrawn_at.is_(None)
        )
    )
    for player_id, given_by in found:
        agreed[player_id].add(given_by)
    return agreed


def _sentences(player: Player, kind: str, agreed: set[str]) -> tuple[str, ...]:
    wanted = []
    if "player" not in agreed:
        wanted.append(f"{player.name} has not agreed to {KINDS[kind]}.")
    if convert.is_minor(player) and "guardian" not in agreed:
        wanted.append(f"{player.name} is under age: a parent or guardian has not agreed to {KINDS[kind]}.")
    return tuple(wanted)


def require(transaction: Transaction, player: Player, kind: str) -> None:
    """Raise ConsentError when a consent is missing."""
    missing = missing_consents(transaction, player, kind)
    if missing:
        raise ConsentError(" ".join((*missing, "Note the consent on the player's page first.")))
