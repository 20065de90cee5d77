"""Players' links: a token opens one player's plan, takes in each putt once, and gives nothing away."""

from __future__ import annotations

import base64
import datetime as dt
import gzip
import json
import statistics
import time
from typing import Any

import pytest
from fastapi.testclient import TestClient

from pacewright.app.desk.desk import Desk
from pacewright.app.desk.practice import PlanRequest
from tests.app.desk.people import willing_player
from tests.web.clients import Caller, at_home, from_away

AT = "2026-11-20T10:00:00Z"
MP4 = b"\x00\x00\x00\x18ftypmp42" + bytes(200)


def _link(desk: Desk, name: str = "Ada", *, plan: bool = True) -> tuple[str, str]:
    """A player's link, and the id of the plan as the page knows it."""
    player = willing_player(desk, name)
    made = desk.plans.make(player.id, PlanRequest((3.0, 5.0), dt.date(2026, 11, 16))) if plan else None
    _, token = desk.sharing.create(player.id)
    return token, "" if made is None else made.id.hex


def _putt(k: int, **more: Any) -> dict[str, Any]:
    return {
        "id": f"putt-{k}", "kind": "putt", "at": AT, "session": 1, "session_kind": "practice", "run": "run-1",
        "block": 0, "block_title": "Mixed", "is_recorded": True, "number": k, "asked_m": 3.0,
        "finish_along_m": 3.1, "finish_across_m": None, "finish_along_sd_m": 0.1, "holed": False,
        "guess_along_m": None, "beats_per_minute": 90, "markers": True, "contact_error_s": 0.012,
        "contact_error_sd_s": 0.002,
    } | more  # fmt: skip


def _body(plan_id: str, items: list[dict[str, Any]]) -> dict[str, Any]:
    return {"schema": "pacewright.practice-results/1", "plan_id": plan_id, "items": items}


def test_a_link_opens_the_page_and_this_players_plan_without_logging_in(desk: Desk) -> None:
    token, plan_id = _link(desk)
    client = from_away(desk)
    first = client.get(f"/p/{token}", follow_redirects=False)
    assert (first.status_code, first.headers["location"]) == (308, f"/p/{token}/")
    assert "practice-data" in client.get(f"/p/{token}/").text
    plan = client.get(f"/p/{token}/plan.json").json()
    assert (plan["schema"], plan["plan_id"]) == ("pacewright.practice/1", plan_id)
    assert plan["plan"]["player"] == "Ada"
    assert {block["feedback_mode"] for s in plan["plan"]["sessions"] for block in s["blocks"]} <= {
        "each", "guess", "request", "end",
    }  # fmt: skip
    assert client.get(f"/p/{token}/page.js").headers["content-type"].startswith("text/javascript")
    assert client.get("/api/v1/players").status_code == 401


def test_what_is_sent_again_and_again_is_there_once_and_reaches_the_desk_unread(desk: Desk) -> None:
    token, plan_id = _link(desk)
    client = from_away(desk)
    items = [{"id": "s", "kind": "session-start", "at": AT, "session": 1, "run": "run-1", "seed": 7}]
    items += [_putt(k) for k in range(6)] + [_putt(6, holed=True, finish_along_m=None)]
    items += [{"id": "e", "kind": "session-end", "at": AT, "session": 1, "run": "run-1", "putts": 7}]
    for some in (items[:3], items, items[4:], items):
        answer = client.post(f"/p/{token}/results", json=_body(plan_id, some))
        assert answer.status_code == 200, answer.text
        assert answer.json()["accepted"] == [item["id"] for item in some]
    (session,) = desk.sessions.list(unread=True).items
    putts = desk.putts.list(session_id=session.id).items
    assert (session.origin, session.putts, len(putts)) == ("player", 7, 7)
    assert putts[0].beat_error_s == pytest.approx(0.012)
    assert len(desk.plans.drill_results(session.player_id)) == 1


def test_a_putt_that_was_taken_back_stays_away_however_it_comes(desk: Desk) -> None:
    token, plan_id = _link(desk)
    client = from_away(desk)
    undo = {"id": "u", "kind": "undo", "at": AT, "of": "putt-1"}

    def send(*items: dict[str, Any]) -> list[str]:
        accepted: list[str] = client.post(f"/p/{token}/results", json=_body(plan_id, list(items))).json()[
            "accepted"
        ]
        return accepted

    assert send(undo) == []  # its putt is still to come, so it is sent again later
    assert send(_putt(0), _putt(1)) == ["putt-0", "putt-1"]
    assert send(undo) == ["u"]
    assert send(_putt(1), undo) == ["putt-1", "u"]
    (session,) = desk.sessions.list().items
    assert [putt.client_id for putt in desk.putts.list(session_id=session.id).items] == ["putt-0"]


def test_one_item_that_makes_no_sense_does_not_hold_up_the_others(desk: Desk) -> None:
    token, plan_id = _link(desk)
    items = [
        _putt(0),
        _putt(1, asked_m=-3),
        _putt(2, at="yesterday"),
        _putt(3),
        _putt(4, finish_along_m=None),
    ]
    items += [_putt(5, beats_per_minute=9000), {"id": "new", "kind": "something new", "at": AT, "x": [1]}]
    answer = from_away(desk).post(f"/p/{token}/results", json=_body(plan_id, items))
    assert answer.json()["accepted"] == ["putt-0", "putt-3", "new"]
    assert {one["id"] for one in answer.json()["refused"]} == {"putt-1", "putt-2", "putt-4", "putt-5"}


def _attempts(client: TestClient, token: str, plan_id: str) -> list[tuple[int, str]]:
    sent = _body(plan_id, [_putt(0)])
    clip = {"file": ("a.mp4", MP4)}
    answers = [
        client.get(f"/p/{token}/"), client.get(f"/p/{token}/plan.json"), client.get(f"/p/{token}/strip.pdf"),
        client.post(f"/p/{token}/results", json=sent),
        client.post(f"/p/{token}/clips", files=clip, data={"run": "r"}),
    ]  # fmt: skip
    return [(answer.status_code, answer.text) for answer in answers]


def test_links_that_do_not_hold_are_refused_in_the_same_words(desk: Desk) -> None:
    token, plan_id = _link(desk)
    revoked, _ = _link(desk, "Bo")
    desk.sharing.revoke(desk.sharing.of_player(desk.players.list(search="Bo").items[0].id)[0].id)
    gone, _ = _link(desk, "Cy")
    desk.players.delete(desk.players.list(search="Cy").items[0].id)
    short = desk.sharing.create(willing_player(desk, "Di").id, lives_for=dt.timedelta(microseconds=1))[1]
    client = from_away(desk)
    client.app.state.failed_links.most = 100  # type: ignore[attr-defined]
    told = [_attempts(client, bad, plan_id) for bad in (revoked, gone, short, "A" * 43, token[:-1], "x")]
    assert all(one == told[0] for one in told)
    assert {status for status, _ in told[0]} == {403}
    assert _attempts(client, token, plan_id)[1][0] == 200


def test_a_plan_of_another_player_is_refused_like_a_bad_link(desk: Desk) -> None:
    token, _ = _link(desk)
    _, of_another = _link(desk, "Bo")
    client = from_away(desk)
    refused = client.post(f"/p/{token}/results", json=_body(of_another, [_putt(0)]))
    guessed = client.post(f"/p/{'A' * 43}/results", json=_body(of_another, [_putt(0)]))
    assert (refused.status_code, refused.text) == (403, guessed.text)
    assert desk.sessions.list().items == ()


def test_guessing_links_is_slowed(desk: Desk) -> None:
    token, _ = _link(desk)
    client = from_away(desk, address="203.0.113.5")
    statuses = [client.get(f"/p/{'A' * 42}{k % 10}/plan.json").status_code for k in range(22)]
    assert statuses == [403] * 20 + [429] * 2
    assert client.get(f"/p/{token}/plan.json").status_code == 429
    elsewhere = TestClient(client.app, base_url="https://desk.example", client=("203.0.113.6", 1))
    assert elsewhere.get(f"/p/{token}/plan.json").status_code == 200


def test_every_refusal_takes_the_same_time(desk: Desk) -> None:
    revoked, _ = _link(desk)
    desk.sharing.revoke(desk.sharing.of_player(desk.players.list().items[0].id)[0].id)
    client = from_away(desk)

    def taken(token: str) -> float:
        times = []
        for _ in range(5):
            began = time.perf_counter()
            client.get(f"/p/{token}/plan.json")
            times.append(time.perf_counter() - began)
        return min(times)

    known, unknown = taken(revoked), taken("B" * 43)
    assert statistics.fmean([known, unknown]) >= 0.08  # the floor below which none is answered


def test_a_clip_comes_in_with_both_consents_and_not_before(desk: Desk) -> None:
    token, _ = _link(desk)
    player = desk.players.list().items[0].id
    client = from_away(desk)
    clip, told = {"file": ("a.mp4", MP4)}, {"run": "run-1", "held_on": "2026-11-20"}
    before = client.post(f"/p/{token}/clips", files=clip, data=told)
    assert before.status_code == 403
    assert before.json()["type"].endswith("consent-missing")
    desk.consents.give(player, "clip_review", "player")
    assert client.get(f"/p/{token}/plan.json").json()["may_send_clips"] is True
    for _ in range(2):
        assert client.post(f"/p/{token}/clips", files=clip, data=told).status_code == 201
    no_clip = {"file": ("a.mp4", b"MZ" + bytes(50))}
    refused = client.post(f"/p/{token}/clips", files=no_clip, data=told)
    assert refused.status_code == 415
    assert "MP4" in refused.json()["taken"]
    (session,) = desk.sessions.list(unread=True).items
    assert session.recordings == 1


def test_the_desk_shows_the_link_once_with_a_code_to_scan(desk: Desk) -> None:
    home = Caller(at_home(desk))
    player = home.make("/players", {"name": "Ada"})["id"]
    made = home.make(f"/players/{player}/shares", {"label": "phone", "days": 30})
    assert made["url"].endswith(f"/p/{made['token']}/")
    assert made["qr_svg"].startswith("<svg")
    assert made["instructions"]
    listed = home("GET", f"/players/{player}/shares").text
    assert made["token"] not in listed
    assert home.make(f"/shares/{made['share']['id']}/revoke")["revoked_at"] is not None


def test_a_link_without_a_plan_says_so(desk: Desk) -> None:
    token, _ = _link(desk, plan=False)
    answer = from_away(desk).get(f"/p/{token}/plan.json")
    assert answer.status_code == 404
    assert "coach" in answer.json()["detail"]


def test_results_that_come_as_a_file_or_a_code_are_taken_in_at_the_desk(desk: Desk) -> None:
    token, plan_id = _link(desk)
    player = desk.players.list().items[0].id
    home = Caller(at_home(desk))
    body = json.dumps(_body(plan_id, [_putt(k) for k in range(4)])).encode()
    code = b"PW1." + base64.urlsafe_b64encode(gzip.compress(body)).rstrip(b"=")
    path = f"/players/{player}/practice-results"
    for data in (body, code, b"  " + code + b"\n"):
        assert len(home("POST", path, content=data).json()["accepted"]) == 4
    from_away(desk).post(f"/p/{token}/results", content=body)
    (session,) = desk.sessions.list(unread=True).items
    assert session.putts == 4
    bomb = b"PW1." + base64.urlsafe_b64encode(gzip.compress(bytes(64 << 20)))
    for bad in (b"", b"PW1.", b"PW1.!!!", code[:60], b"{}", b"[" * 9000, bomb, b"\xff\xfe"):
        assert home("POST", path, content=bad).status_code == 422
