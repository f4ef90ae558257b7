"""Pictures and pings as frames of Server-Sent Events, written by hand: eight times cheaper than frame objects.

Rule: every frame is a whole picture, so that a page that missed any number of them is right again after one. A picture that
cannot be written is told to the page as a fault, and the stream goes on.

Format: WHATWG HTML, section 9.2 "Server-sent events".
"""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import AsyncIterator, Callable, Mapping
from typing import Any

from bridge.dashboard.audience import Audience
from bridge.dashboard.door import Shown

PING_S = 2.0

TOLD = frozenset(
    (
        *("departed", "arrived", "entered", "cleared", "authority", "lifted", "set-out"),
        *("move", "irregularity", "corrected", "session"),
    )
)
"""The kinds of outcome that the page's register shows; observations and whereabouts are in the snapshot already."""
TOLD_COUNT = 40


def picture(shown: Shown, truth: bool = False) -> dict[str, Any]:
    """What HTTP and stream both send: version, snapshot, the last outcomes of the register, oldest first, and whether the
    truth can be had beside it."""
    told = [outcome for outcome in shown.outcomes if outcome.get("says") in TOLD]
    return {"version": shown.version, "snapshot": shown.snapshot, "outcomes": told[-TOLD_COUNT:], "truth": truth}


def dumps(value: object) -> str:
    """JSON in one line; raises TypeError or ValueError for what JSON cannot hold, NaN included."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"), default=_as_json)


def _as_json(value: object) -> object:
    if isinstance(value, Mapping):
        return dict(value)
    raise TypeError(f"{type(value).__name__} cannot be written as JSON")


def frame(event: str, data: object) -> bytes:
    """One frame."""
    return f"event: {event}\ndata: {dumps(data)}\n\n".encode()


class Writer:
    """Writes each picture once, however many streams send it; `truth`: whether the truth can be had beside it."""

    def __init__(self, truth: bool = False) -> None:
        self._truth = truth
        self._version: int | None = None
        self._bytes = b""

    def write(self, shown: Shown) -> bytes:
        """The frame of a picture, or of the fault that stands in its way."""
        if shown.version != self._version:
            try:
                written = frame("snapshot", picture(shown, self._truth))
            except (TypeError, ValueError) as error:
                written = frame("fault", {"version": shown.version, "text": str(error)})
            self._version, self._bytes = shown.version, written
        return self._bytes


def ping() -> bytes:
    """A ping with the host's wall clock: the page shows the last one it heard when the stream freezes."""
    now = time.time()
    return frame("ping", {"t": round(now, 3), "time": time.strftime("%H:%M:%S", time.localtime(now))})


async def frames(audience: Audience, writer: Writer, pinged: Callable[[], bytes] = ping) -> AsyncIterator[bytes]:
    """The frames of one stream: the newest picture at once, then each newer one, and a ping every two seconds."""
    loop = asyncio.get_running_loop()
    try:
        box = audience.join()
    except Exception as error:  # whatever the service says, the page is told, and asks again
        yield frame("fault", {"version": None, "text": str(error)})
        return
    try:
        next_ping = loop.time()
        while not box.closed:
            if loop.time() >= next_ping:
                next_ping = loop.time() + PING_S
                yield pinged()
            shown = await box.take(next_ping - loop.time())
            if shown is not None:
                yield writer.write(shown)
    finally:
        audience.leave(box)
