"""One subscription for all pages, and nothing of theirs reaches the service's thread."""

from __future__ import annotations

import asyncio
import threading
from typing import Any

import pytest

from bridge.dashboard import Shown
from bridge.dashboard.audience import LEAST_PACE_S, MOST_A_SECOND, Audience
from bridge.dashboard.frames import Writer, frames


def test_fifty_pages_are_one_subscription_that_ends_with_the_last(door: Any) -> None:
    async def pages() -> None:
        audience = Audience(door)
        boxes = [audience.join() for _ in range(50)]
        assert (len(audience), len(door.callbacks)) == (50, 1)
        for box in boxes:
            assert await box.take(0) == door.shown
        door.show()
        for box in boxes:
            assert await box.take(1) == door.shown
        for box in boxes:
            audience.leave(box)
        assert (len(audience), door.callbacks) == (0, [])

    asyncio.run(pages())


def test_a_burst_from_another_thread_is_one_hand_over_of_the_newest(door: Any) -> None:
    async def page() -> None:
        audience = Audience(door)
        box = audience.join()
        await box.take(0)
        loop = asyncio.get_running_loop()
        handed: list[object] = []
        hand_over = loop.call_soon_threadsafe
        loop.call_soon_threadsafe = lambda *a, **k: handed.append(a) or hand_over(*a, **k)  # type: ignore[func-returns-value]
        burst = threading.Thread(target=lambda: [door.show() for _ in range(300)])
        burst.start()
        burst.join()  # the event loop stands still meanwhile, as behind a slow page
        loop.call_soon_threadsafe = hand_over  # type: ignore[method-assign]
        assert len(handed) == 1
        taken = await box.take(1)
        assert taken is not None
        assert taken.version == 301

    asyncio.run(page())


def test_a_picture_after_the_event_loop_has_ended_does_not_disturb_the_service(door: Any) -> None:
    async def page() -> None:
        Audience(door).join()

    asyncio.run(page())
    door.show()  # raises, were the closed loop's error let through


def test_a_stream_that_is_left_gives_its_mailbox_back(door: Any) -> None:
    async def page() -> None:
        audience = Audience(door)
        stream = frames(audience, Writer())
        assert (await anext(stream)).startswith(b"event: ping\n")
        assert (await anext(stream)).startswith(b"event: snapshot\n")
        assert len(audience) == 1
        await stream.aclose()  # type: ignore[attr-defined]
        assert len(audience) == 0

    asyncio.run(page())


def test_closing_ends_the_streams_and_later_ones_at_once(door: Any) -> None:
    async def page() -> None:
        audience = Audience(door)
        running = asyncio.ensure_future(collect(audience))
        while not len(audience):
            await asyncio.sleep(0)
        audience.close()
        await asyncio.wait_for(running, 1)
        assert await asyncio.wait_for(collect(audience), 1) == []

    asyncio.run(page())


async def collect(audience: Audience) -> list[bytes]:
    return [written async for written in frames(audience, Writer())]


def test_a_door_that_fails_is_told_on_the_stream(door: Any) -> None:
    door.fails = RuntimeError("the journal is locked")

    async def page() -> None:
        audience = Audience(door)
        assert await collect(audience) == [b'event: fault\ndata: {"version":null,"text":"the journal is locked"}\n\n']
        assert (len(audience), door.callbacks) == (0, [])

    asyncio.run(page())


@pytest.mark.parametrize("bad", [float("nan"), object()])
def test_a_picture_that_json_cannot_hold_is_a_fault_and_the_next_goes_on(bad: object) -> None:
    writer = Writer()
    assert writer.write(Shown(1, {"bad": bad})).startswith(b'event: fault\ndata: {"version":1,')
    assert (
        writer.write(Shown(2, {"good": "né"}))
        == 'event: snapshot\ndata: {"version":2,"snapshot":{"good":"né"},"outcomes":[],"truth":false}\n\n'.encode()
    )


@pytest.mark.parametrize(("pages", "pace_s"), [(1, LEAST_PACE_S), (50, 50 / MOST_A_SECOND)])
def test_the_more_look_on_the_fewer_pictures_each_gets(door: Any, pages: int, pace_s: float) -> None:
    async def look_on() -> None:
        audience = Audience(door)
        boxes = [audience.join() for _ in range(pages)]
        assert audience.pace_s == pytest.approx(pace_s)
        for box in boxes:
            audience.leave(box)
        assert audience.pace_s == LEAST_PACE_S

    asyncio.run(look_on())
