"""Templates become pages; names and notes are escaped, always."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from pathlib import Path
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined

HERE = Path(__file__).parent
STATIC = HERE / "static"


def environment() -> Environment:
    """The environment of all templates."""
    made = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        auto_reload=False,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.i18n", "jinja2.ext.do"],
    )
    made.globals["asset"] = asset
    return made


def render(request: Request, name: str, status_code: int = 200, **values: Any) -> HTMLResponse:
    """The page that a template makes of ``values``."""
    state = request.state
    template = request.app.state.templates.get_template(name)
    page = template.render(
        request=request,
        actor=getattr(state, "actor", None),
        csrf_token=getattr(state, "csrf_token", ""),
        is_local=not request.app.state.settings.demands_login,
        **values,
    )
    return HTMLResponse(page, status_code)


def asset(path: str) -> str:
    """The address of a file of `web/static`, with a mark of its content: browsers may keep it for ever.

    Raises FileNotFoundError: a page does not point to what is not there.
    """
    file = STATIC / path
    return f"/static/{path}?v={_mark(file, file.stat().st_mtime_ns)}"


@lru_cache(maxsize=512)
def _mark(file: Path, _changed: int) -> str:
    return hashlib.sha256(file.read_bytes()).hexdigest()[:12]
