"""What nothing leads to any more is swept while nothing comes, or late but at last, and never by Python in between."""

from __future__ import annotations

import gc
import weakref
from collections.abc import Iterator

import pytest

from bridge.service.sweeping import BY_ITSELF, IDLE_S, LATEST_S, Sweep, spare


class Node:
    """Something that can lead to itself."""

    def __init__(self) -> None:
        self.itself = self


@pytest.fixture(autouse=True)
def _as_before() -> Iterator[None]:
    threshold = gc.get_threshold()
    gc.disable()
    yield
    gc.set_threshold(*threshold)
    gc.unfreeze()
    gc.enable()


def left_over() -> weakref.ref[Node]:
    """Something that nothing leads to but itself."""
    return weakref.ref(Node())


def test_python_leaves_what_has_been_kept_for_long() -> None:
    spare()
    assert gc.get_threshold()[2] == BY_ITSELF
    assert gc.get_freeze_count() > 0


def test_swept_in_a_quiet_turn_but_not_in_each() -> None:
    sweep, left = Sweep(0.0), left_over()
    sweep.turned(IDLE_S - 1.0, True)
    sweep.turned(IDLE_S + 1.0, False)
    assert left() is not None
    sweep.turned(IDLE_S + 2.0, True)
    assert left() is None
    left = left_over()
    sweep.turned(IDLE_S + 3.0, True)
    assert left() is not None


def test_swept_at_last_where_something_always_comes() -> None:
    sweep, left = Sweep(0.0), left_over()
    sweep.turned(LATEST_S - 1.0, False)
    assert left() is not None
    sweep.turned(LATEST_S, False)
    assert left() is None
