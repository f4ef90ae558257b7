"""The live stream over real HTTP: the newest picture at once, pings between, and no page that holds up another."""

from __future__ import annotations

import json
import re
import socket
import time
from collections.abc import Callable, Iterator
from typing import Any

import httpx
import pytest

from bridge.dashboard import Listening, create_app, listen
from bridge.dashboard.listening import PatientProtocol


def events(response: httpx.Response) -> Iterator[tuple[str, Any]]:
    """The events of a stream: name and data, as WHATWG HTML section 9.2.6 has a browser read them."""
    name = ""
    for line in response.iter_lines():
        field, _, value = line.partition(": ")
        if field == "event":
            name = value
        elif field == "data":
            yield name, json.loads(value)


def pictures(response: httpx.Response) -> Iterator[Any]:
    return (data for name, data in events(response) if name == "snapshot")


@pytest.fixture
def http(served: Listening) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=served.url, timeout=10) as client:
        yield client


def test_the_newest_picture_comes_at_once_and_each_newer_one(http: httpx.Client, door: Any) -> None:
    door.show(lambda s: s["session"].update(clock="20:00:00"))
    with http.stream("GET", "/api/stream") as response:
        assert response.headers["content-type"].startswith("text/event-stream")
        assert response.headers["cache-control"] == "no-cache"
        seen = pictures(response)
        assert next(seen)["snapshot"]["session"]["clock"] == "20:00:00"
        began = time.monotonic()
        door.show(lambda s: s["session"].update(clock="20:00:04"))
        assert next(seen)["snapshot"]["session"]["clock"] == "20:00:04"
        assert time.monotonic() - began < 1


def test_a_page_that_did_not_look_gets_the_present_not_the_past(http: httpx.Client, door: Any) -> None:
    with http.stream("GET", "/api/stream") as response:
        seen = pictures(response)
        assert next(seen)["version"] == 1
        for _ in range(500):
            door.show()
        versions = []
        while not versions or versions[-1] < 501:
            versions.append(next(seen)["version"])
        assert len(versions) <= 100  # on a busy machine the 500 take a second or two, and pictures go out in between


def test_pings_carry_the_host_s_clock(http: httpx.Client) -> None:
    with http.stream("GET", "/api/stream") as response:
        pings = (data for name, data in events(response) if name == "ping")
        first, second = next(pings), next(pings)
    assert re.fullmatch(r"\d\d:\d\d:\d\d", first["time"])
    assert abs(first["t"] - time.time()) < 60
    assert 1.5 < second["t"] - first["t"] < 3


def test_a_page_that_leaves_is_forgotten(http: httpx.Client, door: Any, until: Callable[..., None]) -> None:
    with http.stream("GET", "/api/stream") as response:
        seen = pictures(response)
        next(seen)
        assert http.get("/healthz").json()["pages"] == 1
    until(lambda: http.get("/healthz").json()["pages"] == 0)
    until(lambda: door.callbacks == [])


class HastyProtocol(PatientProtocol):
    """As the real one, with half a second for a peer that takes nothing."""

    drain_s = 0.5


def test_a_page_that_takes_nothing_is_dropped_and_holds_up_nobody(door: Any, until: Callable[..., None]) -> None:
    door.show(lambda s: s.update(ballast="x" * 400_000))
    served = listen(create_app(door), "127.0.0.1", 0, protocol=HastyProtocol)
    try:
        with socket.socket() as asleep, httpx.Client(base_url=served.url, timeout=10) as http:
            asleep.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
            asleep.connect((served.host, served.port))
            asleep.sendall(b"GET /api/stream HTTP/1.1\r\nHost: localhost\r\n\r\n")
            until(lambda: http.get("/healthz").json()["pages"] == 1)
            with http.stream("GET", "/api/stream") as response:
                seen = pictures(response)
                assert next(seen)["version"] == 2
                door.show()
                assert next(seen)["version"] == 3
                until(lambda: http.get("/healthz").json()["pages"] == 1)
                door.show()
                assert next(seen)["version"] == 4
    finally:
        served.stop()


def test_the_real_patience_leaves_time_within_ten_seconds() -> None:
    assert PatientProtocol.drain_s == 6  # the rest is what buffers hold before they are full: `tests/clients.py` measures it


def test_stopping_does_not_wait_for_open_pages(door: Any) -> None:
    served = listen(create_app(door), "127.0.0.1", 0)
    with httpx.Client(base_url=served.url, timeout=10) as http, http.stream("GET", "/api/stream") as response:
        seen = pictures(response)
        next(seen)
        began = time.monotonic()
        served.stop()
        assert time.monotonic() - began < 1.5
        assert list(seen) == []
    served.stop()
    assert door.callbacks == []


def test_a_port_that_is_taken_is_told(served: Listening, door: Any) -> None:
    with pytest.raises(OSError, match=rf"cannot listen at 127\.0\.0\.1:{served.port} .*--listen"):
        listen(create_app(door), "127.0.0.1", served.port)
