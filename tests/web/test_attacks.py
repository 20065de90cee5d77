"""What a stranger on the network, a bad page or a curious player may try; each is refused.

The list with its reasons is docs/contracts/security.md.
"""

from __future__ import annotations

import io
import json
import statistics
import time
import zipfile
from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

import pytest

from pacewright.app.desk.desk import Desk
from pacewright.web.settings import ServerSettings
from tests.app.desk.people import add_recording, some_putts, stroke_table, willing_player
from tests.databases import KINDS, fresh_desk
from tests.web.clients import AWAY, PASSWORD, REMOTE, Caller, at_home, from_away, logged_in

SCRIPT = "<script>alert(1)</script>"
SQL = [
    "' OR '1'='1",
    "x'; DROP TABLE players; --",
    '"; DELETE FROM sessions; --',
    "%' UNION SELECT 1 --",
    "\\",
]


@pytest.fixture
def people(desk: Desk) -> dict[str, str]:
    """Two players with records, and what belongs to the second."""
    first, second = willing_player(desk, "Ada"), willing_player(desk, "Bo")
    session = desk.sessions.create(second.id)
    desk.putts.add(session.id, some_putts(3))
    recording = add_recording(desk, session)
    desk.work_once()
    stroke = desk.strokes.list(session_id=session.id).items[0]
    job = desk.jobs.of_session(session.id)[0]
    putt = desk.putts.list(session_id=session.id).items[0]
    putter = desk.putters.create(second.id, "Blade")
    upload = desk.uploads.begin(session.id, "a.csv", 10)
    share, _ = desk.sharing.create(second.id)
    return {
        "own": str(first.id), "player": str(second.id), "session": str(session.id), "putt": str(putt.id),
        "recording": str(recording.id), "stroke": str(stroke.id), "analysis": str(stroke.analysis_id),
        "job": str(job.id), "putter": str(putter.id), "upload": str(upload.id), "share": str(share.id),
    }  # fmt: skip


OF_ANOTHER = [
    "/players/{player}", "/players/{player}/story", "/players/{player}/strokes", "/players/{player}/putts",
    "/players/{player}/sessions", "/players/{player}/findings", "/players/{player}/consents",
    "/players/{player}/guardians", "/players/{player}/putters", "/players/{player}/plans",
    "/players/{player}/stations", "/players/{player}/shares", "/players/{player}/export",
    "/players/{player}/drill-results", "/players/{player}/budget", "/players/{player}/consents/missing",
    "/players/{player}/plans/active", "/players/{player}/report?session={session}",
    "/players/{own}/report?session={session}", "/sessions/{session}", "/sessions/{session}/recordings",
    "/sessions/{session}/putts", "/sessions/{session}/strokes", "/sessions/{session}/events",
    "/sessions/{session}/jobs", "/sessions/{session}/findings", "/sessions/{session}/uploads",
    "/recordings/{recording}", "/recordings/{recording}/content", "/recordings/{recording}/track",
    "/recordings/{recording}/analyses", "/recordings/{recording}/corrections",
    "/recordings/{recording}/strokes", "/analyses/{analysis}",
    "/strokes/{stroke}", "/strokes/{stroke}/curve", "/jobs/{job}", "/putts/{putt}", "/putters/{putter}",
    "/uploads/{upload}",
]  # fmt: skip
CHANGES = [
    ("POST", "/players", {"name": "X"}), ("DELETE", "/players/{own}", None),
    ("PATCH", "/players/{own}", {"name": "X"}), ("POST", "/players/{own}/sessions", {}),
    ("POST", "/players/{own}/consents", {"kind": "recording", "given_by": "player"}),
    ("DELETE", "/putts/{putt}", None), ("POST", "/sessions/{session}/putts", {"asked_m": 1, "holed": True}),
    ("PUT", "/strokes/{stroke}/events/top", {"time_s": 1.0}), ("POST", "/jobs/{job}/cancel", None),
    ("POST", "/players/{own}/shares", {}), ("POST", "/shares/{share}/revoke", None),
    ("PATCH", "/settings", {"units": "imperial"}), ("POST", "/users", {"name": "x"}),
    ("POST", "/backups", None), ("POST", "/demo-club", None), ("POST", "/players/{own}/erase", {"name": "A"}),
    ("DELETE", "/recordings/{recording}", None), ("POST", "/sessions/{session}/uploads", {}),
]  # fmt: skip
COACH_ONLY = [
    ("GET", "/users", None), ("GET", "/journal", None), ("GET", "/backups", None), ("POST", "/backups", None),
    ("GET", "/backups/pacewright-2026-01-01T00-00-00-000000.zip", None),
    ("PATCH", "/settings", {"units": "imperial"}), ("POST", "/demo-club", None),
    ("POST", "/users", {"name": "new", "password": PASSWORD, "role": "coach"}),
    ("POST", "/players/{player}/erase", {"name": "Bo"}),
]  # fmt: skip


def test_a_player_sees_nothing_of_another(desk: Desk, people: dict[str, str]) -> None:
    player = logged_in(desk, "ada", "player", player_id=desk.players.list(search="Ada").items[0].id)
    assert player.get(f"/players/{people['own']}")["name"] == "Ada"
    assert [line["name"] for line in player.get("/players")["items"]] == ["Ada"]
    assert player.get("/sessions")["items"] == []
    for path in OF_ANOTHER:
        answer = player("GET", path.format(**people))
        assert answer.status_code == 404, path
        assert "Bo" not in answer.text
    for path in ("/today", "/greens", "/jobs", "/undo"):
        assert player("GET", path).status_code == 403, path


def test_the_list_of_what_belongs_to_players_is_whole(home: Caller) -> None:
    """Every address to get something by an id is in the list above, or belongs to no player."""
    of_nobody = {"/greens/{green_id}", "/greens/{green_id}/readings", "/backups/{name}", "/groups/{group_id}"}
    of_kept = {"/plans/{plan_id}", "/plans/{plan_id}/file", "/stations/{station_id}"}
    of_kept |= {"/stations/{station_id}/strip", "/stations/{station_id}/beats"}
    of_kept |= {"/players/{player_id}/tempo", "/players/{player_id}/progress"}  # as budget
    described = {
        path.removeprefix("/api/v1")
        for path, methods in home.get("/openapi.json")["paths"].items()
        if "get" in methods and "{" in path
    }
    covered = {path.partition("?")[0] for path in OF_ANOTHER}
    blank = {path: "/".join("{}" if "{" in part else part for part in path.split("/")) for path in described}
    listed = {"/".join("{}" if "{" in part else part for part in path.split("/")) for path in covered}
    assert {path for path, shape in blank.items() if shape not in listed} == of_nobody | of_kept


def test_a_player_changes_nothing(desk: Desk, people: dict[str, str]) -> None:
    player = logged_in(desk, "ada", "player", player_id=desk.players.list(search="Ada").items[0].id)
    for method, path, body in CHANGES:
        answer = player(method, path.format(**people), **({} if body is None else {"json": body}))
        assert answer.status_code == 403, path
    assert desk.players.list().items[0].name == "Ada"


def test_an_assistant_does_not_do_what_is_the_coachs(desk: Desk, people: dict[str, str]) -> None:
    assistant = logged_in(desk, "as", "assistant")
    assert assistant("GET", f"/players/{people['player']}").status_code == 200
    for method, path, body in COACH_ONLY:
        answer = assistant(method, path.format(**people), **({} if body is None else {"json": body}))
        assert answer.status_code == 403, path


def test_nobody_gets_in_without_logging_in(desk: Desk, people: dict[str, str]) -> None:
    stranger = Caller(from_away(desk))
    for path in [*OF_ANOTHER, "/players", "/me", "/today", "/settings", "/reach"]:
        assert stranger("GET", path.format(**people)).status_code == 401, path
    for method, path, body in CHANGES + COACH_ONLY:
        answer = stranger(method, path.format(**people), **({} if body is None else {"json": body}))
        assert answer.status_code == 401, path
    for token in ("", "x", "0" * 43, SQL[0]):
        stranger.client.cookies.set("__Host-pacewright", token)
        assert stranger("GET", "/players").status_code == 401
    page = stranger.client.get("/players", headers={"accept": "text/html"}, follow_redirects=False)
    assert (page.status_code, page.headers["location"]) == (303, "/login?next=%2Fplayers")


def test_the_cookie_is_for_this_server_over_tls_alone_and_ends_with_the_log_out(desk: Desk) -> None:
    coach = logged_in(desk, "coach", "coach")
    answer = coach.client.post("/api/v1/login", json={"name": "coach", "password": PASSWORD})
    cookie = answer.headers["set-cookie"]
    for part in ("__Host-pacewright=", "HttpOnly", "Secure", "SameSite=lax", "Path=/"):
        assert part in cookie
    assert "Domain" not in cookie
    token = coach.client.cookies["__Host-pacewright"]
    coach.mark = answer.json()["csrf_token"]
    assert coach("DELETE", "/login").status_code == 204
    coach.client.cookies.set("__Host-pacewright", token, domain="desk.example")
    assert coach("GET", "/me").status_code == 401
    assert token.encode() not in (desk.data_dir / "pacewright.sqlite").read_bytes()


def test_guessing_a_password_is_slowed_and_tells_nothing(desk: Desk) -> None:
    desk.users.create("coach", PASSWORD, "coach")
    client = from_away(desk)
    told = set()
    for k in range(10):
        name = "coach" if k % 2 else f"nobody{k}"
        answer = client.post("/api/v1/login", json={"name": name, "password": f"wrong {k}"})
        told.add((answer.status_code, answer.json()["detail"]))
    assert len(told) == 1
    assert told.pop()[0] == 403
    held = client.post("/api/v1/login", json={"name": "coach", "password": PASSWORD})
    assert held.status_code == 429
    assert int(held.headers["retry-after"]) > 0
    forged = client.post(
        "/api/v1/login",
        json={"name": "coach", "password": PASSWORD},
        headers={"X-Forwarded-For": "203.0.113.9"},
    )
    assert forged.status_code == 429


def test_an_account_is_not_guessed_from_many_addresses(desk: Desk) -> None:
    desk.users.create("coach", PASSWORD, "coach")
    app = from_away(desk).app
    app.state.failed_by_account.most = 4
    for k in range(5):
        from fastapi.testclient import TestClient

        client = TestClient(app, base_url=AWAY, client=(f"203.0.113.{k}", 5000))
        answer = client.post("/api/v1/login", json={"name": "Coach ", "password": "wrong wrong"})
    assert answer.status_code == 429


def test_headers_that_lie_about_who_asks_are_ignored(desk: Desk) -> None:
    lies = {
        "X-Forwarded-For": "127.0.0.1", "X-Real-IP": "127.0.0.1", "Forwarded": "for=127.0.0.1;host=localhost",
        "X-Forwarded-Host": "localhost", "X-Original-URL": "/api/v1/health",
        "X-Rewrite-URL": "/api/v1/health",
        "X-HTTP-Method-Override": "GET", "Authorization": "Basic Y29hY2g6Y29hY2g=",
    }  # fmt: skip
    stranger = from_away(desk)
    assert stranger.get("/api/v1/players", headers=lies).status_code == 401
    assert stranger.post("/api/v1/players", headers=lies, json={"name": "X"}).status_code == 401


@pytest.mark.parametrize(
    "host",
    ["evil.example", "127.0.0.1.evil.example", "localhost.evil.example:8780", "", "[::1", "127.0.0.1 x"],
)
def test_a_name_that_was_bent_to_this_address_is_no_name_of_it(home: Caller, host: str) -> None:
    assert home("GET", "/players", headers={"Host": host}).status_code == 421
    assert home("POST", "/players", headers={"Host": host}, json={"name": "X"}).status_code == 421


@pytest.mark.parametrize("host", ["127.0.0.1:8780", "localhost:8780", "[::1]:8780", "LOCALHOST"])
def test_the_names_of_this_machine_are(home: Caller, host: str) -> None:
    assert home("GET", "/players", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://evil.example"}, {"Origin": "null"}, {"Origin": "http://127.0.0.1:9999"},
        {"Origin": "http://localhost:8780"}, {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"}, {"Origin": "http://127.0.0.1:8780"},
        {"Origin": "http://127.0.0.1:8780", "X-CSRF-Token": "guess"}, {"Sec-Fetch-Site": "same-origin"},
    ],
)  # fmt: skip
def test_another_page_changes_nothing_though_nobody_logs_in_here(
    desk: Desk, home: Caller, headers: dict[str, str]
) -> None:
    assert home("POST", "/players", headers=headers, json={"name": "X"}).status_code == 403
    form = {"Content-Type": "text/plain"} | headers
    assert home("POST", "/players", headers=form, content='{"name":"X"}').status_code == 403
    assert desk.players.list().items == ()


def test_our_own_page_bears_the_mark(home: Caller) -> None:
    mark = home.get("/me")["csrf_token"]
    headers = {"Origin": "http://127.0.0.1:8780", "Sec-Fetch-Site": "same-origin", "X-CSRF-Token": mark}
    assert home("POST", "/players", headers=headers, json={"name": "X"}).status_code == 201


def test_another_page_does_not_change_anything_with_a_log_in_and_does_not_read_it(desk: Desk) -> None:
    coach = logged_in(desk, "coach", "coach")
    mark, coach.mark = coach.mark, ""
    assert coach("POST", "/players", json={"name": "X"}).status_code == 403
    other = logged_in(desk, "as", "assistant").mark
    assert coach("POST", "/players", json={"name": "X"}, headers={"X-CSRF-Token": other}).status_code == 403
    abroad = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors", "Sec-Fetch-Dest": "image"}
    assert coach("GET", "/players", headers=abroad).status_code == 403
    right = {"X-CSRF-Token": mark, "Origin": AWAY}
    assert coach("POST", "/players", json={"name": "X"}, headers=right).status_code == 201
    allowed = coach("OPTIONS", "/players", headers={"Origin": "https://evil.example"})
    assert "access-control-allow-origin" not in allowed.headers


@pytest.mark.parametrize(
    "path", ["/", "/api/v1/players", "/login", "/static/desk/desk.css", "/nothing", "/p/x/"]
)
def test_every_answer_tells_the_browser_to_be_strict(home: Caller, path: str) -> None:
    headers = home.client.get(path).headers
    policy = headers["content-security-policy"]
    assert "unsafe" not in policy
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "script-src 'self'" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert "camera=(self), microphone=(self)" in headers["permissions-policy"]
    assert "server" not in headers
    assert "*" not in headers.get("access-control-allow-origin", "")


@pytest.mark.parametrize(
    "path",
    [
        "/static/../../../etc/passwd", "/static/%2e%2e/%2e%2e/server.py", "/static/..%2f..%2fserver.py",
        "/static/%2fetc%2fpasswd", "/static/desk/..%5c..%5cserver.py", "/fonts/..%2f..%2flook.py",
        "/fonts/%2e%2e%2flook.py", "/p/x/..%2f..%2fserver.py", "/p/..%2f..%2f/plan.json",
        "/api/v1/backups/..%2fpacewright.sqlite", "/api/v1/backups/%2e%2e%2fweb.key",
        "/api/v1/recordings/..%2f..%2fweb.key/content", "/static/desk.css%00.js",
    ],
)  # fmt: skip
def test_no_path_leads_out_of_its_folder(home: Caller, path: str) -> None:
    answer = home.client.get(path)
    assert answer.status_code in (403, 404, 422), answer.text[:200]
    assert b"root:" not in answer.content
    assert b"SQLite format" not in answer.content


def test_a_files_name_stays_a_name(desk: Desk, home: Caller) -> None:
    session = desk.sessions.create(willing_player(desk).id).id
    for name in (
        "../../../evil.csv",
        "/etc/cron.d/evil.csv",
        "..\\..\\evil.csv",
        "a\r\nX: y.csv",
        f"{SCRIPT}.csv",
    ):
        upload = home("POST", f"/sessions/{session}/uploads", json={"name": name, "size": 5}).json()
        assert "/" not in upload["name"]
        assert "\\" not in upload["name"]
        assert "\n" not in upload["name"]
        home("DELETE", f"/uploads/{upload['id']}")
    sent = {"file": ('../../x".csv', stroke_table())}
    recording = home.make(f"/sessions/{session}/recordings", files=sent)
    shown = home("GET", f"/recordings/{recording['id']}/content").headers
    assert shown["content-disposition"].startswith("attachment; ")
    assert '"x"' not in shown["content-disposition"]
    assert "sandbox" in shown["content-security-policy"]
    assert not (desk.data_dir.parent / 'x".csv').exists()


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("clip.mp4", b"MZ\x90\x00" + bytes(100)), ("page.html", b"<html><script>alert(1)</script></html>"),
        ("a.csv", b"\x7fELF" + bytes(200)), ("a.zip", b"PK\x03\x04" + bytes(100)),
        ("a.svg", b"<svg onload=x>"),
        ("a.csv", b""), ("a.exe", b"MZ"), ("a.mp4", b"GIF89a" + bytes(50)),
    ],
)  # fmt: skip
def test_what_is_no_recording_is_refused_by_its_content(
    desk: Desk, home: Caller, name: str, data: bytes
) -> None:
    session = desk.sessions.create(willing_player(desk).id).id
    answer = home("POST", f"/sessions/{session}/recordings", files={"file": (name, data, "video/mp4")})
    assert answer.status_code == (415 if data else 422), answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    if data:
        assert answer.json()["type"] == "urn:pacewright:problem:kind-not-taken"
        assert {"MP4", "CSV", "C3D", "WAV"} <= set(answer.json()["taken"])
        assert "MP4" in answer.json()["detail"]
    assert list((desk.data_dir / "files").glob("??/*")) == []


def test_a_body_that_is_too_large_is_refused_whatever_it_says_of_itself(desk: Desk, home: Caller) -> None:
    session = desk.sessions.create(willing_player(desk).id).id
    lying = {"Content-Length": str(5 << 40)}
    assert home("POST", "/players", headers=lying, content=b"{}").status_code == 413
    assert home("POST", "/players", headers={"Content-Length": "-1"}, content=b"{}").status_code == 413

    def endless() -> Iterator[bytes]:
        for _ in range(40):
            yield b"[" * (1 << 16)

    assert home("POST", "/players", content=endless()).status_code == 413
    upload = home.make(f"/sessions/{session}/uploads", {"name": "a.csv", "size": 1 << 30})["id"]
    piece = home("PATCH", f"/uploads/{upload}", content=bytes(17 << 20), headers={"Upload-Offset": "0"})
    assert piece.status_code == 413
    announced = home("POST", f"/sessions/{session}/uploads", json={"name": "a.csv", "size": 1 << 50})
    assert announced.status_code == 413


def test_bombs_do_not_go_off(home: Caller) -> None:
    packed = home("POST", "/players", headers={"Content-Encoding": "gzip"}, content=b"\x1f\x8b")
    assert packed.status_code == 415
    deep = home("POST", "/players", content=b'{"name":' + b"[" * 100_000 + b"]" * 100_000 + b"}")
    assert deep.status_code in (400, 413, 422)
    many = home("POST", "/players", json={"name": "x", "notes": "n" * 30_000})
    assert many.status_code == 422
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("data/players.json", b"0" * (300 << 20))
        archive.writestr("../../evil", b"x")
    answer = home("POST", "/players/import", content=bomb.getvalue())
    assert answer.status_code in (409, 413), answer.text
    assert home("POST", "/players/import", content=b"no archive").status_code == 409


@pytest.mark.parametrize("kind", KINDS)
def test_sql_in_a_field_is_text(kind: str, tmp_path: Path) -> None:
    with fresh_desk(kind, tmp_path) as desk:
        home = Caller(at_home(desk))
        for text in SQL:
            player = home.make("/players", {"name": text, "notes": text})
            assert home.get(f"/players/{player['id']}")["name"] == " ".join(text.split())
            session = home.make(f"/players/{player['id']}/sessions", {"place": text, "note": text})
            assert session["place"] == text
            putt = {"asked_m": 3.0, "holed": True, "block": text, "client_id": text}
            assert home.make(f"/sessions/{session['id']}/putts", putt)["block"] == text
            found = home.get("/players", params={"search": text})
            assert [line["id"] for line in found["items"]] == [player["id"]]
            assert home("GET", "/players", params={"after": text}).status_code == 422
            assert home("GET", f"/players/{text}").status_code in (404, 422)
            assert home("POST", "/login", json={"name": text, "password": text}).status_code == 403
            home.make("/greens", {"name": text, "speed_m": 3.0, "place": text})
        assert len(home.get("/players")["items"]) == len(SQL)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("text", ["a\x00b", "\ud800", "a" * 30_000])
def test_text_that_cannot_be_kept_is_refused_and_breaks_nothing(kind: str, text: str, tmp_path: Path) -> None:
    with fresh_desk(kind, tmp_path) as desk:
        home = Caller(at_home(desk))
        player = home.make("/players", {"name": "A"})["id"]
        for path, body in (
            ("/players", {"name": "B", "notes": text}), (f"/players/{player}/sessions", {"note": text}),
            (f"/players/{player}/guardians", {"name": "C", "contact": text}),
        ):  # fmt: skip
            sent = json.dumps(body)
            assert home("POST", path, content=sent).status_code == 422, path
        if text.isascii():
            assert home("GET", "/players", params={"search": text}).status_code == 422


@pytest.mark.parametrize("page", ["/", "/players", "/players/{player}", "/sessions/{session}", "/settings"])
def test_a_script_in_a_name_stays_text(home: Caller, page: str) -> None:
    hostile = f"{SCRIPT}\"'><img src=x onerror=alert(1)>"
    player = home.make("/players", {"name": hostile, "notes": hostile})["id"]
    session = home.make(f"/players/{player}/sessions", {"place": hostile, "note": hostile})["id"]
    answer = home.client.get(page.format(player=player, session=session), headers={"accept": "text/html"})
    if answer.status_code == 404:
        pytest.skip("there is no such page")
    assert answer.status_code == 200
    assert SCRIPT not in answer.text
    assert "<img src=x" not in answer.text


def test_nothing_that_breaks_off_shows_where(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    from fastapi.testclient import TestClient

    def broken(**_: object) -> None:
        raise RuntimeError("secret place /srv/data")

    monkeypatch.setattr(desk.players, "list", broken)
    client = TestClient(at_home(desk).app, base_url="http://127.0.0.1", raise_server_exceptions=False)
    for accept in ("application/json", "text/html"):
        answer = client.get("/api/v1/players", headers={"accept": accept})
        assert answer.status_code == 500
        assert answer.json()["type"].endswith("defect")
        assert "secret" not in answer.text
        assert answer.headers["x-content-type-options"] == "nosniff"


def test_a_proxy_is_believed_only_where_a_setting_says_so() -> None:
    assert not ServerSettings().behind_proxy
    assert not REMOTE.behind_proxy


def test_ids_that_nobody_has_look_as_those_of_others(desk: Desk, people: dict[str, str]) -> None:
    player = logged_in(desk, "ada", "player", player_id=desk.players.list(search="Ada").items[0].id)
    others = player("GET", f"/players/{people['player']}")
    nobody = player("GET", f"/players/{uuid4()}")
    assert (others.status_code, others.content) == (nobody.status_code, nobody.content)


def test_a_wrong_name_takes_as_long_as_a_wrong_password(desk: Desk) -> None:
    desk.users.create("coach", PASSWORD, "coach")

    def taken(name: str) -> float:
        times = []
        for _ in range(3):
            client = from_away(desk)
            began = time.perf_counter()
            client.post("/api/v1/login", json={"name": name, "password": "wrong wrong"})
            times.append(time.perf_counter() - began)
        return statistics.median(times)

    taken("warm-up")
    known, unknown = taken("coach"), taken("nobody")
    # The same hash is computed for both; without that the unknown one would be some twenty times quicker.
    assert unknown > known / 4
