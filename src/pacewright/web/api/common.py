"""What the parts of the API share: bodies, pages of lists, versions, problem details."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Annotated, Any, Protocol, TypeVar
from uuid import UUID

from fastapi import APIRouter, Depends, Header, Path, Query
from pydantic import AfterValidator, BaseModel, ConfigDict, model_validator
from starlette.exceptions import HTTPException
from starlette.responses import Response

from pacewright.app.desk.views import Page
from pacewright.core.measure import Measure, Remark
from pacewright.web.access import DeskDep
from pacewright.web.conditional import wanted_version

T = TypeVar("T")
LARGEST_NUMBER = 2**53
DEEPEST = 12
_UNSAYABLE = re.compile(r"[\x00\ud800-\udfff]")
_PROBLEM = {
    "type": "object",
    "required": ["type", "title", "status", "detail"],
    "properties": {
        "type": {"type": "string"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
        "taken": {"type": "array", "items": {"type": "string"}},
        "errors": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["where", "what"],
                "properties": {"where": {"type": "string"}, "what": {"type": "string"}},
            },
        },
    },
}


def part(name: str) -> APIRouter:
    """The routes of one part of the API; errors of all are problem details."""
    return APIRouter(
        tags=[name],
        responses={
            "4XX": {
                "description": "Problem details (RFC 9457)",
                "content": {"application/problem+json": {"schema": _PROBLEM}},
            }
        },
    )


def check_sayable(value: Any, depth: int = 0) -> Any:
    """Refuse what no database keeps: NUL, halves of characters, figures without end, bottomless nesting."""
    if depth > DEEPEST:
        raise ValueError("is nested too deeply")
    if isinstance(value, str) and _UNSAYABLE.search(value):
        raise ValueError("holds a character that cannot be kept")
    if isinstance(value, int | float) and not abs(value) <= LARGEST_NUMBER:
        raise ValueError("holds a number that is too large, or none")
    items = [*value.keys(), *value.values()] if isinstance(value, Mapping) else value
    if isinstance(items, list | tuple):
        for item in items:
            check_sayable(item, depth + 1)
    return value


def sayable(value: T) -> T:
    """As `check_sayable`, for what comes outside a body. Raises HTTPException."""
    try:
        check_sayable(value)
    except ValueError as error:
        raise HTTPException(422, f"Something that was sent {error}.") from None
    return value


class Body(BaseModel):
    """A body that is sent: no names that are not known, no figures without end."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, str_max_length=20_000)

    @model_validator(mode="before")
    @classmethod
    def _check(cls, value: Any) -> Any:
        check_sayable(value)
        return value

    def given(self) -> dict[str, Any]:
        """What was sent, without what was left out."""
        return {name: getattr(self, name) for name in self.model_fields_set}


class Figure(BaseModel):
    """A figure with its standard uncertainty; null where it is not known."""

    value: float | None
    sd: float | None


class Note(BaseModel):
    """A remark on quality: a code for programs, a sentence for people."""

    code: str
    text: str


class Versioned(Protocol):
    """A record with a version."""

    @property
    def version(self) -> int:
        """Counts its changes."""
        ...


def _version(
    if_match: Annotated[
        str | None,
        Header(alias="If-Match", max_length=60, description="ETag of what was seen, or *"),
    ] = None,
) -> int | None:
    return wanted_version(if_match)


Version = Annotated[int | None, Depends(_version)]
After = Annotated[str | None, Query(max_length=600, description="`next` of the page before")]
Limit = Annotated[int, Query(ge=1, le=500, description="Entries of a page")]
Search = Annotated[str, Query(max_length=120), AfterValidator(check_sayable)]
Name = Annotated[str, Path(max_length=80), AfterValidator(check_sayable)]
Identifier = UUID


def tagged(response: Response, view: Versioned) -> None:
    """Name the version of a record in its ETag."""
    response.headers["etag"] = f'"{view.version}"'


def created(response: Response, path: str, view: Any) -> None:
    """Say where what was made can be found."""
    response.headers["location"] = f"/api/v1/{path}/{view.id}"
    if hasattr(view, "version"):
        tagged(response, view)


def figures(measures: Mapping[str, Measure], ending: str = "") -> dict[str, Figure]:
    """Measures as figures; ``ending`` is added to their names."""
    return {
        name + ending: Figure(value=_known(measure.value), sd=_known(measure.sd))
        for name, measure in measures.items()
    }


def notes(remarks: tuple[Remark, ...]) -> list[Note]:
    """Remarks on quality."""
    return [Note(code=remark.code, text=remark.text) for remark in remarks]


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None


__all__ = ["After", "Body", "DeskDep", "Figure", "Limit", "Page", "Search", "Version", "part"]
