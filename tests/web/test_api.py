"""The API from a new player to the report, in the words of the command line."""

from __future__ import annotations

import datetime as dt
import json
import zipfile
from io import BytesIO
from pathlib import Path
from uuid import UUID

import pytest

from pacewright.app.desk import demo_club, measured
from pacewright.app.desk.desk import Desk
from pacewright.app.desk.workers import work_once
from pacewright.web.api import sessions
from tests.app.desk.people import stroke_table, willing_player
from tests.databases import KINDS, fresh_desk
from tests.web.clients import Caller, at_home


def _session(desk: Desk) -> tuple[str, str]:
    player = willing_player(desk)
    return str(player.id), str(desk.sessions.create(player.id).id)


def _recorded(desk: Desk, home: Caller, *, analyse: bool = True) -> tuple[str, str, dict[str, object]]:
    player, session = _session(desk)
    sent = {"file": ("putts.csv", stroke_table(), "text/csv")}
    recording = home.make(f"/sessions/{session}/recordings", files=sent, data={"asked_m": "3.66"})
    if analyse:
        assert work_once(desk._context) is not None
    return player, session, recording


def test_health_tells_nothing_but_that_it_lives(home: Caller) -> None:
    assert home.get("/health") == {"status": "ok"}


@pytest.mark.parametrize("kind", KINDS)
def test_from_a_new_player_to_the_report(kind: str, tmp_path: Path) -> None:
    with fresh_desk(kind, tmp_path) as desk:
        home = Caller(at_home(desk))
        player = home.make("/players", {"name": "Ida Morwenna", "birth_year": 1980})["id"]
        home.make(f"/players/{player}/consents", {"kind": "recording", "given_by": "player", "how": "said"})
        green = home.make("/greens", {"name": "Practice", "speed_m": 3.0})
        session = home.make(f"/players/{player}/sessions", {"green_id": green["id"]})["id"]
        sent = {"file": ("putts.csv", stroke_table(), "text/csv")}
        recording = home.make(f"/sessions/{session}/recordings", files=sent, data={"asked_m": "3.66"})
        assert recording["job"]["state"] == "queued"
        work_once(desk._context)
        assert home.get(f"/recordings/{recording['id']}")["job"]["state"] == "done"
        strokes = home.get(f"/sessions/{session}/strokes")["items"]
        assert sum(stroke["kind"] == "putt" for stroke in strokes) == 8
        assert set(strokes[0]["events"]["impact_time_s"]) == {"value", "sd"}
        assert home.get(f"/players/{player}/story")["strokes"] == len(strokes)
        wish = {"lengths_m": [3.0, 5.0], "green_id": green["id"]}
        station = home.make(f"/players/{player}/stations", wish)
        assert station["body"]["schema"] == "pacewright.station/1"
        assert home("GET", f"/stations/{station['id']}/strip").content.startswith(b"%PDF")
        assert home("GET", f"/stations/{station['id']}/beats?repeats=1").content.startswith(b"RIFF")
        plan = home.make(f"/players/{player}/plans", {"lengths_m": [3.0], "start": "2026-11-02"})
        assert home("GET", f"/plans/{plan['id']}/file?kind=ics").content.startswith(b"BEGIN:VCALENDAR")
        report = home("GET", f"/players/{player}/report?session={session}")
        assert report.content.startswith(b"%PDF")
        assert report.headers["content-type"] == "application/pdf"


def test_strokes_use_the_words_of_assess_json(desk: Desk, home: Caller) -> None:
    _, _, recording = _recorded(desk, home)
    (analysis,) = home.get(f"/recordings/{recording['id']}/analyses")
    told = analysis["result"]["strokes"]
    for stroke, same in zip(home.get(f"/recordings/{recording['id']}/strokes")["items"], told, strict=True):
        assert set(stroke["events"]) == set(same["events"])
        assert set(stroke["measures"]) == set(same["measures"])
        for name, figure in same["measures"].items():
            assert stroke["measures"][name] == pytest.approx(figure, nan_ok=True)
        assert stroke["kind"] == same["kind"]


def test_an_event_moved_by_hand_changes_the_figures_and_is_kept(desk: Desk, home: Caller) -> None:
    _, _, recording = _recorded(desk, home)
    putts = [s for s in home.get(f"/recordings/{recording['id']}/strokes")["items"] if s["kind"] == "putt"]
    stroke = putts[0]
    moved_to = stroke["events"]["takeaway_time_s"]["value"] - 0.02
    answer = home("PUT", f"/strokes/{stroke['id']}/events/takeaway", json={"time_s": moved_to})
    assert answer.status_code == 200, answer.text
    new = answer.json()
    assert new["id"] != stroke["id"]
    before, after = (one["measures"]["backswing_time_s"]["value"] for one in (stroke, new))
    assert after == pytest.approx(before + 0.02, abs=1e-6)
    assert [c["event"] for c in home.get(f"/recordings/{recording['id']}/corrections")] == ["takeaway"]
    again = home("PUT", f"/strokes/{stroke['id']}/events/takeaway", json={"time_s": moved_to})
    assert again.status_code == 409


def test_without_consent_nothing_is_kept(desk: Desk, home: Caller) -> None:
    player = home.make("/players", {"name": "Kit Farrow", "is_minor": True})["id"]
    session = home.make(f"/players/{player}/sessions")["id"]
    sent = {"file": ("putts.csv", stroke_table(), "text/csv")}
    for wanted in ("player", "guardian"):
        refused = home("POST", f"/sessions/{session}/recordings", files=sent)
        assert refused.status_code == 403
        assert refused.json()["type"].endswith("consent-missing")
        begun = home("POST", f"/sessions/{session}/uploads", json={"name": "a.csv", "size": 10})
        assert begun.status_code == 403
        consent: dict[str, object] = {"kind": "recording", "given_by": wanted}
        if wanted == "guardian":
            guardian = home.make(f"/players/{player}/guardians", {"name": "Rue Farrow"})
            consent["guardian_id"] = guardian["id"]
        home.make(f"/players/{player}/consents", consent)
    assert home("POST", f"/sessions/{session}/recordings", files=sent).status_code == 201
    assert len(list((desk.data_dir / "files").glob("??/*"))) == 1


def test_a_list_comes_in_pages_that_hold_everybody_once(home: Caller) -> None:
    names = [f"Player {k:02d}" for k in range(23)]
    for name in reversed(names):
        home.make("/players", {"name": name})
    found, after = [], ""
    while True:
        page = home.get(f"/players?limit=5{after}")
        found += [line["name"] for line in page["items"]]
        assert len(page["items"]) <= 5
        if page["next"] is None:
            break
        after = f"&after={page['next']}"
    assert found == names
    assert [line["name"] for line in home.get("/players?search=er 07")["items"]] == ["Player 07"]


@pytest.mark.parametrize(
    ("method", "path", "body", "status"),
    [
        ("GET", "/players/00000000-0000-0000-0000-000000000000", None, 404),
        ("GET", "/players/nobody", None, 422),
        ("GET", "/players?limit=0", None, 422),
        ("GET", "/players?after=nonsense", None, 422),
        ("POST", "/players", {"name": ""}, 422),
        ("POST", "/players", {"name": "A", "birth_year": 12}, 422),
        ("POST", "/players", {"name": "A", "rank": 1}, 422),
        ("POST", "/greens", {"name": "A", "speed_m": 99}, 422),
        ("DELETE", "/players", None, 405),
        ("GET", "/nothing", None, 404),
    ],
)
def test_every_error_is_a_problem_that_says_what_to_do(
    home: Caller, method: str, path: str, body: object, status: int
) -> None:
    answer = home(method, path, **({} if body is None else {"json": body}))
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    told = answer.json()
    assert told["status"] == status
    assert told["type"].startswith("urn:pacewright:problem:")
    assert len(told["detail"]) > 5
    assert "Traceback" not in answer.text


def test_two_editors_the_second_is_told_and_nothing_is_lost(desk: Desk, home: Caller) -> None:
    _, session = _session(desk)
    seen = home("GET", f"/sessions/{session}").headers["etag"]
    first = home("PATCH", f"/sessions/{session}", json={"note": "mine"}, headers={"If-Match": seen})
    second = home("PATCH", f"/sessions/{session}", json={"note": "other"}, headers={"If-Match": seen})
    assert (first.status_code, second.status_code) == (200, 412)
    assert home.get(f"/sessions/{session}")["note"] == "mine"
    newest = home("GET", f"/sessions/{session}").headers["etag"]
    assert newest == first.headers["etag"]
    third = home("PATCH", f"/sessions/{session}", json={"place": "Carpet"}, headers={"If-Match": newest})
    assert (third.status_code, third.json()["note"], third.json()["place"]) == (200, "mine", "Carpet")


@pytest.mark.parametrize(("tag", "status"), [(None, 428), ("*", 200), ('"x"', 412), ('W/"1.ab"', 200)])
def test_an_edit_says_what_it_has_seen(desk: Desk, home: Caller, tag: str | None, status: int) -> None:
    _, session = _session(desk)
    headers = {} if tag is None else {"If-Match": tag}
    assert home("PATCH", f"/sessions/{session}", json={"note": "x"}, headers=headers).status_code == status


def test_what_is_known_already_is_not_sent_again(desk: Desk, home: Caller) -> None:
    player, session = _session(desk)
    tag = home("GET", f"/sessions/{session}").headers["etag"]
    same = home("GET", f"/sessions/{session}", headers={"If-None-Match": tag})
    assert (same.status_code, same.content, same.headers["etag"]) == (304, b"", tag)
    home.make(f"/sessions/{session}/putts", {"asked_m": 3.0, "finish": "in"})
    assert home("GET", f"/sessions/{session}", headers={"If-None-Match": tag}).status_code == 200
    assert home("GET", f"/players/{player}", headers={"If-None-Match": f'{tag}, "other"'}).status_code == 200


@pytest.mark.parametrize(
    ("entry", "along_m", "holed"),
    [
        ({"asked": "10ft", "finish": "+2ft"}, 3.6576, False),
        ({"asked_m": 3.0, "finish": "-40cm"}, 2.6, False),
        ({"asked_m": 3.0, "finish": "in"}, None, True),
        ({"asked_m": 3.0, "finish_along_m": 3.2, "finish_across_m": -0.1}, 3.2, False),
        ({"asked_m": 3.0, "holed": True}, None, True),
    ],
)
def test_a_putt_is_entered_as_it_is_called_out(
    desk: Desk, home: Caller, entry: dict[str, object], along_m: float | None, holed: bool
) -> None:
    _, session = _session(desk)
    putt = home.make(f"/sessions/{session}/putts", entry)
    assert putt["holed"] is holed
    assert putt["finish_along_m"] == (None if along_m is None else pytest.approx(along_m))


def test_putts_sent_twice_are_kept_once_and_all_or_none(desk: Desk, home: Caller) -> None:
    _, session = _session(desk)
    some = {"putts": [{"asked_m": 3.0, "holed": True, "client_id": f"p{k}"} for k in range(5)]}
    first = home.make(f"/sessions/{session}/putts", some)
    assert [putt["id"] for putt in home.make(f"/sessions/{session}/putts", some)] == [p["id"] for p in first]
    bad = {"putts": [{"asked_m": 3.0, "holed": True, "client_id": "new"}, {"asked_m": -1.0, "holed": True}]}
    assert home("POST", f"/sessions/{session}/putts", json=bad).status_code == 422
    assert len(home.get(f"/sessions/{session}/putts")["items"]) == 5


def test_a_putt_is_changed_linked_and_deleted_and_comes_back(desk: Desk, home: Caller) -> None:
    _, session, recording = _recorded(desk, home)
    putt = home.make(f"/sessions/{session}/putts", {"asked_m": 3.0, "finish": "+40cm"})
    tag = home("GET", f"/putts/{putt['id']}").headers["etag"]
    changed = home("PATCH", f"/putts/{putt['id']}", json={"finish": "in"}, headers={"If-Match": tag})
    assert (changed.json()["holed"], changed.json()["finish_along_m"]) == (True, None)
    stroke = home.get(f"/recordings/{recording['id']}/strokes")["items"][0]["id"]
    linked = home("PUT", f"/putts/{putt['id']}/stroke", json={"stroke_id": stroke})
    assert linked.json()["stroke_id"] == stroke
    step = home("DELETE", f"/putts/{putt['id']}").json()
    assert home("GET", f"/putts/{putt['id']}").status_code == 404
    home.make(f"/undo/{step['id']}")
    assert home.get(f"/putts/{putt['id']}")["stroke_id"] == stroke


def test_a_table_of_putts_is_kept_once(desk: Desk, home: Caller) -> None:
    _, session = _session(desk)
    table = "asked_m,finish\n3.0,+20cm\n3.0,in\n"
    for _ in range(2):
        answer = home("POST", f"/sessions/{session}/putts/table", content=table)
        assert answer.status_code == 201, answer.text
    assert len(home.get(f"/sessions/{session}/putts")["items"]) == 2
    bad = home("POST", f"/sessions/{session}/putts/table", content="asked_m,finish\n3.0,perhaps\n")
    assert bad.status_code == 422
    assert "2" in bad.json()["detail"]


def test_a_recording_is_played_from_anywhere(desk: Desk, home: Caller) -> None:
    _, _, recording = _recorded(desk, home)
    path, data = f"/recordings/{recording['id']}/content", stroke_table()
    part = home("GET", path, headers={"Range": "bytes=100-199"})
    assert (part.status_code, part.content) == (206, data[100:200])
    assert part.headers["content-range"] == f"bytes 100-199/{len(data)}"
    assert home("GET", path).content == data
    assert home("GET", path, headers={"Range": f"bytes={len(data)}-"}).status_code == 416


def test_what_happens_in_a_session_is_told_as_it_happens(desk: Desk, home: Caller) -> None:
    _, session, _ = _recorded(desk, home)
    home.client.app.state.stopping.set()  # type: ignore[attr-defined]  # so that the stream ends by itself
    answer = home("GET", f"/sessions/{session}/events")
    assert answer.headers["content-type"].startswith("text/event-stream")
    (event,) = [line for line in answer.text.splitlines() if line.startswith("data: ")]
    told = json.loads(event.removeprefix("data: "))
    assert (told["recordings"], told["open_jobs"], told["jobs"][0]["state"]) == (1, 0, "done")
    assert told["strokes"] > 0


def test_jobs_are_cancelled_and_tried_again(desk: Desk, home: Caller) -> None:
    _, session = _session(desk)
    sent = {"file": ("putts.csv", stroke_table(), "text/csv")}
    job = home.make(f"/sessions/{session}/recordings", files=sent)["job"]["id"]
    assert [one["id"] for one in home.get("/jobs")] == [job]
    assert home.make(f"/jobs/{job}/cancel")["state"] == "cancelled"
    again = home.make(f"/jobs/{job}/retry")
    assert (again["state"], again["id"] != job) == ("queued", True)
    assert home("POST", f"/jobs/{again['id']}/retry").status_code == 409


def test_a_players_data_leave_as_a_package_and_come_back(desk: Desk, home: Caller) -> None:
    player, session, _ = _recorded(desk, home)
    answer = home("GET", f"/players/{player}/export")
    assert "csv/strokes.csv" in zipfile.ZipFile(BytesIO(answer.content)).namelist()
    refused = home("POST", f"/players/{player}/erase", json={"name": "Somebody else"})
    assert refused.status_code == 422
    erased = home.make(f"/players/{player}/erase", {"name": "Ida Morwenna"})
    assert erased["files"] == 1
    assert home("GET", f"/players/{player}").status_code == 404
    brought = home("POST", "/players/import", content=answer.content)
    assert brought.status_code == 201, brought.text
    assert home.get(f"/sessions/{session}")["strokes"] > 0
    assert not list((desk.data_dir / "incoming").iterdir())


def test_backups_are_made_checked_taken_and_deleted(desk: Desk, home: Caller) -> None:
    willing_player(desk)
    name = home.make("/backups")["name"]
    assert home.get("/backups")[0]["name"] == name
    assert home.make(f"/backups/{name}/check")["rows"] > 0
    assert home("GET", f"/backups/{name}").content.startswith(b"PK")
    home.make("/players", {"name": "Later"})
    home.make(f"/backups/{name}/restore")
    assert [line["name"] for line in home.get("/players")["items"]] == ["Ida Morwenna"]
    assert home("DELETE", f"/backups/{name}").status_code == 204


def test_settings_change_one_by_one(home: Caller) -> None:
    assert home("PATCH", "/settings", json={"units": "imperial"}).json()["units"] == "imperial"
    assert home("PATCH", "/settings", json={"units": "cubits"}).status_code == 422
    assert home.get("/settings") | {"paper": "a4"} == home.get("/settings")


def test_a_group_takes_turns(desk: Desk, home: Caller) -> None:
    players = [str(desk.players.create(name).id) for name in ("A", "B", "C")]
    sessions = home.make("/groups", {"player_ids": players})
    again = home.get(f"/groups/{sessions[0]['group_id']}")
    assert [one["player_id"] for one in again] == players


def test_today_tells_what_is_open(desk: Desk, home: Caller) -> None:
    _, session = _session(desk)
    assert [one["id"] for one in home.get("/today")["open_sessions"]] == [session]
    home.make(f"/sessions/{session}/end")
    assert home.get("/today")["open_sessions"] == []
    assert home.get("/today")["recent"][0]["held_on"] == dt.date.today().isoformat()


def test_the_fixed_addresses_are_in_the_description(home: Caller) -> None:
    paths = home.get("/openapi.json")["paths"]
    for method, path in (
        ("get", "/health"), ("post", "/players"), ("post", "/players/{player_id}/sessions"),
        ("post", "/sessions/{session_id}/recordings"), ("post", "/sessions/{session_id}/putts"),
    ):  # fmt: skip
        assert method in paths[f"/api/v1{path}"]


def test_the_figures_of_a_player_have_the_words_of_their_commands(desk: Desk, home: Caller) -> None:
    player, session = _session(desk)
    for count in (30, 30):
        putts = [{"asked_m": 3.0, "finish_along_m": 2.6 + 0.02 * k, "block": "a"} for k in range(count)]
        home.make(f"/sessions/{session}/putts", {"putts": putts})
        session = home.make(f"/players/{player}/sessions")["id"]
    for name in ("budget", "tempo", "progress"):
        told = home.get(f"/players/{player}/{name}")
        assert told["statement"]
        if told["body"] is not None:
            assert told["body"]["schema"].startswith("pacewright.")
    assert home.get(f"/players/{player}/progress")["body"]["schema"] == "pacewright.comparison/1"


def test_the_demo_club_is_made_by_a_job_that_the_first_page_shows(
    desk: Desk, home: Caller, monkeypatch: pytest.MonkeyPatch
) -> None:
    def one_member(beside: Desk, _progress: object) -> None:
        beside.players.create("Nora Velling", is_invented=True)

    monkeypatch.setattr(demo_club, "seed_demo_club", one_member)
    assert "POST /api/v1/demo-club" in home.client.get("/").text
    answer = home("POST", "/demo-club")
    assert (answer.status_code, answer.json()["state"]) == (202, "queued")
    assert home.make("/demo-club")["id"] == answer.json()["id"]  # ordered once
    part = home.client.get("/first-run/part").text
    assert f"/jobs/{answer.json()['id']}/cancel" in part
    assert "POST /api/v1/demo-club" not in part
    desk.work_once()
    assert 'href="/"' in home.client.get("/first-run/part").text
    assert home.get(f"/jobs/{answer.json()['id']}")["state"] == "done"
    assert [line["name"] for line in home.get("/players")["items"]] == ["Nora Velling"]
    assert home("POST", "/demo-club").status_code == 409


def test_a_package_that_is_none_is_refused_in_words(home: Caller) -> None:
    for content in (b"", b"no archive", b"PK\x05\x06" + bytes(18)):
        answer = home("POST", "/players/import", content=content)
        assert answer.status_code == 409
        assert "damaged or none of Pacewright's" in answer.json()["detail"]
    assert home.get("/players")["items"] == []


def test_the_events_of_a_session_tell_how_many_strokes_are_measured(
    desk: Desk, home: Caller, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(measured, "HAND_OVER_S", 0.0)
    told: list[tuple[int, int]] = []
    shown: list[str] = []
    write = measured.HandOver._write
    _, session, _ = _recorded(desk, home, analyse=False)

    def watched(hand_over: measured.HandOver) -> None:
        write(hand_over)
        if len(told) < 3:
            state = sessions._state(desk, UUID(session))
            told.append((state["measured"], state["strokes"]))
            shown.append(home.client.get(f"/sessions/{session}/part").text)

    monkeypatch.setattr(measured.HandOver, "_write", watched)
    desk.work_once()
    assert told == [(1, 0), (2, 0), (3, 0)]
    assert ["1 stroke so far" in shown[0], "3 strokes so far" in shown[2]] == [True, True]
    assert shown[2].count("<tr>") == 4
    after = home.client.get(f"/sessions/{session}/part").text
    assert "so far" not in after
    assert "10 strokes" in after
    assert sessions._state(desk, UUID(session))["measured"] == 0


def test_the_events_of_a_session_end_with_its_deletion(desk: Desk, home: Caller) -> None:
    _, session, _ = _recorded(desk, home, analyse=False)
    with home.client.stream("GET", f"/api/v1/sessions/{session}/events") as events:
        lines = events.iter_lines()
        assert next(lines) == "event: progress"
        home("DELETE", f"/sessions/{session}")
        assert "event: gone" in list(lines)  # and the stream is over
