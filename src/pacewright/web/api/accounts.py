"""Log-ins and accounts."""

from __future__ import annotations

import datetime as dt
from typing import Annotated
from uuid import UUID

from fastapi import Request, Response
from pydantic import BaseModel, Field

from pacewright.app.desk.users import LoggedIn
from pacewright.app.desk.views import Role, UserView
from pacewright.core.errors import ForbiddenError
from pacewright.web.access import Doorkeeper
from pacewright.web.api.common import Body, DeskDep, part
from pacewright.web.limits import sender

router = part("accounts")
Password = Annotated[str, Field(min_length=1, max_length=1000)]


class Credentials(Body):
    """Name and password of an account."""

    name: Annotated[str, Field(min_length=1, max_length=120)]
    password: Password


class Me(BaseModel):
    """Who asks. Changes that come from a browser bear ``csrf_token`` in X-CSRF-Token."""

    name: str
    role: Role
    player_id: UUID | None
    csrf_token: str
    is_local: bool
    expires_at: dt.datetime | None = None


class NewUser(Body):
    """A new account; one of a player names the player."""

    name: Annotated[str, Field(min_length=1, max_length=120)]
    password: Password
    role: Role
    player_id: UUID | None = None


class NewPassword(Body):
    """A new password."""

    password: Password


class OwnPassword(NewPassword):
    """A new password for oneself, with the old one."""

    old_password: Password


class Active(Body):
    """Whether an account is let in."""

    is_active: bool


@router.post("/login")
def log_in(request: Request, body: Credentials, response: Response) -> Me:
    """Log in; the answer sets the cookie. Whoever was wrong too often waits (429)."""
    state = request.app.state
    found = guarded_log_in(request, body.name, body.password)
    keeper: Doorkeeper = state.doorkeeper
    response.set_cookie(
        keeper.cookie, found.token, max_age=12 * 3600, path="/", secure=keeper.settings.secure_cookies,
        httponly=True, samesite="lax",
    )  # fmt: skip
    response.headers["cache-control"] = "no-store"
    user = found.user
    return Me(
        name=user.name, role=user.role, player_id=user.player_id, csrf_token=found.csrf_token, is_local=False,
        expires_at=found.expires_at,
    )  # fmt: skip


@router.delete("/login", status_code=204)
def log_out(request: Request, desk: DeskDep, response: Response) -> None:
    """Log out: the log-in ends here and everywhere it was copied to."""
    token = request.state.login_token
    if token:
        desk.users.log_out(token)
    keeper: Doorkeeper = request.app.state.doorkeeper
    response.delete_cookie(
        keeper.cookie, path="/", secure=keeper.settings.secure_cookies, httponly=True, samesite="lax"
    )
    response.headers["clear-site-data"] = '"cache", "storage"'


@router.get("/me")
async def me(request: Request, desk: DeskDep) -> Me:
    """Who asks."""
    actor = desk.actor
    return Me(
        name=actor.name, role=actor.role, player_id=actor.player_id, csrf_token=request.state.csrf_token,
        is_local=not request.app.state.settings.demands_login,
    )  # fmt: skip


@router.put("/me/password", status_code=204)
def change_own_password(request: Request, desk: DeskDep, body: OwnPassword) -> None:
    """Change one's own password, which ends all of one's log-ins."""
    actor = desk.actor
    if actor.user_id is None:
        raise ForbiddenError("Whoever sits at the desk itself has no password; change those of accounts.")
    guarded_log_in(request, actor.name, body.old_password)
    desk.users.set_password(actor.user_id, body.password)


@router.get("/users")
def list_users(desk: DeskDep) -> list[UserView]:
    """All accounts; for the coach."""
    return list(desk.users.list())


@router.post("/users", status_code=201)
def create_user(desk: DeskDep, body: NewUser) -> UserView:
    """A new account; for the coach."""
    return desk.users.create(body.name, body.password, body.role, player_id=body.player_id)


@router.put("/users/{user_id}/password")
def set_password(desk: DeskDep, user_id: UUID, body: NewPassword) -> UserView:
    """Set the password of an account, which ends its log-ins; for the coach."""
    if desk.actor.role != "coach":
        raise ForbiddenError("This is for the coach alone.")
    return desk.users.set_password(user_id, body.password)


@router.put("/users/{user_id}/active")
def set_active(desk: DeskDep, user_id: UUID, body: Active) -> UserView:
    """Let an account in, or not; for the coach."""
    return desk.users.set_active(user_id, body.is_active)


def guarded_log_in(request: Request, name: str, password: str) -> LoggedIn:
    """Log in, unless the sender or the account was wrong too often.

    Raises ForbiddenError, HTTPException 429.
    """
    state = request.app.state
    keys = (sender(request), f"account {name.casefold()[:120]}")
    counters = (state.failed_by_sender, state.failed_by_account)
    for counter, key in zip(counters, keys, strict=True):
        counter.check(key)
    try:
        # A few at a time: a password takes much memory on purpose.
        with state.hashing:
            found: LoggedIn = state.desk.users.log_in(name, password)
    except ForbiddenError:
        for counter, key in zip(counters, keys, strict=True):
            counter.note(key)
        raise
    for counter, key in zip(counters, keys, strict=True):
        counter.forgive(key)
    return found
