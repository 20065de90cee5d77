"""Who may log in: accounts with Argon2id, log-ins with random tokens of which only the hash is kept."""

from __future__ import annotations

import datetime as dt
import secrets
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING
from uuid import UUID

from sqlalchemy import delete, func, select

from pacewright.app.desk import convert
from pacewright.app.desk.context import Actor, Context
from pacewright.app.desk.sharing import hash_token
from pacewright.app.desk.views import Role, UserView
from pacewright.core.errors import ConflictError, ForbiddenError, NotFoundError, SettingsError
from pacewright.records.schema import Login, Player, User
from pacewright.records.schema.base import now

if TYPE_CHECKING:
    from argon2 import PasswordHasher

SHORTEST_PASSWORD = 10
LONGEST_PASSWORD = 1000
LIVES_FOR = dt.timedelta(hours=12)
TOUCH_EVERY = dt.timedelta(minutes=5)


@dataclass(frozen=True, slots=True)
class LoggedIn:
    """A log-in: ``token`` goes into the cookie (shown only by `log_in`), ``csrf_token`` into forms."""

    user: UserView
    csrf_token: str
    expires_at: dt.datetime
    token: str = ""

    @property
    def actor(self) -> Actor:
        """For `Desk.acting`."""
        return Actor(self.user.name, self.user.role, self.user.player_id, self.user.id)


class Users:
    """Accounts and log-ins."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def create(self, name: str, password: str, role: Role, *, player_id: UUID | None = None) -> UserView:
        """A new account; ``player_id`` for the role player. Raises ConflictError for a name that is taken,
        SettingsError for a password that is too short."""
        self._context.must_be("coach")
        name = _account_name(name)
        _check_password(password, name)
        if (role == "player") != (player_id is not None):
            raise SettingsError("An account of a player names the player; the others do not.")
        hashed = _hasher().hash(password)
        with self._context.write() as transaction:
            if player_id is not None:
                self._context.get(transaction, Player, player_id, "player")
            if transaction.scalar(select(User.id).where(User.name == name)) is not None:
                raise ConflictError("There is an account of that name already.")
            row = User(name=name, password_hash=hashed, role=role, player_id=player_id)
            transaction.add(row)
            transaction.flush()
            self._context.log(transaction, "create", "user", row.id, player_id, role=role)
            return convert.user(row)

    def list(self) -> tuple[UserView, ...]:
        """All accounts by name."""
        self._context.must_be("coach")
        with self._context.read() as transaction:
            return tuple(convert.user(row) for row in transaction.scalars(select(User).order_by(User.name)))

    def are_there_any(self) -> bool:
        """Whether there is an account of a coach: without one nobody can log in from outside."""
        with self._context.read() as transaction:
            statement = select(func.count()).select_from(User).where(User.role == "coach", User.is_active)
            return bool(transaction.scalar(statement))

    def set_password(self, user_id: UUID, password: str) -> UserView:
        """Change a password (one's own, or any for the coach) and end every log-in of that account."""
        if self._context.actor.user_id != user_id:
            self._context.must_be("coach")
        with self._context.database.write() as transaction:
            row = transaction.get(User, user_id)
            if row is None:
                raise NotFoundError("There is no such account.")
            _check_password(password, row.name)
            row.password_hash = _hasher().hash(password)
            transaction.execute(delete(Login).where(Login.user_id == user_id))
            self._context.log(transaction, "password", "user", user_id, row.player_id)
            return convert.user(row)

    def set_active(self, user_id: UUID, is_active: bool) -> UserView:
        """Let an account in or not; its log-ins end. Raises ConflictError for the last coach."""
        self._context.must_be("coach")
        with self._context.write() as transaction:
            row = transaction.get(User, user_id)
            if row is None:
                raise NotFoundError("There is no such account.")
            others = select(func.count()).where(User.role == "coach", User.is_active, User.id != user_id)
            if row.role == "coach" and not is_active and not transaction.scalar(others):
                raise ConflictError("This is the last coach who can log in; make another account first.")
            row.is_active = is_active
            transaction.execute(delete(Login).where(Login.user_id == user_id))
            self._context.log(
                transaction, "active" if is_active else "inactive", "user", user_id, row.player_id
            )
            return convert.user(row)

    def log_in(self, name: str, password: str) -> LoggedIn:
        """Log in. Raises ForbiddenError in the same words, after the same work, whatever was wrong.

        How often somebody may try is the business of the web.
        """
        with self._context.read() as transaction:
            row = transaction.scalar(select(User).where(User.name == _plain(name)))
        hashed = row.password_hash if row is not None else _hash_of_nobody()
        fits = _fits(hashed, password)
        if not fits or row is None or not row.is_active:
            raise ForbiddenError("Name and password do not belong together.")
        token = secrets.token_urlsafe(32)
        moment = now()
        with self._context.database.write() as transaction:
            user = transaction.get(User, row.id)
            assert user is not None
            if _hasher().check_needs_rehash(user.password_hash):
                user.password_hash = _hasher().hash(password)
            transaction.execute(delete(Login).where(Login.expires_at < moment))
            login = Login(
                user_id=user.id, token_hash=hash_token(token), csrf_token=secrets.token_urlsafe(24),
                last_seen_at=moment, expires_at=moment + LIVES_FOR,
            )  # fmt: skip
            transaction.add(login)
            self._context.log(transaction, "log_in", "user", user.id, user.player_id)
            return LoggedIn(convert.user(user), login.csrf_token, login.expires_at, token)

    def logged_in(self, token: str) -> LoggedIn | None:
        """Whose token that is; None when it does not hold. Being used keeps it alive."""
        statement = select(Login, User).join(User).where(Login.token_hash == hash_token(token[:200]))
        moment = now()
        with self._context.read() as transaction:
            found = transaction.execute(statement).one_or_none()
        if found is None or found[0].expires_at <= moment or not found[1].is_active:
            return None
        login, user = found
        if moment - login.last_seen_at > TOUCH_EVERY:
            with self._context.database.write() as transaction:
                kept = transaction.get(Login, login.id)
                if kept is not None:
                    kept.last_seen_at, kept.expires_at = moment, moment + LIVES_FOR
        return LoggedIn(convert.user(user), login.csrf_token, login.expires_at)

    def log_out(self, token: str) -> None:
        """End a log-in."""
        with self._context.database.write() as transaction:
            transaction.execute(delete(Login).where(Login.token_hash == hash_token(token[:200])))


@cache
def _hasher() -> PasswordHasher:
    from argon2 import PasswordHasher

    return PasswordHasher()


@cache
def _hash_of_nobody() -> str:
    """Compared against when there is no such name, so that the answer takes as long."""
    return _hasher().hash(secrets.token_urlsafe(16))


def _fits(hashed: str, password: str) -> bool:
    from argon2.exceptions import InvalidHashError, VerificationError

    if len(password) > LONGEST_PASSWORD:
        return False
    try:
        return _hasher().verify(hashed, password)
    except (VerificationError, InvalidHashError):
        return False


def _plain(name: str) -> str:
    return " ".join(name.split()).casefold()[:120]


def _account_name(name: str) -> str:
    plain = _plain(name)
    if not plain or not plain.isprintable():
        raise SettingsError("The name of an account is not empty.")
    return plain


def _check_password(password: str, name: str) -> None:
    if not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        raise SettingsError(f"A password has {SHORTEST_PASSWORD} characters or more.")
    if password.casefold() == name or len(set(password)) < 4:
        raise SettingsError("That password is too easy to guess; use a few words.")
