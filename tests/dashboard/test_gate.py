"""A page from elsewhere, or a foreign name pointed at this machine, is kept out."""

from __future__ import annotations

import socket
from typing import Any

import pytest
from fastapi.testclient import TestClient

from bridge.dashboard import create_app
from bridge.dashboard.gate import plain_name

AT = "http://192.168.4.20:8077"


def client(door: Any, **more: Any) -> TestClient:
    return TestClient(create_app(door, **more), base_url=AT)


@pytest.mark.parametrize(
    "host",
    [
        "192.168.4.20:8077",
        "192.168.4.20",
        "localhost:8077",
        "LOCALHOST",
        "127.0.0.1:8077",
        "[::1]:8077",
        "localhost.:8077",
        f"{socket.gethostname()}:8077",
        f"{socket.gethostname()}.local:8077",
    ],
)
def test_an_address_of_this_machine_is_let_in(door: Any, host: str) -> None:
    assert client(door).get("/healthz", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:8077", "192.168.4.21:8077", "localhost.evil.example", "", "[::", "a@b@"]
)
@pytest.mark.parametrize("path", ["/", "/healthz", "/metrics", "/api/snapshot", "/app.js"])
def test_another_name_is_kept_out_of_everything(door: Any, host: str, path: str) -> None:
    answer = client(door).get(path, headers={"host": host})
    assert answer.status_code == 421
    assert "Open it by the address Numbertaker printed" in answer.json()["text"]


def test_a_further_name_may_be_allowed(door: Any) -> None:
    allowed = client(door, hosts=["Club-Room.example"])
    assert allowed.get("/healthz", headers={"host": "club-room.example:8077"}).status_code == 200
    assert client(door).get("/healthz", headers={"host": "club-room.example:8077"}).status_code == 421


@pytest.mark.parametrize("origin", [AT, "HTTP://192.168.4.20:8077"])
def test_the_page_itself_may_tell(door: Any, origin: str) -> None:
    assert client(door).post("/api/tell", json={"words": "end"}, headers={"origin": origin}).status_code == 200


def test_a_program_without_an_origin_may_tell(door: Any) -> None:
    assert client(door).post("/api/tell", json={"words": "end"}).status_code == 200


@pytest.mark.parametrize(
    "origin",
    [
        "http://evil.example",
        "null",
        "http://192.168.4.20",
        "http://192.168.4.20:8078",
        "file://192.168.4.20:8077",
        "192.168.4.20:8077",
    ],
)
def test_another_site_s_page_may_not(door: Any, origin: str) -> None:
    http = client(door)
    answer = http.post("/api/tell", json={"words": "end"}, headers={"origin": origin})
    assert (answer.status_code, door.told) == (403, [])
    assert answer.json()["accepted"] is False
    assert http.get("/api/snapshot", headers={"origin": origin}).status_code == 403


def test_one_way_to_write_an_address() -> None:
    assert plain_name("::FFFF:192.168.4.20") == "192.168.4.20"
    assert plain_name("Example.") == "example"
    assert plain_name("0:0::1") == "::1"
