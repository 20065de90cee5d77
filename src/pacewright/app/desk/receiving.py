"""A clip that a player sends for review through the link."""

from __future__ import annotations

import datetime as dt
from typing import BinaryIO

from sqlalchemy import func, select

from pacewright.app.desk.consents import require
from pacewright.app.desk.context import Context
from pacewright.app.desk.filekinds import CLIPS, kind_of
from pacewright.app.desk.sharing import PracticeDay, check_token, session_of_day
from pacewright.app.desk.uploads import clean_name, keep, recording_views, with_head
from pacewright.app.desk.views import RecordingView
from pacewright.core.errors import FileKindError, LimitError
from pacewright.records.files import blocks_of
from pacewright.records.schema import Recording, Session
from pacewright.records.schema.base import now

LARGEST_CLIP = 500 << 20
CLIPS_A_DAY = 20


def receive_clip(
    context: Context, token: str, day_client_id: str, held_on: dt.date, name: str, stream: BinaryIO
) -> RecordingView:
    """As `Sharing.send_clip`."""
    name = clean_name(name)
    with context.database.read() as transaction:
        _, player = check_token(transaction, token)
        require(transaction, player, "recording")
        require(transaction, player, "clip_review")
        today = (
            select(func.count())
            .select_from(Recording)
            .join(Session, Session.id == Recording.session_id)
            .where(Recording.player_id == player.id, Session.origin == "player")
            .where(Recording.created_at > now() - dt.timedelta(days=1))
        )
        if (transaction.scalar(today) or 0) >= CLIPS_A_DAY:
            raise LimitError(f"{CLIPS_A_DAY} clips came in within a day; send the next one tomorrow.")
    blocks = blocks_of(stream)
    head = next(blocks, b"")
    if kind_of(head, name) != "clip":
        raise FileKindError(f"'{name}' is no clip; send a video.", CLIPS)
    sha256 = context.files.put(with_head(head, blocks), most=LARGEST_CLIP)
    with context.database.write() as transaction:
        row, player = check_token(transaction, token)
        row.last_used_at = now()
        session = session_of_day(transaction, player, PracticeDay(day_client_id, held_on))
        same = transaction.scalar(
            select(Recording).where(Recording.session_id == session.id, Recording.sha256 == sha256)
        )
        if same is None:
            # A clip that comes again, because its answer was lost, is nothing new.
            session.is_unread = True
            same = Recording(
                player_id=player.id, session_id=session.id, sha256=sha256, kind="clip", name=name,
                size=context.files.place(sha256).stat().st_size, settings={},
            )  # fmt: skip
            keep(context, transaction, same, analyse=True)
        return recording_views(transaction, [same])[0]
