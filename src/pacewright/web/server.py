"""The web server of the desk: pages, API and players' pages in one application."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI
from fastapi.concurrency import run_in_threadpool
from fastapi.telemetry import TelemetryConfig
from starlette.middleware.gzip import GZipMiddleware

from pacewright.app.desk.desk import Desk
from pacewright.web import api, pages, practice, reach
from pacewright.web.access import Doorkeeper
from pacewright.web.conditional import Conditional
from pacewright.web.guard import Guard
from pacewright.web.limits import Failures
from pacewright.web.listeners import WakeListeners
from pacewright.web.problems import add_handlers
from pacewright.web.settings import ServerSettings
from pacewright.web.static_files import CompressedStatic
from pacewright.web.templating import STATIC, environment

TITLE = "Pacewright"
ABOUT = """The coach's desk over HTTP. Units stand in the names: metres, seconds, radians.
Errors are problem details (RFC 9457). Lists come in pages: give `next` of one as `after` of the following."""

SILENT: TelemetryConfig = {"tracing": False, "metrics": False, "logs": False, "auto_configure": False}
"""Nothing about anybody's requests leaves the desk, whatever the environment asks for."""


def create_app(desk: Desk, settings: ServerSettings | None = None) -> FastAPI:
    """The application over a desk that is open; whoever opened the desk closes it.

    With ``settings.workers`` above 0 worker processes run from start to end of the application.
    """
    settings = settings or ServerSettings()
    app = FastAPI(
        title=TITLE, description=ABOUT, version="1", openapi_url="/api/v1/openapi.json", docs_url=None,
        redoc_url=None, telemetry=SILENT, lifespan=_lifespan, separate_input_output_schemas=False,
    )  # fmt: skip
    app.state.desk, app.state.settings = desk, settings
    app.state.templates = environment()
    app.state.doorkeeper = Doorkeeper(desk, settings)
    app.state.stopping = asyncio.Event()
    app.state.listening = set()
    app.state.failed_by_sender = Failures(10, 300.0)
    app.state.failed_by_account = Failures(30, 900.0)
    app.state.failed_links = Failures(20, 300.0)
    app.state.hashing = threading.BoundedSemaphore(2)
    add_handlers(app)
    app.include_router(api.router)
    app.include_router(reach.router)
    app.include_router(practice.router)
    app.include_router(pages.router)
    app.mount("/static", CompressedStatic(directory=STATIC), name="static")
    # The last one added meets a request first.
    app.add_middleware(Conditional)
    app.add_middleware(WakeListeners, listeners=app.state.listening)
    app.add_middleware(GZipMiddleware, minimum_size=1000, compresslevel=5)
    app.add_middleware(Guard, doorkeeper=app.state.doorkeeper)
    return app


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    settings: ServerSettings = app.state.settings
    workers = app.state.desk.workers(settings.workers) if settings.workers else None
    if workers is not None:
        await run_in_threadpool(workers.start)
    try:
        yield
    finally:
        app.state.stopping.set()
        if workers is not None:
            await run_in_threadpool(workers.stop)
