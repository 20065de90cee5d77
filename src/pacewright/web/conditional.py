"""Entity tags: an answer that the browser has already is not sent again, and an edit says what it has seen.

A tag is ``"VERSION.HASH"`` (``".HASH"`` for what has no version): the hash of the content for If-None-Match,
the version of the record for If-Match.
"""

from __future__ import annotations

import hashlib
import re

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

_TAG = re.compile(r'^(?:W/)?"(\d{1,9})(?:\.[0-9a-f]*)?"$')


class Conditional:
    """The ASGI application that tags JSON and pages, and answers 304 where the tag is known."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Tag the answer to a GET; others pass."""
        if scope["type"] != "http" or scope["method"] not in ("GET", "HEAD", "POST", "PATCH", "PUT"):
            await self._app(scope, receive, send)
            return
        known = Headers(scope=scope).get("if-none-match", "") if scope["method"] in ("GET", "HEAD") else ""
        start: Message | None = None

        async def send_tagged(message: Message) -> None:
            nonlocal start
            if message["type"] == "http.response.start" and _may_be_tagged(message):
                start = message
                return
            if start is None:
                await send(message)
                return
            first, start = start, None
            if not message.get("more_body", False):
                message = _tag(first, message, known)
            await send(first)
            await send(message)

        await self._app(scope, receive, send_tagged)


def wanted_version(if_match: str | None) -> int | None:
    """The version that an edit has seen; None for ``*``, whatever it is.

    Raises HTTPException: 428 without If-Match, 412 for a tag that no record here has.
    """
    if if_match is None:
        raise HTTPException(428, "Say in If-Match which version you have seen (its ETag), or * for any.")
    if if_match.strip() == "*":
        return None
    found = _TAG.match(if_match.strip())
    if found is None:
        raise HTTPException(412, "That version is not the newest; look at it again, then change it.")
    return int(found[1])


def _may_be_tagged(start: Message) -> bool:
    kind = Headers(raw=start["headers"]).get("content-type", "")
    return start["status"] in (200, 201) and kind.startswith(("application/json", "text/html"))


def _tag(start: Message, body: Message, known: str) -> Message:
    """Set the tag; turn the answer into 304 when it is known. Returns what is sent after the start."""
    headers = MutableHeaders(scope=start)
    mark = hashlib.blake2b(body.get("body", b""), digest_size=8).hexdigest()
    tag = f'"{headers.get("etag", "").strip(chr(34))}.{mark}"'
    headers["etag"] = tag
    if known and tag in {one.strip().removeprefix("W/") for one in known.split(",")}:
        start["status"] = 304
        del headers["content-length"]
        return {"type": "http.response.body", "body": b"", "more_body": False}
    return body
