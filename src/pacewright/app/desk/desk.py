"""The coach's desk: one object with a family of use cases for each thing a coach works with."""

from __future__ import annotations

import os
from contextlib import AbstractContextManager
from pathlib import Path
from types import TracebackType
from uuid import UUID

from sqlalchemy.exc import OperationalError

from pacewright.app.desk.consents import Consents
from pacewright.app.desk.context import OWNER, Actor, Context
from pacewright.app.desk.equipment import Greens, Putters
from pacewright.app.desk.jobs import Jobs
from pacewright.app.desk.players import Players
from pacewright.app.desk.practice import Plans, Stations
from pacewright.app.desk.privacy import Backups, Privacy
from pacewright.app.desk.putts import Putts
from pacewright.app.desk.reports import Reports
from pacewright.app.desk.sessions import Sessions
from pacewright.app.desk.sharing import Sharing
from pacewright.app.desk.story import Story
from pacewright.app.desk.strokes import Strokes
from pacewright.app.desk.undoing import Journal, Settings, Undo
from pacewright.app.desk.uploads import Recordings, Uploads, tidy
from pacewright.app.desk.users import Users
from pacewright.app.desk.workers import Workers, work_once
from pacewright.core.errors import SettingsError
from pacewright.records.engine import Database
from pacewright.records.files import FileStore
from pacewright.records.migrate import upgrade


class Desk:
    """Everything that is stored and what can be done with it. Safe to use from several threads.

    The families: ``players``, ``consents``, ``putters``, ``greens``, ``sessions``, ``uploads``,
    ``recordings``,
    ``strokes``, ``putts``, ``stations``, ``plans``, ``story``, ``reports``, ``sharing``, ``users``, ``jobs``,
    ``undo``, ``journal``, ``settings``, ``privacy``, ``backups``. `open` works as whoever sits at the
    machine;
    a web request works through `acting`, which sees and does only what that actor may.
    """

    def __init__(self, context: Context) -> None:
        self._context = context
        self.players = Players(context)
        self.consents = Consents(context)
        self.putters = Putters(context)
        self.greens = Greens(context)
        self.sessions = Sessions(context)
        self.uploads = Uploads(context)
        self.recordings = Recordings(context)
        self.strokes = Strokes(context)
        self.putts = Putts(context)
        self.stations = Stations(context)
        self.plans = Plans(context)
        self.story = Story(context)
        self.sharing = Sharing(context)
        self.users = Users(context)
        self.jobs = Jobs(context)
        self.reports = Reports(context)
        self.undo = Undo(context)
        self.journal = Journal(context)
        self.settings = Settings(context)
        self.privacy = Privacy(context)
        self.backups = Backups(context)

    @staticmethod
    def open(data_dir: str | Path, database_url: str | None = None) -> Desk:
        """Open the desk of a data folder and bring its database up to date; a new folder is made.

        ``database_url`` names a PostgreSQL database; None is a file of SQLite in the folder. Raises
        SettingsError for a folder or an address that does not work, RecordError for a database that a newer
        version has made.
        """
        folder = Path(data_dir)
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            files = FileStore(folder)
        except OSError as error:
            raise SettingsError(f"'{folder}' cannot be used as data folder: {error.strerror}.") from None
        if not os.access(folder, os.W_OK):
            raise SettingsError(f"'{folder}' cannot be used as data folder: it may not be written to.")
        database = Database(database_url, folder)
        try:
            upgrade(database)
        except OperationalError as error:
            database.close()
            reason = str(error.orig).strip().splitlines()[0]
            raise SettingsError(f"The database cannot be opened: {reason}") from None
        return Desk(Context(database, files, folder))

    @property
    def actor(self) -> Actor:
        """Who is asking."""
        return self._context.actor

    @property
    def data_dir(self) -> Path:
        """The folder with the recordings and, unless PostgreSQL has it, the database."""
        return self._context.data_dir

    def acting(self, actor: Actor) -> Desk:
        """The same desk for somebody else: what the actor may not see is not found, what it may not do is
        forbidden."""
        context = self._context
        return Desk(Context(context.database, context.files, context.data_dir, actor, context.memory))

    def at_once(self) -> AbstractContextManager[None]:
        """Whatever is read within, in this thread, goes in one transaction; see `Database.at_once`."""
        return self._context.database.at_once()

    def workers(self, count: int = 1) -> Workers:
        """Worker processes for the jobs; `start` and `stop` them with the server."""
        return Workers(self._context, count)

    def work_once(self) -> UUID | None:
        """Do the oldest waiting job here and now; its id, or None when none waits."""
        return work_once(self._context)

    def tidy(self) -> int:
        """Remove what stopped processes left in the folder of uploads, and uploads nobody went on with for a
        week; returns how many files went. For the server, when it starts."""
        return tidy(self._context)

    def close(self) -> None:
        """Close the database."""
        self._context.database.close()

    def __enter__(self) -> Desk:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


__all__ = ["OWNER", "Actor", "Desk"]
