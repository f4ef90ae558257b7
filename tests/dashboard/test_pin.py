"""Acting from another device needs the PIN, looking never, this machine itself never; who guesses is slowed down."""

from __future__ import annotations

import socket
from collections.abc import Callable, Iterator
from typing import Any

import httpx
import pytest
from fastapi.testclient import TestClient

from bridge.dashboard import Listening, Pin, create_app, create_founding, is_this_machine, listen
from bridge.dashboard.pin import MOST_ADDRESSES, Guesses, PinGate

from .test_after import HandAfter
from .test_founding import HandGround

PIN = Pin("040404", "It stands in the file page-pin beside the journal.")
AT = "http://192.168.4.20:8077"
PHONE = ("192.168.4.31", 40000)
RIGHT = {"numbertaker-pin": "040404"}
WRONG = {"numbertaker-pin": "040405"}
ACTS = [
    ("/api/tell", {"words": "end"}), ("/api/after", {"token": "x"}), ("/api/folder/look", {}), ("/api/folder/try", {}),
    ("/api/folder/make", {}), ("/nowhere", {}),
]  # fmt: skip


@pytest.fixture
def app(door: Any) -> Any:
    return create_app(door, after=HandAfter(), ground=HandGround(), pin=PIN)


def phone(app: Any, host: str = PHONE[0]) -> TestClient:
    return TestClient(app, base_url=AT, client=(host, 40000))


@pytest.mark.parametrize(("path", "body"), ACTS)
def test_acting_without_the_pin_is_refused_and_told_where_it_stands(app: Any, door: Any, path: str, body: Any) -> None:
    answer = phone(app).post(path, json=body)
    assert (answer.status_code, door.told) == (401, [])
    assert answer.json() == {
        "accepted": False,
        "text": "To act from another device the PIN is needed. It stands in the file page-pin beside the journal.",
        "n": None,
    }
    assert answer.headers["www-authenticate"].startswith("PIN")  # RFC 9110, 15.5.2: a 401 names its scheme


@pytest.mark.parametrize("path", ["/", "/api/snapshot", "/api/after", "/api/folder", "/healthz", "/metrics", "/app.js"])
def test_looking_never_needs_it(app: Any, path: str) -> None:
    assert phone(app).get(path).status_code == 200


def test_with_the_pin_words_are_taken(app: Any, door: Any) -> None:
    assert phone(app).post("/api/tell", json={"words": "end"}, headers=RIGHT).status_code == 200
    assert door.told == [("end", None)]


@pytest.mark.parametrize("given", ["040405", "4040 4", "0404040", "040404 x", "", "käse".encode().decode("latin-1")])
def test_a_wrong_one_is_told_to_be_wrong(app: Any, door: Any, given: str) -> None:
    answer = phone(app).post("/api/tell", json={"words": "end"}, headers={"numbertaker-pin": given.encode("latin-1")})
    assert (answer.status_code, door.told) == (401, [])
    assert answer.json()["text"].startswith("That is not the PIN." if given else "To act")


@pytest.mark.parametrize("host", ["127.0.0.1", "127.9.9.9", "::1", "::ffff:127.0.0.1", "localhost"])
def test_this_machine_itself_is_not_asked(app: Any, door: Any, host: str) -> None:
    assert is_this_machine(host)
    assert phone(app, host).post("/api/tell", json={"words": "end"}).status_code == 200


@pytest.mark.parametrize("host", ["192.168.4.20", "::ffff:192.168.4.20", "fe80::1", "localhost.example", "", "testclient"])
def test_no_other_is_taken_for_this_machine(app: Any, door: Any, host: str) -> None:
    assert not is_this_machine(host)
    assert phone(app, host).post("/api/tell", json={"words": "end"}).status_code == 401
    assert door.told == []


def test_a_page_from_elsewhere_is_refused_with_the_pin_too(app: Any, door: Any) -> None:
    for headers in ({"origin": "http://evil.example"}, {"host": "evil.example"}):
        assert phone(app).post("/api/tell", json={"words": "end"}, headers={**RIGHT, **headers}).status_code in (403, 421)
    assert door.told == []


def test_without_a_pin_nobody_is_asked(door: Any) -> None:
    assert phone(create_app(door)).post("/api/tell", json={"words": "end"}).status_code == 200


class Hand:
    """A clock that the test turns."""

    def __init__(self) -> None:
        self.t = 1000.0

    def __call__(self) -> float:
        return self.t


@pytest.fixture
def clock() -> Hand:
    return Hand()


@pytest.fixture
def slow(door: Any, clock: Hand) -> Callable[..., int]:
    """`slow(headers, host)`: the status of a telling."""
    gate = PinGate(create_app(door), PIN, Guesses(clock))

    def tell(headers: dict[str, str], host: str = PHONE[0]) -> int:
        answer = phone(gate, host).post("/api/tell", json={"words": "end"}, headers=headers)
        if answer.status_code == 429:
            seconds = int(answer.headers["retry-after"])
            assert answer.json()["text"] == f"The PIN was wrong 5 times. Wait {seconds} s, then try again."
            assert 1 <= seconds <= 60
        return answer.status_code

    return tell


def test_after_five_wrong_ones_in_a_minute_the_right_one_has_to_wait_too(slow: Callable[..., int], clock: Hand) -> None:
    for _ in range(5):
        assert slow(WRONG) == 401
        clock.t += 2
    assert slow(RIGHT) == 429
    assert slow(WRONG) == 429
    assert slow(RIGHT, "192.168.4.32") == 200  # another device
    clock.t = 1059.9
    assert slow(RIGHT) == 429
    clock.t = 1060.0
    assert slow(RIGHT) == 200
    assert [slow(WRONG), slow(WRONG)] == [401, 429]  # four of the five count still


def test_asking_without_one_is_no_guess(slow: Callable[..., int]) -> None:
    assert {slow({}) for _ in range(12)} == {401}
    assert slow(RIGHT) == 200


def test_in_ipv6_a_whole_network_is_one_address(slow: Callable[..., int]) -> None:
    assert [slow(WRONG, f"2001:db8::{n}") for n in range(6)] == [401] * 5 + [429]
    assert slow(RIGHT, "2001:db8:0:1::1") == 200


def test_only_so_many_addresses_are_remembered() -> None:
    guesses = Guesses()
    for n in range(MOST_ADDRESSES + 500):
        guesses.note(str(n))
    assert len(guesses._wrong) == MOST_ADDRESSES


def own_address() -> str:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(("192.0.2.1", 9))  # nothing is sent: only the way there is looked up
        return str(probe.getsockname()[0])


@pytest.fixture
def outside(door: Any) -> Iterator[tuple[Listening, str]]:
    """The dashboard on every network of this machine, and its address in one of them."""
    try:
        host = own_address()
    except OSError:
        pytest.skip("this machine is in no network: nobody comes from outside")
    listening = listen(create_app(door, pin=PIN), "0.0.0.0", 0)
    yield listening, f"http://{host}:{listening.port}/"
    listening.stop()


@pytest.mark.wires
def test_over_a_real_wire_loopback_is_let_in_and_a_network_is_asked(outside: tuple[Listening, str], door: Any) -> None:
    listening, url = outside
    body = {"words": "end"}
    assert httpx.post(f"{listening.url}api/tell", json=body).status_code == 200
    assert httpx.post(f"{url}api/tell", json=body).status_code == 401
    assert httpx.post(f"{url}api/tell", json=body, headers=RIGHT).status_code == 200
    assert len(door.told) == 2


@pytest.mark.wires
def test_the_page_asks_once_says_what_is_wrong_and_keeps_it(browser: Any, outside: tuple[Listening, str], door: Any) -> None:
    context = browser.new_context(viewport={"width": 360, "height": 740})
    page = context.new_page()
    page.goto(f"{outside[1]}#begin")
    try:
        page.locator("#words").fill("end")
        page.locator("#words").press("Enter")
        dialog = page.get_by_role("dialog")
        dialog.get_by_text("beside the journal").wait_for()
        assert page.evaluate("document.activeElement.id") == "pin"
        page.keyboard.type("1234")
        page.keyboard.press("Enter")
        dialog.get_by_text("That is not the PIN.").wait_for()
        page.keyboard.press("Escape")
        page.get_by_text("it needs the PIN").first.wait_for()
        assert door.told == []
        page.locator("#words").press("Enter")
        page.locator("#pin").fill("040404")
        page.keyboard.press("Enter")
        door.wait_told("end")
        page.reload()
        page.locator("#words").fill("go-on")
        page.locator("#words").press("Enter")
        door.wait_told("go-on")
        for _ in range(5):
            httpx.post(f"{outside[1]}api/tell", json={"words": "end"}, headers=WRONG)
        page.locator("#words").fill("end")
        page.locator("#words").press("Enter")
        page.get_by_text("The PIN was wrong 5 times. Wait").first.wait_for()
        assert len(door.told) == 2
    finally:
        context.close()


def test_the_guide_asks_for_it_too() -> None:
    ground = HandGround()
    http = phone(create_founding(ground, pin=PIN))
    assert http.get("/api/folder").status_code == 200
    assert (http.post("/api/folder/look", json={}).status_code, ground.looked) == (401, 0)
    assert (http.post("/api/folder/look", json={}, headers=RIGHT).status_code, ground.looked) == (200, 1)
