"""Whoever looks on never holds up whoever shows."""

from __future__ import annotations

import threading
import time

from bridge.dashboard import Shown
from bridge.service.noticeboard import Noticeboard


def test_a_slow_onlooker_gets_the_newest_and_holds_nobody_up() -> None:
    board = Noticeboard(print)
    got: list[int] = []
    looking, go_on, has_last = threading.Event(), threading.Event(), threading.Event()

    def slow(shown: Shown) -> None:
        looking.set()
        go_on.wait(10)
        got.append(shown.version)
        if shown.version == 500:
            has_last.set()

    board.subscribe(slow)
    board.put_up(Shown(1, {}))
    assert looking.wait(10)
    began = time.monotonic()
    for version in range(2, 501):
        board.put_up(Shown(version, {}))
    assert time.monotonic() - began < 1.0
    assert board.latest().version == 500
    go_on.set()
    assert has_last.wait(10)
    assert got == [1, 500]
    board.close()


def test_one_that_fails_is_left_out_and_the_others_go_on() -> None:
    log: list[str] = []
    board = Noticeboard(log.append)
    got: list[int] = []
    seen = threading.Condition()

    def fails(shown: Shown) -> None:
        raise OSError("no more pages")

    def good(shown: Shown) -> None:
        with seen:
            got.append(shown.version)
            seen.notify_all()

    board.subscribe(fails)
    leave = board.subscribe(good)
    with seen:
        board.put_up(Shown(1, {}))
        assert seen.wait_for(lambda: got == [1], 10)
        board.put_up(Shown(2, {}))
        assert seen.wait_for(lambda: got == [1, 2], 10)
    assert len(log) == 1
    assert "no more pages" in log[0]
    leave()
    board.close()
