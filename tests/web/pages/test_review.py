"""Stroke review: events moved by mouse, finger, key and button; figures change; a move is taken back."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pytest

from tests.web.pages.conftest import PHONE, Visit

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

pytestmark = pytest.mark.browser
Come = Callable[..., Visit]


def open_stroke(visit: Visit, number: int, query: str = "") -> tuple[Page, dict[str, Any]]:
    """A putt of the analysed recording, by its place."""
    session = next(one for one in visit.api(f"/players/{visit.ida()}/sessions")["items"] if one["strokes"])
    strokes = visit.api(f"/sessions/{session['id']}/strokes")["items"]
    stroke: dict[str, Any] = [one for one in strokes if one["kind"] == "putt"][number]
    return visit.go(f"/strokes/{stroke['id']}{query}"), stroke


def figure(page: Page, name: str) -> str:
    """A figure as it stands on the page."""
    return page.locator(f"[data-measure={name}] [data-figure]").inner_text()


def middle(handle: Locator) -> tuple[float, float]:
    """Where a handle is to be taken."""
    box = handle.locator(".hit").bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def measured(page: Page) -> None:
    """Wait until the server has measured again."""
    page.get_by_text("moved and measured again").wait_for()


def test_an_event_is_dragged_and_the_move_taken_back(visit: Come) -> None:
    coach = visit()
    page, stroke = open_stroke(coach, 0)
    top = page.get_by_role("slider", name="Top")
    before = {name: figure(page, name) for name in ("downswing_time_s", "backswing_time_s", "time_ratio")}
    x, y = middle(top)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - 12, y, steps=3)
    page.mouse.up()
    measured(page)
    assert all(figure(page, name) != text for name, text in before.items())
    assert page.locator("tr.changed").count() >= 3
    assert page.get_by_text("Moved by hand once").count() == 1
    assert stroke["id"] not in page.url  # the figures before are kept under their own address

    page.get_by_role("button", name="Take the last move back").click()
    page.get_by_text("Moved by hand 2 times").wait_for()
    now = coach.api(f"/strokes/{page.url.rsplit('/', 1)[1]}")
    was = stroke["events"]["top_time_s"]["value"]
    assert now["events"]["top_time_s"]["value"] == pytest.approx(was, abs=1e-4)
    assert page.get_by_role("button", name="Take the last move back").count() == 0


def test_an_event_is_moved_by_key_and_by_button(visit: Come) -> None:
    page, stroke = open_stroke(visit(), 1)
    takeaway = page.get_by_role("slider", name="Takeaway")
    before = int(takeaway.get_attribute("aria-valuenow") or 0)
    takeaway.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowRight")
    assert int(takeaway.get_attribute("aria-valuenow") or 0) == pytest.approx(before + 30, abs=1)
    page.keyboard.press("Enter")
    measured(page)
    assert page.evaluate("document.activeElement.dataset.event") == "takeaway"  # nobody loses their place
    longer = stroke["measures"]["backswing_time_s"]["value"]
    assert float(figure(page, "backswing_time_s").split()[0]) == pytest.approx(longer - 0.03, abs=0.003)

    page.get_by_label("Event to move").select_option("top")
    page.get_by_role("button", name="Later").click()
    page.get_by_text("Top moved and measured again").wait_for()


def test_an_event_is_dragged_by_finger(visit: Come) -> None:
    coach = visit(PHONE)
    page, _ = open_stroke(coach, 2)
    before = figure(page, "downswing_time_s")
    page.get_by_role("slider", name="Top").scroll_into_view_if_needed()
    x, y = middle(page.get_by_role("slider", name="Top"))
    finger = coach.context.new_cdp_session(page)

    def touch(kind: str, *points: dict[str, float]) -> None:
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": list(points)})

    touch("touchStart", {"x": x, "y": y})
    for step in range(1, 5):
        touch("touchMove", {"x": x - 2 * step, "y": y})
    touch("touchEnd")
    measured(page)
    assert figure(page, "downswing_time_s") != before


def test_a_stroke_that_somebody_measured_meanwhile_is_not_overwritten(visit: Come) -> None:
    one, other = visit(), visit()
    first, _ = open_stroke(one, 3)
    second = other.go(first.url.removeprefix(one.server.url))
    for page in (first, second):
        page.get_by_label("Event to move").select_option("top")
    first.get_by_role("button", name="Later").click()
    measured(first)
    other.is_cut_off = True  # the browser notes the refusal
    second.get_by_role("button", name="Earlier").click()
    second.get_by_text("measured again meanwhile").wait_for()


def test_a_clip_is_looked_at_frame_by_frame_and_an_event_set_by_it(visit: Come) -> None:
    coach = visit()
    tom = coach.api("/players?search=tom")["items"][0]["id"]
    (stroke,) = coach.api(f"/players/{tom}/strokes")["items"]
    page = coach.go(f"/strokes/{stroke['id']}")
    page.locator("#frame-status", has_text="frame 0").wait_for()
    first = _picture(page)
    scrub = page.get_by_role("slider", name="Frame")
    impact = stroke["events"]["impact_time_s"]["value"]
    scrub.fill(str(round(impact * 120)))
    page.locator("#frame-status", has_text=f"frame {round(impact * 120)}").wait_for()
    assert page.evaluate("document.getElementById('clip').currentTime") == pytest.approx(impact, abs=1 / 120)
    assert _picture(page) != first
    page.get_by_role("button", name="One frame on").click()
    page.locator("#frame-status", has_text=f"frame {round(impact * 120) + 1}").wait_for()
    assert page.locator("#head").is_visible()  # the same moment, on the dots

    top = page.get_by_role("slider", name="Top")
    top.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    measured(page)
    now = coach.api(f"/strokes/{page.url.rsplit('/', 1)[1]}")["events"]["top_time_s"]["value"]
    assert now - stroke["events"]["top_time_s"]["value"] == pytest.approx(1 / 120, abs=1e-4)  # one frame


def _picture(page: Page) -> str:
    """What the video shows now."""
    return str(
        page.evaluate(
            """async () => {
              const video = document.getElementById('clip');
              while (video.seeking || video.readyState < 2) await new Promise((done) => setTimeout(done, 20));
              const canvas = document.createElement('canvas');
              [canvas.width, canvas.height] = [64, 36];
              canvas.getContext('2d').drawImage(video, 0, 0, 64, 36);
              return canvas.toDataURL();
            }"""
        )
    )


def test_two_strokes_stand_side_by_side(visit: Come) -> None:
    coach = visit()
    page, _ = open_stroke(coach, 4)
    page.get_by_label("Beside").select_option(index=2)
    page.get_by_role("button", name="Compare").click()
    page.wait_for_url("**beside=*")
    assert page.locator("table.figures thead th").count() == 3
    assert page.get_by_text("2: going back").count() == 1
    assert page.locator("path.other").count() >= 2


def test_the_stroke_of_another_player_wants_consent(visit: Come) -> None:
    from tests.app.desk.people import stroke_table

    coach = visit()
    page, stroke = open_stroke(coach, 5)
    tom = coach.api("/players?search=tom")["items"][0]["id"]
    mark = page.locator("meta[name=csrf-token]").get_attribute("content") or ""
    ask = coach.context.request
    root, headers = f"{coach.server.url}/api/v1", {"X-CSRF-Token": mark}
    session = ask.post(f"{root}/players/{tom}/sessions", headers=headers).json()["id"]
    table = {"name": "tom.csv", "mimeType": "text/csv", "buffer": stroke_table(3)}
    ask.post(f"{root}/sessions/{session}/recordings", headers=headers, multipart={"file": table})
    coach.go(f"/sessions/{session}").get_by_role("heading", name="10 strokes").wait_for(timeout=60_000)
    other = coach.api(f"/sessions/{session}/strokes")["items"][3]["id"]

    coach.go(f"/strokes/{stroke['id']}?beside={other}")
    page.get_by_text("Tom Öster has not agreed to being shown beside other players").wait_for()
    assert page.locator("table.figures thead th").count() == 2
    for player in (tom, stroke["player_id"]):
        ask.post(
            f"{root}/players/{player}/consents",
            headers=headers,
            data={"kind": "sharing", "given_by": "player"},
        )
    page.reload()
    assert page.locator("table.figures thead th").count() == 3
