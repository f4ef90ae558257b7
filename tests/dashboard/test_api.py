"""What HTTP answers: the picture, the health, the door for words, and a plain no to everything else."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from bridge.dashboard import Answer, app, create_app
from bridge.dashboard.frames import TOLD_COUNT

JSON = {"content-type": "application/json"}


@pytest.fixture
def http(door: Any) -> Iterator[TestClient]:
    with TestClient(create_app(door), base_url="http://127.0.0.1:8077", raise_server_exceptions=False) as client:
        yield client


def test_the_snapshot_is_the_newest_picture_with_the_register_s_outcomes(http: TestClient, door: Any) -> None:
    answer = http.get("/api/snapshot")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/json"
    body = answer.json()
    assert body["version"] == 1
    assert body["snapshot"] == door.shown.snapshot
    assert "whereabouts" not in {outcome["says"] for outcome in body["outcomes"]}
    assert [o["n"] for o in body["outcomes"]] == [o["n"] for o in door.shown.outcomes if o["says"] != "whereabouts"]


def test_the_register_is_bounded(http: TestClient, door: Any) -> None:
    door.show(outcomes=tuple({"n": n, "says": "arrived"} for n in range(200)))
    told = http.get("/api/snapshot").json()["outcomes"]
    assert [told[0]["n"], told[-1]["n"], len(told)] == [200 - TOLD_COUNT, 199, TOLD_COUNT]


def test_health(http: TestClient, door: Any) -> None:
    assert http.get("/healthz").json()["ok"] is True
    door.fails = RuntimeError("the journal is locked")
    answer = http.get("/healthz")
    assert answer.status_code == 503
    assert "the journal is locked" in answer.json()["text"]
    assert http.get("/api/snapshot").status_code == 503


def test_without_a_truth_none_is_announced_and_none_is_there(http: TestClient) -> None:
    assert http.get("/api/snapshot").json()["truth"] is False
    assert http.get("/api/truth").status_code == 404


def test_the_truth_is_asked_about_the_newest_picture(door: Any) -> None:
    asked = []

    def truth(snapshot: Mapping[str, Any]) -> Mapping[str, Any]:
        asked.append(snapshot["session"]["clock"])
        if len(asked) > 1:
            raise RuntimeError("the boards have stopped")
        return {"t": 12.5, "strips": {}, "wrong": []}

    with TestClient(create_app(door, truth=truth), base_url="http://127.0.0.1:8077") as client:
        assert client.get("/api/snapshot").json()["truth"] is True
        door.show(lambda s: s["session"].update(clock="20:00:07"))
        answer = client.get("/api/truth")
        assert (answer.status_code, answer.json()) == (200, {"t": 12.5, "strips": {}, "wrong": []})
        assert answer.headers["cache-control"] == "no-store"
        assert asked == ["20:00:07"]
        failed = client.get("/api/truth")
        assert failed.status_code == 503
        assert "the boards have stopped" in failed.json()["text"]
        assert client.post("/api/truth").status_code == 405


def test_words_reach_the_door_and_its_answer_comes_back(http: TestClient, door: Any) -> None:
    answer = http.post("/api/tell", json={"words": "  begin 19:00 ", "who": "Mo at the Quay"})
    assert answer.status_code == 200
    assert answer.json() == {"accepted": True, "text": "begin 19:00: noted.", "n": 418}
    assert door.told == [("begin 19:00", "Mo-at-the-Quay")]


def test_words_that_are_none_are_answered_plainly(http: TestClient, door: Any) -> None:
    door.answers["beginn 19:00"] = Answer(False, 'There is no word "beginn". Did you mean "begin"?', None)
    answer = http.post("/api/tell", json={"words": "beginn 19:00"})
    assert answer.status_code == 200
    assert answer.json() == {"accepted": False, "text": 'There is no word "beginn". Did you mean "begin"?', "n": None}


@pytest.mark.parametrize(
    ("body", "status", "says"),
    [
        (b"{", 422, "Invalid JSON"),
        (b"", 422, "Invalid JSON"),
        (b"[]", 422, "words"),
        (b'{"who": "mo"}', 422, "words: Field required"),
        (b'{"words": ""}', 422, "words"),
        (b'{"words": "   "}', 422, "words"),
        (b'{"words": 7}', 422, "words"),
        (b'{"words": "end", "whom": "mo"}', 422, "whom"),
        (b'{"words": "end\\nend"}', 422, "one line"),
        (b'{"words": "end\\u2028end"}', 422, "one line"),
        (b'{"words": "end\\u0000"}', 422, "one line"),
        (b'{"words": "end", "who": "mo\\tmo"}', 422, "one line"),
        (b'{"words": "\\ud800"}', 422, "words"),
        (b"\xff", 422, "Invalid JSON"),
        (b'{"words": "%s"}' % (b"x" * 1001), 422, "at most 1000"),
        (b'{"words": "end", "who": "%s"}' % (b"x" * 41), 422, "at most 40"),
        (b'{"words": "%s"}' % (b"x" * 20_000), 413, "Too long"),
    ],
)
def test_what_is_no_telling_never_reaches_the_door(http: TestClient, door: Any, body: bytes, status: int, says: str) -> None:
    answer = http.post("/api/tell", content=body, headers=JSON)
    assert answer.status_code == status
    assert answer.json()["accepted"] is False
    assert says in answer.json()["text"]
    assert door.told == []


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""])
def test_only_json_is_taken_for_a_form_of_another_site_can_send_the_rest(http: TestClient, door: Any, kind: str) -> None:
    answer = http.post("/api/tell", content=b'{"words": "end"}', headers={"content-type": kind})
    assert (answer.status_code, door.told) == (415, [])


def test_limits_themselves_are_taken(http: TestClient, door: Any) -> None:
    assert http.post("/api/tell", json={"words": "x" * 1000, "who": "y" * 40}).status_code == 200
    assert http.post("/api/tell", json={"words": "end", "who": "  "}).status_code == 200
    assert http.post("/api/tell", json={"words": "end", "who": None}).status_code == 200
    assert [who for _, who in door.told] == ["y" * 40, None, None]


@pytest.mark.parametrize("path", ["/api/tell", "/api/nothing", "/nothing.js", "/../pyproject.toml", "/.keep", "/docs"])
def test_what_is_not_there_is_a_clear_no(http: TestClient, path: str) -> None:
    assert http.get(path).status_code in {404, 405}


def test_a_door_that_fails_is_told(http: TestClient, door: Any) -> None:
    door.fails = RuntimeError("the service has stopped")
    answer = http.post("/api/tell", json={"words": "end"})
    assert answer.status_code == 503
    assert answer.json()["text"] == "It could not be taken: the service has stopped"


def test_a_door_that_does_not_answer_is_told_and_not_cancelled(door: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(app, "ANSWER_S", 0.05)
    door.silent = True
    futures: list[Any] = []
    tell = door.tell
    door.tell = lambda words, who: futures.append(tell(words, who)) or futures[-1]
    with TestClient(create_app(door), base_url="http://localhost") as http:
        answer = http.post("/api/tell", json={"words": "end"})
    assert answer.status_code == 504
    assert "may have been taken" in answer.json()["text"]
    futures[0].set_result(Answer(True, "late", 1))  # raises, were it cancelled
    assert futures[0].result().n == 1


def test_the_page_is_served_whole_and_asked_for_anew(http: TestClient) -> None:
    page = http.get("/")
    assert page.headers["content-type"] == "text/html; charset=utf-8"
    assert page.headers["cache-control"] == "no-cache"
    assert "default-src 'self'" in page.headers["content-security-policy"]
    script = http.get("/app.js")
    assert script.headers["content-type"] == "text/javascript; charset=utf-8"
    assert http.get("/app.js", headers={"if-none-match": script.headers["etag"]}).status_code == 304
    assert http.get("/tokens.css").headers["content-type"] == "text/css; charset=utf-8"


def test_another_page_can_be_served(door: Any, tmp_path: Path) -> None:
    (tmp_path / "index.html").write_text("another page")
    with TestClient(create_app(door, web_dir=tmp_path), base_url="http://localhost") as http:
        assert http.get("/").text == "another page"
