"""The one door through which all serial ports bring what they have: judged by name, one after the other.

Rules. One port at a time: what is decided of a name holds before the next line of any port is looked at. Of lines that do
not count because two boards have one name, a few a second tell the story, and the rest is told by its number. The lock is
kept while the inbox holds back, so whoever empties the inbox must never wait for it: `home` and `shared` take none.
"""

from __future__ import annotations

import threading
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bridge.links.link import Arrival, Clock, Inbox, at
from bridge.links.serial_names import Names
from bridge.wire.lines import BoardLine, Reject, RejectReason
from bridge.wire.records import Record, Rejected
from bridge.wire.withheld import told_of_rejects

MOST_OF_ONE_NAME = 4
"""Lines under a shared name that are kept a second and port."""


@dataclass(slots=True)
class _Second:
    """How many lines under a shared name a port has brought in the second that began at `t`."""

    t: float
    lines: int = 0


class SerialDoor:
    """Takes what ports say, from their own threads, and fills the inbox."""

    def __init__(self, clock: Clock, inbox: Inbox, names: Names) -> None:
        self._clock = clock
        self._inbox = inbox
        self._names = names
        self._lock = threading.Lock()
        self._is_shut = False
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
            self._bring([*self._told(t, link), *self._names.closed(t, link)])

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

    def shut(self) -> None:
        """Let nothing more through."""
        with self._lock:
            self._is_shut = True

    def pass_time(self) -> None:
        """Time has passed; to be called about once a second."""
        with self._lock:
            t = at(self._clock)
            late = [link for link, second in self._seconds.items() if t - second.t >= 1.0]
            self._bring([record for link in late for record in self._told(t, link)] + self._names.pass_time(t))

    def _bring(self, records: Iterable[Record]) -> None:
        kept = [record for given in records for record in self._thinned(given)]
        if kept and not self._is_shut:
            self._inbox(Arrival(tuple(kept)))

    def _thinned(self, record: Record) -> list[Record]:
        """The record, unless it is one too many of its kind, behind word of those that were."""
        if not isinstance(record, Rejected) or record.reason != RejectReason.SAME_NAME.value:
            return [record]
        said: list[Record] = []
        second = self._seconds.get(record.link)
        if second is None or record.t - second.t >= 1.0:
            said += self._told(record.t, record.link)
            second = self._seconds[record.link] = _Second(record.t)
        second.lines += 1
        return said if second.lines > MOST_OF_ONE_NAME else [*said, record]

    def _told(self, t: float, link: str) -> list[Record]:
        second = self._seconds.pop(link, None)
        if second is None or second.lines <= MOST_OF_ONE_NAME:
            return []
        return [told_of_rejects(t, link, {RejectReason.SAME_NAME.value: second.lines - MOST_OF_ONE_NAME})]
