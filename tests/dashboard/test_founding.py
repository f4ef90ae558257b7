"""The railway folder over HTTP: told, looked at anew, tried and made; what is no sketch never comes near it."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

import pytest
from fastapi.testclient import TestClient

from bridge.dashboard import create_app, create_founding

from ..folder.making.sketches import changed, small

JSON = {"content-type": "application/json"}


class HandGround:
    """A folder that is none; what came is kept."""

    def __init__(self) -> None:
        self.looked = 0
        self.came: list[Any] = []
        self.fails: Exception | None = None

    def stands(self) -> Mapping[str, Any]:
        if self.fails is not None:
            raise self.fails
        return {"state": "empty", "folder": "/home/mo/käthe", "findings": []}

    def look(self) -> Mapping[str, Any]:
        self.looked += 1
        return self.stands()

    def attempt(self, sketch: Any) -> Mapping[str, Any]:
        self.came.append(sketch)
        return {"findings": [], "texts": {"railway.toml": f"# {sketch.name}"}, "check": []}

    def make(self, sketch: Any) -> Mapping[str, Any]:
        if self.fails is not None:
            raise self.fails
        self.came.append(sketch)
        return {"accepted": True, "text": "Written.", "findings": []}


@pytest.fixture
def ground() -> HandGround:
    return HandGround()


@pytest.fixture
def http(ground: HandGround) -> Iterator[TestClient]:
    with client_of(create_founding(ground)) as client:
        yield client


def client_of(app: Any) -> TestClient:
    return TestClient(app, base_url="http://127.0.0.1:8077", raise_server_exceptions=False)


@pytest.mark.parametrize("has_session", [False, True])
def test_where_it_stands_is_told_and_never_kept_by_a_browser(ground: HandGround, door: Any, has_session: bool) -> None:
    http = client_of(create_app(door, ground=ground) if has_session else create_founding(ground))
    answer = http.get("/api/folder")
    assert (answer.status_code, answer.json()) == (200, ground.stands())
    assert (answer.headers["cache-control"], ground.looked) == ("no-store", 0)
    assert (http.post("/api/folder/look").json(), ground.looked) == (ground.stands(), 1)


@pytest.mark.parametrize("path", ["/api/folder/try", "/api/folder/make"])
def test_beside_a_session_no_folder_is_made(ground: HandGround, door: Any, path: str) -> None:
    assert client_of(create_app(door, ground=ground)).post(path, json=small()).status_code == 405
    assert ground.came == []


def test_a_sketch_is_tried_and_made(http: TestClient, ground: HandGround) -> None:
    assert http.post("/api/folder/try", json=small()).json()["texts"] == {"railway.toml": "# Alder Vale"}
    assert http.post("/api/folder/make", json=small()).json()["accepted"] is True
    assert [sketch.stations[1].name for sketch in ground.came] == ["Birch Halt"] * 2


@pytest.mark.parametrize("path", ["/api/folder/try", "/api/folder/make"])
@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"{", 422), (b"[]", 422), (b"{}", 422),
        (json.dumps({**small(), "folder": "/etc"}).encode(), 422),
        (json.dumps({**small(), "name": 7}).encode(), 422),
        (json.dumps({**small(), "name": "x" * 401}).encode(), 422),
        (json.dumps({**small(), "stations": [small()["stations"][0]] * 41}).encode(), 422),
        (json.dumps(changed("vehicles.0.at", [-1, 0])).encode(), 422),
        (b'{"name": "\\ud800"}', 422),
        (b"[" * 100_000, 422),
        (b" " * 131_073, 413),
    ],
)  # fmt: skip
def test_what_is_no_sketch_is_told_and_goes_no_further(
    http: TestClient, ground: HandGround, path: str, body: bytes, status: int
) -> None:
    answer = http.post(path, content=body, headers=JSON)
    assert (answer.status_code, answer.json()["accepted"], ground.came) == (status, False, [])


@pytest.mark.parametrize("path", ["/api/folder/try", "/api/folder/make", "/api/folder/look"])
def test_another_site_s_page_does_nothing(http: TestClient, ground: HandGround, path: str) -> None:
    assert http.post(path, json=small(), headers={"origin": "http://elsewhere.example"}).status_code == 403
    assert http.post(path, json=small(), headers={"host": "elsewhere.example"}).status_code == 421
    assert (ground.came, ground.looked) == ([], 0)


@pytest.mark.parametrize("path", ["/api/folder/try", "/api/folder/make"])
def test_a_plain_form_does_nothing(http: TestClient, ground: HandGround, path: str) -> None:
    answer = http.post(path, content=json.dumps(small()).encode(), headers={"content-type": "text/plain"})
    assert (answer.status_code, ground.came) == (415, [])


def test_what_fails_behind_it_is_told(http: TestClient, ground: HandGround) -> None:
    ground.fails = RuntimeError("the disk is gone")
    for answer in (http.get("/api/folder"), http.post("/api/folder/look"), http.post("/api/folder/make", json=small())):
        assert answer.status_code == 503
        assert "the disk is gone" in answer.json()["text"]


def test_alone_the_guide_stands_in_the_place_of_the_page(ground: HandGround) -> None:
    with client_of(create_founding(ground)) as client:
        for path in ("/", "/index.html", "/guide.html"):
            answer = client.get(path)
            assert (answer.status_code, "guide.js" in answer.text, "app.js" in answer.text) == (200, True, False)
            assert answer.headers["cache-control"] == "no-cache"
            assert "default-src 'self'" in answer.headers["content-security-policy"]
        assert client.get("/style.css").headers["content-type"].startswith("text/css")
        assert client.get("/api/stream").status_code == 404
        assert client.get("/../pyproject.toml").status_code == 404


def test_without_a_folder_to_tell_of_there_is_no_such_door(door: Any) -> None:
    assert client_of(create_app(door)).get("/api/folder").status_code == 404
