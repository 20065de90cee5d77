"""The pages of the desk. `router` is mounted at the root of the server.

A page takes the desk as `DeskDep` of `web.access`: it sees what whoever asks may see. `web.templating.render`
fills a template of `web/templates`; every template has ``actor``, ``csrf_token``, ``is_local`` (no log-in at
this desk) and ``asset(path)`` (address of a file of `web/static`, to be kept for ever).
"""

from __future__ import annotations

from fastapi import APIRouter

router = APIRouter(include_in_schema=False)
