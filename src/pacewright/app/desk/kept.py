"""Requests as they were kept beside a plan, made into requests again."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any
from uuid import UUID

from pacewright.app.desk.practice import PlanRequest


def plan_request(kept: Mapping[str, Any]) -> PlanRequest:
    """What a plan was made from (`PlanView.request`)."""
    green_id = kept["green_id"]
    return PlanRequest(
        lengths_m=tuple(kept["lengths_m"]), start=dt.date.fromisoformat(kept["start"]),
        weekdays=tuple(kept["weekdays"]), weeks=kept["weeks"], sessions=kept["sessions"],
        minutes=kept["minutes"], test_putts=kept["test_putts"], beats_per_minute=kept["beats_per_minute"],
        green_id=None if green_id is None else UUID(green_id),
    )  # fmt: skip
