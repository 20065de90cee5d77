"""The desk itself: settings, taking back, journal, jobs, backups, a player's data, the demo club."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any
from uuid import UUID

from fastapi import Query, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import FileResponse
from pydantic import Field

from pacewright.app.desk.desk import Desk
from pacewright.app.desk.views import (
    BackupView,
    ErasureView,
    ImportView,
    JobView,
    JournalView,
    Page,
    UndoView,
)
from pacewright.core.errors import SettingsError
from pacewright.web.api.common import After, Body, DeskDep, Limit, Name, part
from pacewright.web.sending import body_on_disk, file_once, temporary

router = part("desk")
_ZIP: dict[int | str, dict[str, Any]] = {200: {"content": {"application/zip": {}}}}
_PACKAGE = {
    "requestBody": {
        "required": True,
        "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
    }
}


class Settings(Body):
    """Settings of the desk; those that are left out stay."""

    units: str = "metric"
    language: Annotated[str, Field(max_length=120)] = ""
    club: Annotated[str, Field(max_length=120)] = ""
    paper: str = "a4"
    show_other_players: bool = False
    keep_clips: bool = True


class Sure(Body):
    """The name of the player, typed once more: what is erased does not come back."""

    name: Annotated[str, Field(max_length=120)]


@router.get("/settings")
def get_settings(desk: DeskDep) -> dict[str, Any]:
    """Every setting by name."""
    return desk.settings.all()


@router.patch("/settings")
def change_settings(desk: DeskDep, body: Settings) -> dict[str, Any]:
    """Change the settings that are sent; for the coach."""
    for name, value in body.given().items():
        desk.settings.set(name, value)
    return desk.settings.all()


@router.get("/undo")
def list_undo(desk: DeskDep, limit: Annotated[int, Query(ge=1, le=200)] = 20) -> list[UndoView]:
    """The newest deletions that can be taken back."""
    return list(desk.undo.recent(limit))


@router.post("/undo/{step_id}")
def take_back(desk: DeskDep, step_id: UUID) -> UndoView:
    """Bring back everything that one deletion took."""
    return desk.undo.take_back(step_id)


@router.get("/journal")
def journal(
    desk: DeskDep, player_id: UUID | None = None, after: After = None, limit: Limit = 50
) -> Page[JournalView]:
    """Who did what, newest first; for the coach."""
    return desk.journal.list(player_id=player_id, after=after, limit=limit)


@router.get("/jobs")
def open_jobs(desk: DeskDep) -> list[JobView]:
    """Jobs that wait or run, oldest first."""
    return list(desk.jobs.open())


@router.get("/jobs/{job_id}")
def get_job(desk: DeskDep, job_id: UUID) -> JobView:
    """A job."""
    return desk.jobs.get(job_id)


@router.post("/jobs/{job_id}/cancel")
def cancel_job(desk: DeskDep, job_id: UUID) -> JobView:
    """Cancel a job: at once while it waits, within seconds while it runs."""
    return desk.jobs.cancel(job_id)


@router.post("/jobs/{job_id}/retry", status_code=202)
def retry_job(desk: DeskDep, job_id: UUID) -> JobView:
    """Queue the work of an ended job again, as a new job."""
    return desk.jobs.retry(job_id)


@router.post("/demo-club", status_code=202)
def make_demo_club(desk: DeskDep) -> JobView:
    """Queue the job that fills an empty desk with the invented club; 409 when there are players."""
    return desk.jobs.order_demo_club()


@router.get("/players/{player_id}/export", response_class=FileResponse, responses=_ZIP)
def export_player(desk: DeskDep, player_id: UUID) -> FileResponse:
    """All of a player's data as an open package (ZIP)."""
    path = temporary(_folder(desk), ".zip")
    try:
        desk.privacy.export(player_id, path)
    except BaseException:
        path.unlink(missing_ok=True)
        raise
    return file_once(path, "player.zip")


@router.post("/players/import", status_code=201, openapi_extra=_PACKAGE)
async def import_player(request: Request, desk: DeskDep) -> ImportView:
    """Take in a package; importing it again changes nothing."""
    async with body_on_disk(request, _folder(desk), ".zip") as path:
        return await run_in_threadpool(desk.privacy.import_package, path)


@router.post("/players/{player_id}/erase")
def erase_player(desk: DeskDep, player_id: UUID, body: Sure) -> ErasureView:
    """Erase a player for good, with its files; for the coach. Backups that still hold it are named."""
    if " ".join(body.name.split()) != desk.players.get(player_id).name:
        raise SettingsError("Type the player's name as it stands, to be sure that it is this one.")
    return desk.privacy.erase(player_id)


@router.get("/backups")
def list_backups(desk: DeskDep) -> list[BackupView]:
    """The backups, newest first; for the coach."""
    return list(desk.backups.list())


@router.post("/backups", status_code=201)
def make_backup(desk: DeskDep) -> BackupView:
    """Make a backup while everything goes on; for the coach."""
    return desk.backups.make()


@router.get("/backups/{name}", response_class=FileResponse, responses=_ZIP)
def get_backup(desk: DeskDep, name: Name) -> FileResponse:
    """A backup to take away; for the coach."""
    return FileResponse(desk.backups.path(name), media_type="application/zip", filename=name)


@router.post("/backups/{name}/check")
def check_backup(desk: DeskDep, name: Name) -> BackupView:
    """Read all of a backup and compare its hashes and counts; for the coach."""
    return desk.backups.check(desk.backups.path(name))


@router.post("/backups/{name}/restore")
def restore_backup(desk: DeskDep, name: Name) -> BackupView:
    """Put the desk back to a backup, after a backup of how it stands; for the coach."""
    return desk.backups.restore(desk.backups.path(name))


@router.delete("/backups/{name}", status_code=204)
def delete_backup(desk: DeskDep, name: Name) -> None:
    """Delete a backup for good; for the coach."""
    desk.backups.delete(name)


def _folder(desk: Desk) -> Path:
    return desk.data_dir / "incoming"
