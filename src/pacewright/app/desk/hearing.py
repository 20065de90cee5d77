"""The job "analyse a recording" where the recording is sound: its contacts and beats are the result."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session as Transaction

from pacewright.app.desk.analysis import own_name, pacewright_version, standing_recording, supersede
from pacewright.app.desk.context import Context, alive
from pacewright.app.listening import Heard, heard_dict, listen
from pacewright.app.sound_files import is_sound_alone
from pacewright.core.errors import NotFoundError
from pacewright.records import schema

METHOD = "listen"


def sound_of(context: Context, recording_id: UUID) -> schema.Recording | None:
    """The recording if there is nothing but sound in it, else None: a browser puts sound into the file of a
    clip too. Raises NotFoundError when it was deleted."""
    with context.database.read() as transaction:
        row = transaction.get(schema.Recording, recording_id)
    if row is None or row.deleted_step is not None:
        raise NotFoundError("The recording was deleted.")
    is_sound = row.kind == "sound" or (row.kind == "clip" and is_sound_alone(context.files.place(row.sha256)))
    return row if is_sound else None


def hear(context: Context, recording: schema.Recording) -> Heard:
    """Contacts and beats of a stored recording. Raises ReadError where there is no sound to hear."""
    with own_name(context, recording) as path:
        return listen(path)


def write_heard(transaction: Transaction, recording_id: UUID, heard: Heard) -> schema.Analysis:
    """Write what was heard, in place of the current analysis, which is kept.

    Raises NotFoundError when the recording was deleted meanwhile.
    """
    row = standing_recording(transaction, recording_id)
    row.kind = "sound"
    analysis = schema.Analysis(
        player_id=row.player_id, session_id=row.session_id, recording_id=row.id, method=METHOD,
        pacewright_version=pacewright_version(), settings=dict(row.settings),
        result=heard_dict(heard) | {"source": Path(heard.source).name}, about=_about(heard),
    )  # fmt: skip
    transaction.add(analysis)
    transaction.flush()
    supersede(transaction, row.id, analysis.id)
    return analysis


def heard_in_session(transaction: Transaction, session_id: UUID) -> dict[UUID, Mapping[str, Any]]:
    """What was heard in the sounds of a session (in the words of ``listen --json``) by recording."""
    rows = transaction.execute(
        select(schema.Analysis.recording_id, schema.Analysis.result)
        .where(schema.Analysis.session_id == session_id, schema.Analysis.method == METHOD)
        .where(schema.Analysis.superseded_by.is_(None), alive(schema.Analysis))
    )
    return {row.recording_id: row.result for row in rows}


def _about(heard: Heard) -> str:
    count = len(heard.contacts)
    contacts = "1 contact" if count == 1 else f"{count} contacts"
    beat = "" if heard.beats_per_minute is None else f", {heard.beats_per_minute:.1f} beats a minute"
    return f"{Path(heard.source).name}: {contacts} heard in {heard.duration_s:.1f} s{beat}"
