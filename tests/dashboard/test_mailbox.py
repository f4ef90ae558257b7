"""A page that does not take its pictures costs the host one picture, and gets the newest when it wakes."""

from __future__ import annotations

import asyncio

from hypothesis import given
from hypothesis import strategies as st

from bridge.dashboard import Shown
from bridge.dashboard.mailbox import Mailbox


def held(box: Mailbox) -> list[Shown]:
    """Every picture that the mailbox keeps alive."""
    return [value for value in vars(box).values() if isinstance(value, Shown)]


def test_ten_thousand_pictures_leave_one_the_newest() -> None:
    async def sleeping_page() -> None:
        box = Mailbox()
        for version in range(10_000):
            box.put(Shown(version, {}))
            assert len(held(box)) == 1
        taken = await box.take(0)
        assert taken is not None
        assert taken.version == 9_999
        assert held(box) == []
        assert await box.take(0) is None

    asyncio.run(sleeping_page())


@given(st.lists(st.integers(0, 20)))
def test_pictures_never_run_backwards(versions: list[int]) -> None:
    async def page() -> list[int]:
        box, taken = Mailbox(), []
        for version in versions:
            box.put(Shown(version, {}))
            if version % 3 == 0 and (shown := await box.take(0)) is not None:
                taken.append(shown.version)
        return taken

    taken = asyncio.run(page())
    assert taken == sorted(set(taken))


def test_whoever_waits_is_woken_by_a_picture_and_by_closing() -> None:
    async def pages() -> None:
        box = Mailbox()
        waiting = asyncio.ensure_future(box.take(60))
        await asyncio.sleep(0)
        box.put(Shown(3, {}))
        assert await waiting == Shown(3, {})
        waiting = asyncio.ensure_future(box.take(60))
        await asyncio.sleep(0)
        box.close()
        assert await asyncio.wait_for(waiting, 1) is None
        assert box.closed

    asyncio.run(pages())
