"""Bytes on their way in and out: bodies that go to disk, files to download or to play."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path, PurePath
from typing import Any

import python_multipart  # noqa: F401 - reads the forms, asked for by name only once one arrives
from fastapi import Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import FileResponse
from starlette.background import BackgroundTask
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.responses import Response

from pacewright.app.desk.views import RecordingView

PLAYED = {
    ".mp4": "video/mp4", ".m4v": "video/mp4", ".mov": "video/quicktime", ".webm": "video/webm",
    ".avi": "video/x-msvideo", ".mkv": "video/x-matroska", ".wav": "audio/wav", ".flac": "audio/flac",
    ".ogg": "audio/ogg",
}  # fmt: skip
"""What a browser plays, by the ending of its name; everything else is downloaded."""
SHUT = "sandbox; default-src 'none'"
"""Content policy of files that people sent: nothing in them runs or loads."""


def attachment(data: bytes, media_type: str, name: str) -> Response:
    """Bytes to download under a name of ours."""
    headers = {"content-disposition": f'attachment; filename="{name}"', "content-security-policy": SHUT}
    return Response(data, media_type=media_type, headers=headers)


def recorded(path: Path, view: RecordingView) -> FileResponse:
    """A recording to be played, in ranges, or downloaded under its own name."""
    ending = PurePath(view.name).suffix.lower()
    media_type = PLAYED.get(ending) if view.kind in ("clip", "sound") else None
    return FileResponse(
        path,
        media_type=media_type or "application/octet-stream",
        filename=view.name,
        content_disposition_type="inline" if media_type else "attachment",
        headers={
            "content-security-policy": SHUT,
            "etag": f'"{view.sha256}"',
            "cache-control": "private, max-age=86400",
        },
    )


def file_once(path: Path, name: str, media_type: str = "application/zip") -> FileResponse:
    """A file to download that goes away afterwards."""
    return FileResponse(
        path, media_type=media_type, filename=name, background=BackgroundTask(path.unlink, missing_ok=True)
    )


def temporary(folder: Path, ending: str) -> Path:
    """The path of a new file that nobody else can read."""
    folder.mkdir(parents=True, exist_ok=True)
    descriptor, name = tempfile.mkstemp(suffix=ending, prefix="web-", dir=folder)
    os.close(descriptor)
    return Path(name)


@asynccontextmanager
async def body_on_disk(request: Request, folder: Path, ending: str) -> AsyncIterator[Path]:
    """The body of a request in a file that goes away afterwards: never whole in memory."""
    path = temporary(folder, ending)
    try:
        with path.open("wb") as stream:
            async for block in request.stream():
                await run_in_threadpool(stream.write, block)
        yield path
    finally:
        path.unlink(missing_ok=True)


@asynccontextmanager
async def form_with_file(request: Request) -> AsyncIterator[tuple[UploadFile, dict[str, str]]]:
    """The one file of a multipart form and its other fields. Raises HTTPException for any other body."""
    if not request.headers.get("content-type", "").lower().startswith("multipart/form-data"):
        raise HTTPException(415, "Send a form (multipart/form-data) with the file in the field 'file'.")
    async with request.form(max_files=1, max_fields=12, max_part_size=64 << 10) as form:
        files = [value for value in form.values() if isinstance(value, UploadFile)]
        if len(files) != 1:
            raise HTTPException(422, "The form holds one file, in the field 'file'.")
        yield files[0], {name: value for name, value in form.items() if isinstance(value, str)}


def number_field(fields: dict[str, str], name: str) -> float | None:
    """A number among the fields of a form, None where it is not given. Raises HTTPException."""
    text = fields.get(name, "").strip()
    if not text:
        return None
    try:
        return float(text)
    except ValueError:
        raise HTTPException(422, f"{name} is a number.") from None


def object_field(fields: dict[str, str], name: str) -> dict[str, Any]:
    """A JSON object among the fields of a form. Raises HTTPException."""
    try:
        value = json.loads(fields.get(name) or "{}")
    except (ValueError, RecursionError):
        raise HTTPException(422, f"{name} is a JSON object.") from None
    if not isinstance(value, dict):
        raise HTTPException(422, f"{name} is a JSON object.")
    return value
