"""Recordings: sent in one go or in pieces, played, analysed again."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

from fastapi import Header, Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import FileResponse
from pydantic import Field
from starlette.exceptions import HTTPException

from pacewright.app.desk.views import (
    AnalysisView,
    CorrectionView,
    JobView,
    RecordingView,
    UndoView,
    UploadView,
)
from pacewright.web.api.common import Body, DeskDep, created, part, sayable
from pacewright.web.sending import form_with_file, number_field, object_field, recorded

router = part("recordings")
Offset = Annotated[int, Header(alias="Upload-Offset", ge=0, le=2**53)]
_FORM = {
    "requestBody": {
        "required": True,
        "content": {
            "multipart/form-data": {
                "schema": {
                    "type": "object",
                    "required": ["file"],
                    "properties": {
                        "file": {"type": "string", "format": "binary"},
                        "asked_m": {"type": "number", "description": "Length of putt that was asked"},
                        "settings": {"type": "string", "description": "How to read it, a JSON object"},
                    },
                }
            }
        },
    }
}
_PIECE = {
    "requestBody": {
        "required": True,
        "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
    }
}


class NewUpload(Body):
    """A file that comes in pieces: its name, its size in bytes, and what is known of it."""

    name: Annotated[str, Field(max_length=400)]
    size: int
    sha256: Annotated[str | None, Field(pattern="^[0-9a-f]{64}$")] = None
    asked_m: float | None = None
    settings: dict[str, Any] = Field(default={})


class Again(Body):
    """How a recording is read and judged; what is left out stays."""

    asked_m: float | None = None
    settings: dict[str, Any] | None = None


@router.get("/sessions/{session_id}/recordings")
def list_recordings(desk: DeskDep, session_id: UUID) -> list[RecordingView]:
    """The recordings of a session, oldest first, each with its newest job."""
    return list(desk.recordings.of_session(session_id))


@router.post("/sessions/{session_id}/recordings", status_code=201, openapi_extra=_FORM)
async def add_recording(
    request: Request, desk: DeskDep, session_id: UUID, response: Response
) -> RecordingView:
    """Keep a file that comes in one go and queue its analysis."""
    async with form_with_file(request) as (file, fields):
        name = sayable(file.filename or "")
        asked_m, settings = number_field(fields, "asked_m"), object_field(fields, "settings")
        view = await run_in_threadpool(
            desk.recordings.add,
            session_id,
            name,
            file.file,
            asked_m=asked_m,
            settings=sayable(settings),
        )
    created(response, "recordings", view)
    return view


@router.get("/sessions/{session_id}/uploads")
def list_uploads(desk: DeskDep, session_id: UUID) -> list[UploadView]:
    """The uploads of a session that are not finished, to go on with."""
    return list(desk.uploads.of_session(session_id))


@router.post("/sessions/{session_id}/uploads", status_code=201)
def begin_upload(desk: DeskDep, session_id: UUID, body: NewUpload, response: Response) -> UploadView:
    """Begin a file in pieces: `PATCH` them to its Location, then `POST` to ``finish``."""
    view = desk.uploads.begin(session_id, **body.model_dump())
    created(response, "uploads", view)
    return _offset(response, view)


@router.get("/uploads/{upload_id}")
def get_upload(desk: DeskDep, upload_id: UUID, response: Response) -> UploadView:
    """How far an upload has come: go on from ``received``."""
    return _offset(response, desk.uploads.get(upload_id))


@router.head("/uploads/{upload_id}")
def head_upload(desk: DeskDep, upload_id: UUID) -> Response:
    """How far an upload has come, in Upload-Offset."""
    response = Response()
    _offset(response, desk.uploads.get(upload_id))
    return response


@router.patch("/uploads/{upload_id}", openapi_extra=_PIECE)
async def append_piece(
    request: Request, desk: DeskDep, upload_id: UUID, offset: Offset, response: Response
) -> UploadView:
    """Put a piece of at most 16 MB at Upload-Offset. The answer comes when it is safe on disk."""
    piece = await request.body()
    return _offset(response, await run_in_threadpool(desk.uploads.append, upload_id, offset, piece))


@router.post("/uploads/{upload_id}/finish", status_code=201)
def finish_upload(desk: DeskDep, upload_id: UUID, response: Response) -> RecordingView:
    """Make a recording of a whole upload and queue its analysis; again gives the same recording."""
    view = desk.uploads.finish(upload_id)
    created(response, "recordings", view)
    return view


@router.delete("/uploads/{upload_id}", status_code=204)
def cancel_upload(desk: DeskDep, upload_id: UUID) -> None:
    """Forget an upload that is not finished."""
    desk.uploads.cancel(upload_id)


@router.get("/recordings/{recording_id}")
def get_recording(desk: DeskDep, recording_id: UUID) -> RecordingView:
    """A recording with its newest analysis and job."""
    return desk.recordings.get(recording_id)


@router.get(
    "/recordings/{recording_id}/content",
    response_class=FileResponse,
    responses={200: {"content": {"application/octet-stream": {}, "video/mp4": {}, "audio/wav": {}}}},
)
def recording_content(desk: DeskDep, recording_id: UUID) -> FileResponse:
    """The file as it came; ranges are served, so that a clip can be played from anywhere."""
    view = desk.recordings.get(recording_id)
    path = desk.recordings.path(recording_id, check=False)
    if not path.is_file():
        raise HTTPException(410, "The file is missing from the data folder; restore it from a backup.")
    return recorded(path, view)


@router.post("/recordings/{recording_id}/analyse", status_code=202)
def analyse_again(desk: DeskDep, recording_id: UUID, body: Again | None = None) -> JobView:
    """Queue a new analysis; the old one is kept."""
    body = body or Again()
    return desk.recordings.analyse(recording_id, asked_m=body.asked_m, settings=body.settings)


@router.delete("/recordings/{recording_id}")
def delete_recording(desk: DeskDep, recording_id: UUID) -> UndoView:
    """Delete a recording with its analyses and strokes; it can be taken back."""
    return desk.recordings.delete(recording_id)


@router.get("/recordings/{recording_id}/analyses")
def list_analyses(desk: DeskDep, recording_id: UUID) -> list[AnalysisView]:
    """Every analysis of a recording, newest first."""
    return list(desk.strokes.analyses(recording_id))


@router.get("/analyses/{analysis_id}")
def get_analysis(desk: DeskDep, analysis_id: UUID) -> AnalysisView:
    """An analysis with its whole result, in the words of ``assess --json``, of a sound in those of
    ``listen --json``."""
    return desk.strokes.analysis(analysis_id)


@router.get("/recordings/{recording_id}/corrections")
def list_corrections(desk: DeskDep, recording_id: UUID) -> list[CorrectionView]:
    """Every event of a recording that was moved by hand, newest first."""
    return list(desk.strokes.corrections(recording_id))


def _offset(response: Response, view: UploadView) -> UploadView:
    response.headers["upload-offset"] = str(view.received)
    response.headers["upload-length"] = str(view.size)
    response.headers["cache-control"] = "no-store"
    return view
