"""The player's page as data: what the plan becomes, and what the one file holds."""

from __future__ import annotations

import datetime
import json
from pathlib import Path

import pytest

from pacewright.app.plans import PlanOptions, make_plan
from pacewright.app.practice_page import (
    PracticePlayer,
    practice_file,
    practice_parts,
    practice_payload,
    write_practice_file,
)
from pacewright.cli.main import run
from pacewright.core.errors import SettingsError
from pacewright.core.green import Green
from pacewright.core.plan import PracticePlan


@pytest.fixture(scope="module")
def plan() -> PracticePlan:
    options = PlanOptions(
        lengths_m=(3.0, 6.0),
        start=datetime.date(2026, 3, 2),
        player="Ada </script><b>",
        weekdays=(),
        sessions=3,
        green=Green(3.0),
    )
    return make_plan(options)


def test_every_block_says_when_feedback_comes(plan: PracticePlan) -> None:
    payload = practice_payload(plan)
    modes = {
        (block["feedback"][:12], block["feedback_mode"])
        for session in payload["plan"]["sessions"]
        for block in session["blocks"]
    }
    assert modes == {
        ("", "each"),
        ("No advice.", "end"),
        ("On request: ", "request"),
        ("The player s", "guess"),
    }


def test_the_same_plan_has_the_same_id_and_another_has_another(plan: PracticePlan) -> None:
    first = practice_payload(plan)["plan_id"]
    assert practice_payload(plan, PracticePlayer("imperial", "de"))["plan_id"] == first
    other = make_plan(PlanOptions(lengths_m=(3.0,), start=datetime.date(2026, 3, 2), weekdays=(), sessions=3))
    assert practice_payload(other)["plan_id"] != first


def test_a_name_cannot_end_the_data(plan: PracticePlan) -> None:
    page = practice_file(plan).decode()
    data = page.split('id="practice-data">')[1].split("</script>")[0]
    assert json.loads(data)["payload"]["plan"]["player"] == "Ada </script><b>"


def test_the_file_links_nothing(plan: PracticePlan) -> None:
    page = practice_file(plan).decode()
    assert "import {" not in page
    assert "export " not in page
    assert not any(word in page for word in ('src="', 'href="practice', "http://www.w3.org/1999"))


def test_parts_have_types_and_the_worker_its_list() -> None:
    parts = practice_parts()
    assert parts[""].media_type == "text/html"
    assert parts["icon-512.png"].content.startswith(b"\x89PNG")
    assert json.loads(parts["manifest.json"].content)["display"] == "standalone"


def test_refusals_leave_nothing_behind(plan: PracticePlan, tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match=r"\.html"):
        write_practice_file(plan, tmp_path / "page.pdf")
    with pytest.raises(SettingsError, match="en or de"):
        PracticePlayer(language="xx")
    assert list(tmp_path.iterdir()) == []


def test_the_command_writes_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "practice.html"
    line = [
        "plan",
        "--putt",
        "3m",
        "--green",
        "10ft",
        "--days",
        "none",
        "--sessions",
        "3",
        "--practice",
        str(out),
    ]
    assert run([*line, "--language", "de"]) == 0
    assert "Wrote" in capsys.readouterr().out
    assert '<html lang="de">' in out.read_text("utf-8")
    assert run([*line[:-1], str(tmp_path / "x.pdf")]) == 2
