"""A phone that slept, or was out of the network for a while: the right picture is back within two seconds."""

from __future__ import annotations

import os
import signal
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest

from bridge.dashboard import Listening

pytestmark = pytest.mark.wires

SLEEPS_S = 6.0
"""So long that its stream counts as stopped when it wakes."""

NOTING = """
window.back = {};
new MutationObserver(() => {
  const clock = document.querySelector('[data-clock]')?.textContent;
  if (clock >= '20:44:00' && !document.querySelector('[data-frozen]')) window.back.at ??= Date.now();
}).observe(document, { subtree: true, childList: true, characterData: true });
"""


class Wave:
    """What lies between a phone and this machine: while it is `gone`, nothing comes through, and nobody is told."""

    def __init__(self, port: int) -> None:
        self._there = ("127.0.0.1", port)
        self._here = socket.create_server(("127.0.0.1", 0))
        self.port = self._here.getsockname()[1]
        self.gone = threading.Event()
        self._open: list[socket.socket] = [self._here]
        threading.Thread(target=self._take, daemon=True).start()

    def _take(self) -> None:
        while True:
            try:
                near, _ = self._here.accept()
            except OSError:
                return
            self._open.append(near)
            if self.gone.is_set():
                continue
            far = socket.create_connection(self._there)
            self._open.append(far)
            for one, other in ((near, far), (far, near)):
                threading.Thread(target=self._carry, args=(one, other), daemon=True).start()

    def _carry(self, one: socket.socket, other: socket.socket) -> None:
        is_lost = False
        try:
            while data := one.recv(65536):
                is_lost = is_lost or self.gone.is_set()  # what was open when it went stays dumb
                if not is_lost:
                    other.sendall(data)
            other.close()
        except OSError:
            return

    def close(self) -> None:
        for one in self._open:
            one.close()


@pytest.fixture
def wave(served: Listening) -> Iterator[Wave]:
    made = Wave(served.port)
    yield made
    made.close()


def is_right(page: Any) -> float:
    """When the right picture stood there again, in unix milliseconds."""
    return float(page.wait_for_function("() => window.back.at").json_value())


def change(door: Any) -> None:
    """What happens while nobody hears of it."""
    door.show(lambda s: (s["vehicles"]["w219"].update(place="sandle-quay.quay"), s["session"].update(clock="20:44:00")))


@contextmanager
def asleep(browser: Any) -> Iterator[None]:
    """The processes in which this browser draws its pages stand still, as those of a phone that sleeps do."""
    devtools = browser.new_browser_cdp_session()
    found = devtools.send("SystemInfo.getProcessInfo")["processInfo"]
    drawing = [row["id"] for row in found if row["type"] == "renderer"]
    assert drawing
    try:
        for process in drawing:
            os.kill(process, signal.SIGSTOP)
        yield
    finally:
        for process in drawing:
            os.kill(process, signal.SIGCONT)


def test_a_phone_wakes(
    open_page: Callable[..., Any],
    browser: Any,
    served: Listening,
    wave: Wave,
    door: Any,
    figure: Callable[[str], None],
) -> None:
    page = open_page(360, 740, at="stock/w219", is_altered=True)
    page.goto(served.url.replace(str(served.port), str(wave.port)) + "#stock/w219")
    page.wait_for_selector(".stream-mark.is-live")
    page.evaluate(NOTING)
    with asleep(browser):
        wave.gone.set()
        time.sleep(SLEEPS_S)
        change(door)
        wave.gone.clear()
        woke = time.time() * 1000
    took_ms = is_right(page) - woke
    assert page.locator("[data-one] .where", has_text="Sandle Quay quay").is_visible()
    figure(f"a phone that slept has the right picture {took_ms:.0f} ms behind waking")
    assert 0 <= took_ms < 2000


def test_a_phone_comes_back_into_the_network(
    open_page: Callable[..., Any], served: Listening, wave: Wave, door: Any, figure: Callable[[str], None]
) -> None:
    page = open_page(360, 740, at="stock/w219", is_altered=True)
    page.goto(served.url.replace(str(served.port), str(wave.port)) + "#stock/w219")
    page.wait_for_selector(".stream-mark.is-live")
    page.evaluate(NOTING)
    wave.gone.set()
    page.context.set_offline(True)
    page.wait_for_selector("[data-frozen]")
    assert page.locator("[data-frozen]").inner_text().startswith("Frozen since ")
    change(door)
    wave.gone.clear()
    back = page.evaluate("Date.now()")
    page.context.set_offline(False)
    took_ms = is_right(page) - back
    assert page.locator("[data-one] .where", has_text="Sandle Quay quay").is_visible()
    figure(f"a phone that was out of the network has the right picture {took_ms:.0f} ms behind coming back")
    assert 0 <= took_ms < 2000
