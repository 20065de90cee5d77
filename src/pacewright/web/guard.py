"""Everything that every request has to pass before a page or the API sees it, in one place.

In this order: the name of the server, what the request may carry and how much, where it comes from, who
asks, and whether a change bears the mark that only our own pages know. What is not public wants somebody who
may come in; a route cannot forget to ask.
"""

from __future__ import annotations

import hmac
import logging
import re
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from urllib.parse import quote

from fastapi.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from pacewright.web.access import Doorkeeper, Visitor
from pacewright.web.problems import defect, problem
from pacewright.web.settings import LARGEST_BODY, LARGEST_FORM_UPLOAD, LARGEST_PACKAGE

log = logging.getLogger("pacewright.web")
TOO_MUCH = "That is more than is taken here; send recordings in pieces."
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
PUBLIC = re.compile(
    r"^/(?:static/.*|fonts/.*|login|p/.*|favicon\.ico|certificate|api/v1/(?:health|login|openapi\.json))$"
)
"""Needs nobody: what a stranger may see (files of the pages, the log-in), and players' links, which check
their token themselves."""
PLAYER_MAY_CHANGE = re.compile(r"^/api/v1/(?:login|me/password)$")
CONTENT_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "media-src 'self' blob:; font-src 'self'; connect-src 'self'; worker-src 'self'; manifest-src 'self'; "
    "frame-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
_HEADERS = {
    "content-security-policy": CONTENT_POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "permissions-policy": (
        "camera=(self), microphone=(self), screen-wake-lock=(self), fullscreen=(self), autoplay=(self), "
        "geolocation=(), payment=(), usb=(), serial=(), midi=(), display-capture=()"
    ),
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "private, no-cache",
}
_ROOM: tuple[tuple[re.Pattern[str], int], ...] = (
    (re.compile(r"^/api/v1/uploads/[^/]+$"), (16 << 20) + 1),
    (re.compile(r"^/api/v1/sessions/[^/]+/recordings$"), LARGEST_FORM_UPLOAD),
    (re.compile(r"^/p/[^/]+/clips$"), LARGEST_FORM_UPLOAD),
    (re.compile(r"^/api/v1/players/import$"), LARGEST_PACKAGE),
)


@dataclass(frozen=True, slots=True)
class Guard:
    """The ASGI application around all others."""

    app: ASGIApp
    doorkeeper: Doorkeeper

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it."""
        if scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008})
            return
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)

        started = False

        async def send_guarded(message: Message) -> None:
            nonlocal started
            started = True
            if message["type"] == "http.response.start":
                sent = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    sent.setdefault(name, value)
            await send(message)

        refusal = self._refusal(scope, headers) or await self._identify(scope, headers)
        if refusal is not None:
            await refusal(scope, receive, send_guarded)
            return
        try:
            await self.app(scope, _limited(receive, _room(scope["path"])), send_guarded)
        except ClientDisconnect:
            return
        except Exception as error:
            log.error("%s %s broke off", scope["method"], _route(scope), exc_info=error)
            if started:
                raise
            await defect(Request(scope))(scope, receive, send_guarded)

    def _refusal(self, scope: Scope, headers: Headers) -> Response | None:
        """Why the request goes no further, whoever asks."""
        hosts = headers.getlist("host")
        if len(hosts) != 1 or not self.doorkeeper.is_ours(hosts[0]):
            return problem(
                421, "other-host", "This server is not called by that name; use the address it printed."
            )
        if headers.get("content-encoding", "identity") != "identity":
            return problem(415, "packed", "Send the content as it is, not compressed.")
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > _room(scope["path"]):
            return problem(413, "limit", TOO_MUCH)
        if not _same_origin(scope, headers):
            return problem(
                403, "other-origin", "The request comes from another place than this server's pages."
            )
        return None

    async def _identify(self, scope: Scope, headers: Headers) -> Response | None:
        """Find out who asks and note it in the request's state; an answer where that is nobody."""
        path: str = scope["path"]
        public = PUBLIC.match(path) is not None and scope["method"] != "DELETE"
        token = _cookie(headers, self.doorkeeper.cookie)
        demands = self.doorkeeper.settings.demands_login
        visitor = None
        if not (public and demands):
            visitor = (
                await run_in_threadpool(self.doorkeeper.admit, token)
                if demands
                else self.doorkeeper.admit(None)
            )
        state = scope.setdefault("state", {})
        if visitor is not None:
            state.update(
                desk=visitor.desk,
                actor=visitor.actor,
                csrf_token=visitor.csrf_token,
                login_token=visitor.login_token,
            )
        if public:
            return None
        if visitor is None:
            return _please_log_in(scope, headers)
        if scope["method"] in SAFE:
            return None
        if visitor.actor.role == "player" and not PLAYER_MAY_CHANGE.match(path):
            return problem(
                403, "forbidden", "A player sees its own records; changing them is the coach's work."
            )
        if _is_browser(headers, token) and not _bears_mark(headers, visitor):
            return problem(
                403, "mark-missing", "The page is too old; load it again. (X-CSRF-Token is missing or wrong.)"
            )
        return None


def _route(scope: Scope) -> str:
    """The pattern of the address, not the address: that may hold a player's link."""
    return getattr(scope.get("route"), "path", "?")


def _please_log_in(scope: Scope, headers: Headers) -> Response:
    path: str = scope["path"]
    if scope["method"] in SAFE and "text/html" in headers.get("accept", "") and not path.startswith("/api/"):
        query = scope.get("query_string", b"").decode("latin-1")
        return RedirectResponse(f"/login?next={quote(path + ('?' + query if query else ''), safe='')}", 303)
    return problem(401, "log-in", "Log in first.")


def _is_browser(headers: Headers, token: str | None) -> bool:
    """Whether the request may have been sent by a browser on behalf of some page: those need the mark."""
    return token is not None or "origin" in headers or "sec-fetch-site" in headers


def _bears_mark(headers: Headers, visitor: Visitor) -> bool:
    return hmac.compare_digest(headers.get("x-csrf-token", "").encode(), visitor.csrf_token.encode())


def _same_origin(scope: Scope, headers: Headers) -> bool:
    """Whether the request comes from our own pages, from a program, or is a plain visit by a link."""
    site = headers.get("sec-fetch-site")
    visits = scope["method"] in SAFE and headers.get("sec-fetch-mode") == "navigate"
    if site not in (None, "same-origin", "none") and not visits:
        return False
    origin = headers.get("origin")
    if origin is None or scope["method"] in SAFE:
        return True
    return origin.casefold() == f"{scope['scheme']}://{headers['host']}".casefold()


def _room(path: str) -> int:
    return next((room for pattern, room in _ROOM if pattern.match(path)), LARGEST_BODY)


def _limited(receive: Receive, room: int) -> Receive:
    """What arrives, up to ``room`` bytes whatever length was announced."""
    taken = 0

    async def limited() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > room:
            raise HTTPException(413, TOO_MUCH)
        return message

    return limited


def _cookie(headers: Headers, name: str) -> str | None:
    try:
        found = SimpleCookie(headers.get("cookie", "")).get(name)
    except CookieError:
        return None
    return None if found is None else found.value
