"""Errors become problem details (RFC 9457) for programs and a page for people; never a traceback."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse
from jinja2 import TemplateNotFound
from pydantic import BaseModel
from starlette.exceptions import HTTPException
from starlette.responses import Response

from pacewright.core import errors

MEDIA_TYPE = "application/problem+json"
_STATUS: dict[type[errors.PacewrightError], tuple[int, str]] = {
    errors.NotFoundError: (404, "not-found"),
    errors.ConflictError: (409, "conflict"),
    errors.ForbiddenError: (403, "forbidden"),
    errors.ConsentError: (403, "consent-missing"),
    errors.LimitError: (413, "limit"),
    errors.FileKindError: (415, "kind-not-taken"),
    errors.RecordError: (409, "record"),
    errors.ReadError: (422, "unreadable"),
    errors.QualityError: (422, "too-little"),
    errors.SimulationError: (422, "no-answer"),
    errors.SettingsError: (422, "makes-no-sense"),
    errors.PacewrightError: (422, "refused"),
}
"""Status and kind of each error; the nearest ancestor counts."""


class Fault(BaseModel):
    """One thing that is wrong with a request."""

    where: str
    what: str


class Problem(BaseModel):
    """What went wrong: ``type`` for programs, ``detail`` in words that say what to do; ``taken`` are the
    kinds of files that are taken where another was sent."""

    type: str
    title: str
    status: int
    detail: str
    errors: list[Fault] = []
    taken: list[str] = []


def problem(
    status: int, kind: str, detail: str, faults: list[dict[str, str]] | None = None,
    headers: Mapping[str, str] | None = None, taken: Sequence[str] = (),
) -> Response:  # fmt: skip
    """A problem as an answer."""
    body: dict[str, Any] = {
        "type": f"urn:pacewright:problem:{kind}", "title": HTTPStatus(status).phrase, "status": status,
        "detail": detail,
    }  # fmt: skip
    if faults:
        body["errors"] = faults
    if taken:
        body["taken"] = list(taken)
    return Response(json.dumps(body, ensure_ascii=False), status, dict(headers or {}), MEDIA_TYPE)


def add_handlers(app: FastAPI) -> None:
    """Answer every error in these words."""
    app.add_exception_handler(errors.PacewrightError, _on_purpose)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(RequestValidationError, _invalid)


def status_of(error: errors.PacewrightError) -> tuple[int, str]:
    """Status and kind of an error."""
    return next(_STATUS[one] for one in type(error).__mro__ if one in _STATUS)


def answer(
    request: Request, status: int, kind: str, detail: str, faults: list[dict[str, str]] | None = None,
    headers: Mapping[str, str] | None = None, taken: Sequence[str] = (),
) -> Response:  # fmt: skip
    """A problem for a program, or a page that says the same."""
    wants_page = "text/html" in request.headers.get("accept", "") and not request.url.path.startswith("/api/")
    if not wants_page:
        return problem(status, kind, detail, faults, headers, taken)
    from pacewright.web.templating import render

    try:
        page = render(request, "error.html", status, status=status, detail=detail)
    except TemplateNotFound:
        page = HTMLResponse(f"<!doctype html><title>{status}</title><p>{HTTPStatus(status).phrase}.", status)
    page.headers.update(dict(headers or {}))
    return page


def _on_purpose(request: Request, error: Exception) -> Response:
    assert isinstance(error, errors.PacewrightError)
    status, kind = status_of(error)
    if status == 409 and "if-match" in request.headers:
        status, kind = 412, "changed-meanwhile"
    taken = error.taken if isinstance(error, errors.FileKindError) else ()
    return answer(request, status, kind, str(error), taken=taken)


def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    detail = str(error.detail) or HTTPStatus(error.status_code).phrase
    return answer(request, error.status_code, f"http-{error.status_code}", detail, headers=error.headers)


def _invalid(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    # What was sent is not repeated: it may be long, and it may be a password.
    faults = [
        {"where": ".".join(str(part) for part in one["loc"])[:200], "what": str(one["msg"])[:300]}
        for one in error.errors()[:20]
    ]
    detail = (
        "; ".join(f"{fault['where']}: {fault['what']}" for fault in faults[:3])
        or "The request is not as it should be."
    )
    return answer(request, 422, "invalid", detail, faults)


def defect(request: Request) -> Response:
    """The answer when something broke off that nobody foresaw; what it was goes to the log alone."""
    return answer(request, 500, "defect", "Something broke off here; this is a defect of Pacewright.")
