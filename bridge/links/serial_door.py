"""The one door through which all serial ports bring what they have: judged by name, thinned where it is rubbish, in order.

Rules. One port at a time: what is decided of a name holds before the next line of any port is looked at. Good lines all
pass; of what is rejected so much a second as explains it, and the rest as its number, so that a port that babbles for an
evening does not fill the journal. The lock is kept while the inbox holds back, so whoever empties the inbox must
never wait for it: `home` and `shared` take none.
"""

from __future__ import annotations

import threading
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bridge.links.link import Arrival, Clock, Inbox, at
from bridge.links.serial_names import Names
from bridge.wire.lines import BoardLine, Reject, RejectReason
from bridge.wire.records import Record, Rejected

MOST_REJECTED = 20
"""Kept a second and port of what is no line: more than a start's noise or a bad cable makes."""

MOST_OF_ONE_NAME = 4
"""Kept a second and port of lines under a shared name: good lines, of which a few tell the story."""


@dataclass(slots=True)
class _Second:
    """What a port has had rejected in the second that began at `t`."""

    t: float
    rejected: int = 0
    of_one_name: int = 0
    left_out: int = 0


class SerialDoor:
    """Takes what ports say, from their own threads, and fills the inbox."""

    def __init__(self, clock: Clock, inbox: Inbox, names: Names) -> None:
        self._clock = clock
        self._inbox = inbox
        self._names = names
        self._lock = threading.Lock()
        self._seconds: dict[str, _Second] = {}

    @property
    def shared(self) -> Mapping[str, tuple[str, ...]]:
        """Names under which two boards speak, and on which links."""
        return self._names.shared

    def home(self, board: str) -> str | None:
        """The link on which a board can be written to."""
        return self._names.home(board)

    def opened(self, link: str) -> None:
        """A port was opened."""
        with self._lock:
            self._bring(self._names.opened(at(self._clock), link))

    def closed(self, link: str) -> None:
        """A port was lost."""
        with self._lock:
            t = at(self._clock)
            self._bring([*self._left_out(t, link), *self._names.closed(t, link)])

    def forget(self, link: str) -> None:
        """The device that was there is gone for good."""
        with self._lock:
            self._names.forget(link)
            self._seconds.pop(link, None)

    def said(self, link: str, items: Iterable[BoardLine | Reject]) -> None:
        """What a port has brought."""
        with self._lock:
            t = at(self._clock)
            records: list[Record] = []
            for item in items:
                if isinstance(item, Reject):
                    records.append(Rejected(t, link, item.reason.value, item.raw))
                else:
                    records += self._names.heard(t, link, item)
            self._bring(records)

    def pass_time(self) -> None:
        """Time has passed; to be called about once a second."""
        with self._lock:
            t = at(self._clock)
            late = [link for link, second in self._seconds.items() if t - second.t >= 1.0]
            self._bring([record for link in late for record in self._left_out(t, link)] + self._names.pass_time(t))

    def _bring(self, records: Iterable[Record]) -> None:
        thinned: list[Record] = []
        for record in records:
            thinned += self._thin(record) if isinstance(record, Rejected) else (record,)
        if thinned:
            self._inbox(Arrival(tuple(thinned)))

    def _thin(self, record: Rejected) -> list[Record]:
        """A reject, where it is kept, behind how many were not kept before it."""
        if record.reason == RejectReason.LEFT_OUT.value:
            return [record]
        said: list[Record] = []
        second = self._seconds.get(record.link)
        if second is None or record.t - second.t >= 1.0:
            said += self._left_out(record.t, record.link)
            second = self._seconds[record.link] = _Second(record.t)
        if record.reason == RejectReason.SAME_NAME.value:
            second.of_one_name += 1
            is_kept = second.of_one_name <= MOST_OF_ONE_NAME
        else:
            second.rejected += 1
            is_kept = second.rejected <= MOST_REJECTED
        if is_kept:
            said.append(record)
        else:
            second.left_out += 1
        return said

    def _left_out(self, t: float, link: str) -> list[Record]:
        second = self._seconds.pop(link, None)
        if second is None or not second.left_out:
            return []
        return [Rejected(t, link, RejectReason.LEFT_OUT.value, b"%d" % second.left_out)]
