"""What a player's page sends (docs/contracts/practice.md): over a link, or as a file or code."""

from __future__ import annotations

import base64
import binascii
import json
import zlib
from typing import Annotated, Literal
from uuid import UUID

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, ValidationError
from starlette.exceptions import HTTPException

from pacewright.app.desk.desk import Desk
from pacewright.app.desk.practice_results import PageEnd, PagePutt, PageResults
from pacewright.core.errors import PacewrightError
from pacewright.core.outcome import Outcome
from pacewright.web.api.common import Body

MOST_ITEMS = 2000
CODE = "PW1."
LARGEST_CODE = 4 << 20
"""Bytes that a code unpacks to, at most."""
ItemId = Annotated[str, Field(min_length=1, max_length=80)]


class Refused(BaseModel):
    """An item that was not taken, and why."""

    id: str
    why: str


class Acknowledged(BaseModel):
    """``accepted`` are the ids that are safe now, those that were there before among them."""

    accepted: list[str]
    refused: list[Refused]


class _Item(Body):
    """Anything that the page noted; kinds that are not known here are acknowledged and left."""

    model_config = ConfigDict(extra="allow", str_max_length=2000)
    id: ItemId
    kind: Annotated[str, Field(max_length=40)]


class _Putt(Body):
    model_config = ConfigDict(extra="ignore", allow_inf_nan=False)
    id: ItemId
    at: AwareDatetime
    run: ItemId
    session_kind: Literal["first test", "practice", "retention test"] = "practice"
    block_title: Annotated[str, Field(max_length=400)] = ""
    asked_m: float
    finish_along_m: float | None = None
    finish_across_m: float | None = None
    finish_along_sd_m: float | None = None
    holed: bool = False
    guess_along_m: float | None = None
    beats_per_minute: float | None = None
    contact_error_s: float | None = None


class _End(Body):
    model_config = ConfigDict(extra="ignore")
    id: ItemId
    at: AwareDatetime
    run: ItemId
    session: Annotated[int, Field(ge=0, le=1000)]
    putts: Annotated[int, Field(ge=0, le=10_000)] = 0


class _Undo(Body):
    model_config = ConfigDict(extra="ignore")
    id: ItemId
    of: ItemId


class Results(Body):
    """One sending of the page."""

    schema_name: Annotated[str, Field(alias="schema", max_length=60)]
    plan_id: UUID
    items: Annotated[list[_Item], Field(max_length=MOST_ITEMS)]


def take_in(desk: Desk, sender: str | UUID, body: Results) -> Acknowledged:
    """Take in a sending from a link (its token) or from the desk (the player). Again changes nothing."""
    told, refused = _sorted(body)
    received = desk.sharing.receive(sender, told)
    refused += [Refused(id=name, why=why) for name, why in received.refused]
    bad = {one.id for one in refused}
    # What is to be taken back is named by its putt, not by its own id.
    bad |= {item.id for item in body.items if item.kind == "undo" and getattr(item, "of", None) in bad}
    return Acknowledged(accepted=[item.id for item in body.items if item.id not in bad], refused=refused)


def results_of(data: bytes) -> Results:
    """The results in a file that the page saved, or in the code that it gave. Raises HTTPException."""
    try:
        text = data.decode("utf-8").strip()
        return Results.model_validate(json.loads(_unpacked(text) if text.startswith(CODE) else text))
    except (ValueError, RecursionError, binascii.Error, zlib.error):
        raise HTTPException(
            422, "These are no results of a player's page; send the file or the code whole."
        ) from None


def _unpacked(code: str) -> bytes:
    packed = code.removeprefix(CODE)
    unpacking = zlib.decompressobj(wbits=31)
    body = unpacking.decompress(base64.urlsafe_b64decode(packed + "=" * (-len(packed) % 4)), LARGEST_CODE)
    if not unpacking.eof:
        raise ValueError("cut off, or too large")
    return body


def _sorted(body: Results) -> tuple[PageResults, list[Refused]]:
    """The items by kind, and those that make no sense with the reason."""
    putts, ends, gone, refused = [], [], [], []
    for item in body.items:
        raw = item.model_dump()
        try:
            if item.kind == "putt":
                putts.append(_putt(_Putt.model_validate(raw)))
            elif item.kind == "session-end":
                end = _End.model_validate(raw)
                ends.append(PageEnd(end.id, end.at, end.run, end.session, end.putts))
            elif item.kind == "undo":
                gone.append(_Undo.model_validate(raw).of)
        except ValidationError as error:
            refused.append(Refused(id=item.id, why=str(error.errors()[0]["msg"])[:200]))
        except PacewrightError as error:
            refused.append(Refused(id=item.id, why=str(error)[:200]))
    return PageResults(body.plan_id, tuple(putts), tuple(ends), tuple(gone)), refused


def _putt(sent: _Putt) -> PagePutt:
    finish = Outcome(sent.finish_along_m, sent.finish_across_m, sent.holed, sent.finish_along_sd_m or 0.0)
    return PagePutt(
        sent.id, sent.at, sent.run, sent.session_kind, sent.asked_m, finish, sent.guess_along_m,
        sent.block_title[:60], sent.beats_per_minute, sent.contact_error_s,
    )  # fmt: skip
