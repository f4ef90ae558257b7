"""How often a picture is drawn: at once after a calm, and never so often that boards would have to wait for it."""

from __future__ import annotations

import time
from typing import Any

import pytest

from bridge.service.noticeboard import Noticeboard
from bridge.service.showing import REST, SHORTEST_PAUSE_S, Showing


def showing() -> tuple[Showing, Noticeboard]:
    board = Noticeboard(print)
    return Showing(board, [], print), board


def view_of(cpu_s: float) -> Any:
    """A view that takes so much of the processor."""

    def view() -> dict[str, Any]:
        until = time.thread_time() + cpu_s
        while time.thread_time() < until:
            pass
        return {}

    return view


@pytest.mark.parametrize(("cpu_s", "pause_s"), [(0.0, SHORTEST_PAUSE_S), (0.02, 0.02 * REST)])
def test_the_longer_drawing_takes_the_longer_it_rests(cpu_s: float, pause_s: float) -> None:
    made, board = showing()
    made.draw(view_of(cpu_s), 100.0)
    assert board.latest().version == 1
    assert made.wait_s(100.0) is None  # nothing has changed
    made.hear(())
    wait_s = made.wait_s(100.0)
    assert wait_s is not None
    assert wait_s >= pause_s * 0.999
    made.draw(view_of(0), 100.0 + wait_s * 0.9)
    assert board.latest().version == 1
    made.draw(view_of(0), 100.0 + wait_s * 1.001)
    assert board.latest().version == 2
    board.close()


def test_after_a_calm_it_is_drawn_at_once() -> None:
    made, board = showing()
    made.draw(view_of(0), 100.0)
    made.hear(())
    assert made.wait_s(200.0) == 0.0
    board.close()


def test_a_view_that_fails_rests_too() -> None:
    made, board = showing()

    def view() -> dict[str, Any]:
        raise RuntimeError("no")

    made.draw(view, 100.0)
    made.hear(())
    assert made.wait_s(100.0) == pytest.approx(SHORTEST_PAUSE_S, rel=0.01)
    board.close()
