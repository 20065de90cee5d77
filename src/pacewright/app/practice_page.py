"""Use case: the player's page, as parts to be served or as one file that opens from a disk.

Contract: docs/contracts/practice.md.
"""

from __future__ import annotations

import copy
import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

from pacewright.app.files import write_whole
from pacewright.app.plans import plan_dict
from pacewright.coaching.plan import BREAK_EVERY_MINUTES, GUESS_FIRST, NO_FEEDBACK, ON_REQUEST
from pacewright.core.display import Units
from pacewright.core.errors import SettingsError
from pacewright.core.plan import PracticePlan

SCHEMA = "pacewright.practice/1"
LANGUAGES = ("en", "de")
MODULES = (
    "elements.js", "beat.js", "draw.js", "drill.js", "journal.js", "listen.js", "outbox.js", "words.js",
    "screens.js", "clip.js", "page.js",
)  # fmt: skip
WORKLET = ("clicks.js", "listen-worklet.js")
_NEEDED = (*MODULES, "clicks.js")
"""Asked for together, before one module has named the next: each round trip counts on a telephone."""
_FEEDBACK = {NO_FEEDBACK: "end", GUESS_FIRST: "guess", ON_REQUEST: "request"}
_LINKING = re.compile(r"^(import .*|export \{.*\} from .*);\n|^export ", re.MULTILINE)
_TYPES = {
    ".css": "text/css", ".html": "text/html", ".js": "text/javascript", ".json": "application/json",
    ".png": "image/png", ".svg": "image/svg+xml",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class PracticePlayer:
    """How a player reads: ``units``, and ``language`` (en, de) of the page; the plan keeps its own words."""

    units: Units = "metric"
    language: str = "en"

    def __post_init__(self) -> None:
        if self.language not in LANGUAGES:
            raise SettingsError(f"'{self.language}' is not a language of the page; use en or de.")


@dataclass(frozen=True, slots=True)
class PagePart:
    """A file of the page as it is served."""

    content: bytes
    media_type: str


def practice_payload(plan: PracticePlan, player: PracticePlayer | None = None) -> dict[str, Any]:
    """What ``plan.json`` holds: the plan, and how to show it. The same plan has the same ``plan_id``."""
    body = plan_dict(plan)
    digest = hashlib.sha256(json.dumps(body, sort_keys=True).encode()).hexdigest()
    return payload_of(body, digest[:32], player or PracticePlayer())


def payload_of(body: Mapping[str, Any], plan_id: str, player: PracticePlayer) -> dict[str, Any]:
    """As `practice_payload`, from a plan in the words of ``plan --json`` that goes by ``plan_id``."""
    body = copy.deepcopy(dict(body))
    for session in body["sessions"]:
        for block in session["blocks"]:
            block["feedback_mode"] = _FEEDBACK.get(block["feedback"], "each")
    return {
        "schema": SCHEMA,
        "plan_id": plan_id,
        "player": {"units": player.units, "language": player.language},
        "rest_every_minutes": BREAK_EVERY_MINUTES,
        "plan": body,
    }


def practice_file(plan: PracticePlan, player: PracticePlayer | None = None) -> bytes:
    """The page as one HTML file that asks nothing of the network; results leave it as a file or a code."""
    from pacewright.render.html import font_faces

    player = player or PracticePlayer()
    page = _html(
        language=player.language,
        inline=True,
        modules=(),
        css=font_faces() + _source("practice.css"),
        script=_joined(MODULES),
        worklet=_joined(WORKLET),
        config={},
        payload=practice_payload(plan, player),
    )
    return page.encode("utf-8")


def write_practice_file(plan: PracticePlan, out: str | Path, player: PracticePlayer | None = None) -> None:
    """Write `practice_file`. Raises SettingsError unless the name ends in .html."""
    if Path(out).suffix.lower() not in {".html", ".htm"}:
        raise SettingsError(f"'{Path(out).name}' must end in .html.")
    write_whole(Path(out), practice_file(plan, player))


@cache
def practice_parts() -> dict[str, PagePart]:
    """Every file of the served page but ``plan.json``, by its address below the link; "" is the page."""
    from pacewright.render.html import font_faces

    parts = {name: _static(name) for name in (*MODULES, *WORKLET, "worker.js", "icon.svg")}
    config = {
        "plan_url": "plan.json",
        "results_url": "results",
        "clips_url": "clips",
        "fonts_url": "fonts.css",
        "strip_url": "strip.pdf",
        "worker_url": "worker.js",
        "worklet_url": "listen-worklet.js",
    }
    made = {
        "": (
            _html(language="en", inline=False, modules=_NEEDED, config=config, payload=None).encode(),
            ".html",
        ),
        "practice.css": (_source("practice.css").encode(), ".css"),
        # Apart, for the page can be used before they are there.
        "fonts.css": (font_faces().encode(), ".css"),
        "manifest.json": (json.dumps(_manifest()).encode(), ".json"),
        "icon-192.png": (_icon(192), ".png"),
        "icon-512.png": (_icon(512), ".png"),
    }
    return parts | {name: PagePart(content, _TYPES[ending]) for name, (content, ending) in made.items()}


def _source(name: str) -> str:
    # By path: the page's parts are data that lie in the web room, which this room does not import.
    folder = Path(str(resources.files("pacewright"))) / "web" / "static" / "practice"
    return (folder / name).read_text("utf-8")


def _static(name: str) -> PagePart:
    return PagePart(_source(name).encode(), _TYPES[Path(name).suffix])


def _joined(names: tuple[str, ...]) -> str:
    """Modules as one script: in order of need, without the lines that link them."""
    return "\n".join(_LINKING.sub("", _source(name)) for name in names)


def _html(
    *,
    language: str,
    inline: bool,
    modules: tuple[str, ...],
    config: dict[str, str],
    payload: Any,
    **parts: str,
) -> str:
    import jinja2
    from markupsafe import Markup

    data = {"messages": json.loads(_source("messages.json")), "config": config, "payload": payload}
    # Nothing in the data may end the script element that holds it.
    text = json.dumps(data, ensure_ascii=False).replace("<", "\\u003c")
    template = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined).from_string(
        _source("practice.html")
    )
    marked = {name: Markup(part) for name, part in parts.items()}
    return template.render(language=language, inline=inline, modules=modules, data=Markup(text), **marked)


def _manifest() -> dict[str, Any]:
    from pacewright.render.look import PAPER

    icons = [
        {"src": f"icon-{size}.png", "sizes": f"{size}x{size}", "type": "image/png"} for size in (192, 512)
    ]
    return {
        "id": "./",
        "name": "Pacewright practice",
        "short_name": "Pacewright",
        "start_url": "./",
        "scope": "./",
        "display": "standalone",
        "background_color": PAPER,
        "theme_color": PAPER,
        "icons": [*icons, {"src": "icon.svg", "sizes": "any", "type": "image/svg+xml"}],
    }


def _icon(size: int) -> bytes:
    import vl_convert

    drawn: bytes = vl_convert.svg_to_png(_source("icon.svg"), scale=size / 64.0)
    return drawn
