"""`numbertaker run` made to be killed: its clocks are turned by the trial, its outcomes are printed.

    python mortal_bridge.py FOLDER STORE SHARED

This process loads the program and starts nothing. Told `start PREFIX` on standard input it forks a bridge, which is
`numbertaker run` from its first line on, and answers with its process id; what the bridge prints goes to PREFIX.out and
PREFIX.err, each outcome handed on as a line of JSON. Told `wait`, it answers how the bridge ended. So a start takes the time
that a start takes, and not that of loading.

SHARED is a file (`trials/sharing.py`): the seconds that the monotonic clock and the time of day both read, when each line
was said, and a place where the bridge notes the last line that has reached it. A line counts as heard when it was said,
however long this machine took to carry it; the loop's clock stands at the last line heard.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from sharing import Shared, mark_of

from bridge.cli import main, run
from bridge.links.link import Arrival
from bridge.service.clock import HostClock
from bridge.service.inbox import Item
from bridge.service.loop import Service
from bridge.service.resuming import Resumed
from bridge.wire.encode import encode
from bridge.wire.records import Received, Record, Said

BEGAN_WALL = 1_700_000_000.0


class LookedUp:
    """The clock as far as the bridge has heard the railway: it stands at the last line that the loop has been given.

    On a clock a thousand times as fast a millisecond between looking what has come and passing deadlines is a second, in
    which lines come.
    """

    def __init__(self, clock: HostClock, shared: Shared) -> None:
        self._clock, self._shared = clock, shared
        self._since_t = clock() - shared.t
        self._t = self._heard_t = clock()

    def hear(self, mark: bytes) -> float:
        """When a line was said that has come: so late the bridge has heard."""
        self._heard_t = max(self._heard_t, round(self._since_t + self._shared.when_said(mark), 6))
        return self._heard_t

    def look(self) -> None:
        """The loop looks what has come."""
        self._t = self._heard_t

    def __call__(self) -> float:
        return self._t

    def __getattr__(self, name: str) -> Any:
        return getattr(self._clock, name)


def begin(folder: str, store: str, clock: Path) -> int:
    shared = Shared(clock)

    def say(row: Mapping[str, Any]) -> None:
        print(json.dumps(row, ensure_ascii=False), flush=True)

    def serve(resumed: Resumed, links: Any, core: Any, outlets: Iterable[Any], *rest: Any, **more: Any) -> Service:
        looked_up = LookedUp(resumed.clock, shared)
        service = Service(replace(resumed, clock=looked_up), links, core, [*outlets, say], *rest, **more)  # type: ignore
        put, gather = service.inbox.put, service.inbox.gather

        def take(arrival: Arrival) -> None:
            marks = [mark for record in arrival.records if (mark := mark_of_record(record)) is not None]
            t = [looked_up.hear(mark) for mark in marks][-1:]
            put(replace(arrival, records=tuple(replace(record, t=t[0]) for record in arrival.records)) if t else arrival)
            for mark in marks[-1:]:
                shared.reached(mark)

        def look_up(timeout_s: float) -> list[Item]:
            looked_up.look()
            return gather(timeout_s)

        service.inbox.put, service.inbox.gather = take, look_up
        return service

    run.take_up = partial(run.take_up, monotonic=lambda: shared.t, wall=lambda: BEGAN_WALL + shared.t)
    run.Service = serve
    return main(["run", folder, "--store", store, "--listen", "127.0.0.1:0", "--no-serial"])


def mark_of_record(record: Record) -> bytes | None:
    match record:
        case Received(_, _, line):
            return mark_of(encode(line)[:-1])
        case Said(_, _, words):
            return mark_of(words.encode())
    return None


def answer(order: str, pid: int) -> int:
    """Do what the trial says; the process id of the bridge that was started last."""
    word, _, prefix = order.strip().partition(" ")
    if word == "wait":
        print(os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]), flush=True)
        return pid
    pid = os.fork()
    if pid == 0:
        for name, handle in (("out", 1), ("err", 2)):
            os.dup2(os.open(f"{prefix}.{name}", os.O_WRONLY | os.O_CREAT | os.O_TRUNC), handle)
        sys.exit(begin(sys.argv[1], sys.argv[2], Path(sys.argv[3])))
    print(pid, flush=True)
    return pid


if __name__ == "__main__":
    bridge = 0
    for told in sys.stdin:
        bridge = answer(told, bridge)
