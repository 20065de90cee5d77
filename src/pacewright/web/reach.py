"""Where phones find this desk: the address, as a QR code too, and plain words for phones that mistrust it."""

from __future__ import annotations

import io

import segno
from fastapi import APIRouter, Request
from fastapi.responses import FileResponse
from pydantic import BaseModel
from starlette.exceptions import HTTPException

from pacewright.web.access import local_addresses
from pacewright.web.settings import ServerSettings, is_loopback
from pacewright.web.tls import root_file

router = APIRouter(include_in_schema=False)


class Reach(BaseModel):
    """``is_open``: whether other devices can reach the desk at ``address``."""

    address: str
    is_open: bool
    qr_svg: str
    instructions: list[str]


def reach_of(request: Request) -> Reach:
    """How the server that got a request is reached."""
    settings: ServerSettings = request.app.state.settings
    own = f"{request.url.scheme}://{request.headers['host']}"
    is_open = not is_loopback(settings.host)
    asked_at_home = is_loopback(request.url.hostname or "")
    found = local_addresses() if is_open and asked_at_home else ()
    address = f"{request.url.scheme}://{found[0]}:{settings.port}" if found else own
    return Reach(
        address=address,
        is_open=is_open,
        qr_svg=qr_svg(address),
        instructions=_instructions(settings, address, request.url.scheme == "https"),
    )


def qr_svg(text: str) -> str:
    """A QR code as SVG, with the quiet zone that scanners want."""
    stream = io.BytesIO()
    segno.make(text, error="m").save(
        stream, kind="svg", scale=4, border=4, xmldecl=False, svgns=True, omitsize=True, nl=False,
        light="#fff", dark="#000",
    )  # fmt: skip
    return stream.getvalue().decode()


@router.get("/certificate")
def certificate(request: Request) -> FileResponse:
    """The certificate of this desk, for a phone that is to trust it."""
    path = root_file(request.app.state.desk.data_dir)
    if not path.is_file():
        raise HTTPException(404, "This desk has no certificate of its own.")
    return FileResponse(path, media_type="application/x-x509-ca-cert", filename="pacewright.crt")


def _instructions(settings: ServerSettings, address: str, encrypted: bool) -> list[str]:
    if is_loopback(settings.host):
        return [
            "This desk is open to its own machine alone, so no phone can reach it.",
            "Start it with: pacewright serve --host 0.0.0.0 (it asks for a password first).",
        ]
    told = ["Phone and desk have to be in the same wireless network.", f"Scan the code, or type {address}"]
    if encrypted:
        told += [
            "The phone says once that it does not know this desk, because the desk made its certificate by "
            "itself. Choose Advanced or Details, then go on to the address.",
            f"To be rid of that for good, open {address}/certificate on the phone and install what it loads "
            "as a trusted certificate (on some phones it must then be switched on in the settings as well).",
        ]
    return told
