"""What HTTP and the page make of what there is to write down; the one that writes is put in its place by hand."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator, Mapping
from typing import Any

import pytest
from fastapi.testclient import TestClient

from bridge.dashboard import Answer, create_app, listen

JSON = {"content-type": "application/json"}
OFFER: dict[str, Any] = {
    "session": 3,
    "token": "3f9c02d1b7aa",
    "text": "",
    "written": False,
    "vehicles": [
        {
            "vehicle": "w5", "painted": "<b>105</b>", "place": "alder.dock", "order": 2, "sure": 0.4, "by": "order",
            "look": True, "change": "moved", "was": "alder.loop",
        },
        {
            "vehicle": "w6", "painted": "106", "place": "alder.dock", "order": 1, "sure": 1.0, "by": "seen",
            "look": False, "change": "new", "was": None,
        },
    ],
    "moves": [
        {"line": 1, "vehicle": "w5", "start": "alder.dock", "end": "alder.loop", "working": "", "call": "", "load": "",
         "note": ""}
    ],
    "findings": [],
    "rows": {"whereabouts.csv": "vehicle,road,order\nw6,alder.dock,1\nw5,alder.dock,2\n"},
}  # fmt: skip


class HandAfter:
    """What can be written down, as the test says; `agreed` are the tokens that came."""

    def __init__(self) -> None:
        self.shown: dict[str, Any] = copy.deepcopy(OFFER)
        self.agreed: list[str] = []
        self.fails: Exception | None = None

    def offer(self) -> Mapping[str, Any]:
        if self.fails is not None:
            raise self.fails
        return self.shown

    def agree(self, token: str) -> Answer:
        if self.fails is not None:
            raise self.fails
        self.agreed.append(token)
        if token != self.shown["token"]:
            return Answer(False, "Something has changed since you looked. Look again.", None)
        self.shown = {**self.shown, "written": True}
        return Answer(True, "Written down: whereabouts.csv.", None)


@pytest.fixture
def after() -> HandAfter:
    return HandAfter()


@pytest.fixture
def http(door: Any, after: HandAfter) -> Iterator[TestClient]:
    app = create_app(door, after=after)
    with TestClient(app, base_url="http://127.0.0.1:8077", raise_server_exceptions=False) as client:
        yield client


def test_what_there_is_to_write_down_is_told_and_never_kept_by_a_browser(http: TestClient) -> None:
    answer = http.get("/api/after")
    assert (answer.status_code, answer.json()) == (200, OFFER)
    assert answer.headers["cache-control"] == "no-store"


def test_who_agrees_names_what_was_shown(http: TestClient, after: HandAfter) -> None:
    old = http.post("/api/after", json={"token": "000000000000"})
    assert (old.status_code, old.json()["accepted"]) == (200, False)
    assert "Look again" in old.json()["text"]
    answer = http.post("/api/after", json={"token": OFFER["token"]})
    assert answer.json() == {"accepted": True, "text": "Written down: whereabouts.csv.", "n": None}
    assert http.get("/api/after").json()["written"] is True


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"{", 422), (b"{}", 422), (b'{"token": ""}', 422), (b'{"token": 7}', 422), (b'{"token": null}', 422),
        (b'{"token": "a", "who": "mo"}', 422), (b'{"token": "%s"}' % (b"x" * 41), 422),
        (b'{"token": "%s"}' % (b"x" * 20_000), 413),
    ],
)  # fmt: skip
def test_what_is_no_agreement_writes_nothing(http: TestClient, after: HandAfter, body: bytes, status: int) -> None:
    answer = http.post("/api/after", content=body, headers=JSON)
    assert (answer.status_code, answer.json()["accepted"], after.agreed) == (status, False, [])


def test_another_site_s_page_and_a_plain_form_write_nothing(http: TestClient, after: HandAfter) -> None:
    body = {"token": OFFER["token"]}
    assert http.post("/api/after", json=body, headers={"origin": "http://elsewhere.example"}).status_code == 403
    assert (
        http.post("/api/after", content=b'{"token": "3f9c02d1b7aa"}', headers={"content-type": "text/plain"}).status_code
        == 415
    )
    assert http.post("/api/after", json=body, headers={"host": "elsewhere.example"}).status_code == 421
    assert after.agreed == []


def test_what_fails_behind_it_is_told(http: TestClient, after: HandAfter) -> None:
    after.fails = RuntimeError("the store is damaged")
    for answer in (http.get("/api/after"), http.post("/api/after", json={"token": "x"})):
        assert answer.status_code == 503
        assert "the store is damaged" in answer.json()["text"]


def test_without_anything_to_write_into_there_is_no_such_door(door: Any) -> None:
    with TestClient(create_app(door), base_url="http://127.0.0.1:8077") as client:
        assert client.get("/api/after").status_code == 404
        assert client.post("/api/after", json={"token": "x"}).status_code == 405


@pytest.mark.wires
def test_the_page_shows_it_once_the_session_has_ended_and_writes_at_one_press(
    browser: Any, door: Any, after: HandAfter, until: Callable[..., None]
) -> None:
    listening = listen(create_app(door, after=after), "127.0.0.1", 0)
    context = browser.new_context(viewport={"width": 360, "height": 740})
    try:
        page = context.new_page()
        complaints: list[str] = []
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.goto(f"{listening.url}#begin")
        page.wait_for_selector(".part")
        assert page.locator(".after").count() == 0
        door.show(lambda s: s["session"].update(state="ended", clock=None, clock_running=False))
        row = page.locator("[data-after=w5]").first
        row.wait_for()
        assert "<b>105</b>" in row.inner_text()
        assert "not seen: please look" in row.inner_text()
        assert page.locator("[data-after=w6]").inner_text().count("new") == 1
        row.get_by_role("button").click()
        assert page.locator("#words").input_value() == "stands w5 alder.dock"
        after.shown["token"] = "changed-since"
        with page.expect_response(lambda r: r.url.endswith("/api/after") and r.request.method == "GET"):
            page.get_by_role("button", name="Write down where everything stands").click()
        page.get_by_text("Something has changed since you looked").first.wait_for()
        page.get_by_role("button", name="Write down where everything stands").click()
        page.locator("[data-written]").wait_for()
        assert after.agreed == [OFFER["token"], "changed-since"]
        assert page.get_by_role("button", name="Write down where everything stands").count() == 0
        door.show(lambda s: s["session"].update(state="running", clock="19:00:00", clock_running=True))
        until(lambda: page.locator(".after").count() == 0)
        assert complaints == []
    finally:
        context.close()
        listening.stop()
