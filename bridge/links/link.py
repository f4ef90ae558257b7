"""What every link offers: records come out of it in arrivals, lines for boards go into it.

Rule: a link never ends because of what happens on its wire. It reconnects by itself, and what keeps it from working can be
asked of it in plain words.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from bridge.wire.lines import HostLine
from bridge.wire.records import Record

Clock = Callable[[], float]
"""Seconds on the host's monotonic clock, on the axis of the session."""


@dataclass(frozen=True, slots=True)
class Delivery:
    """How a broker brought a message that it keeps until it is acknowledged.

    `packet`: its packet identifier, which is another message's once this one is acknowledged; `ANEW` where the broker knows
    nothing of what it brought before, and counts anew from here. `is_again`: it may have been brought before.
    """

    packet: int
    is_again: bool = False


ANEW = 0
"""No message has this packet identifier (MQTT 5.0, section 2.2.1)."""


@dataclass(frozen=True, slots=True)
class Arrival:
    """Records that came together. `done`, where there is one, is called once they are committed to the journal.

    `delivery`: where a broker brought them, how.
    """

    records: tuple[Record, ...]
    done: Callable[[], None] | None = None
    delivery: Delivery | None = None

    @property
    def came_t(self) -> float:
        """The host second at which they came; 0 where there are none."""
        return self.records[0].t if self.records else 0.0


Inbox = Callable[[Arrival], None]
"""Takes an arrival, from the link's own threads. It may block to hold a link back; it must not raise."""


class Link(Protocol):
    """A way to boards."""

    name: str

    def start(self, inbox: Inbox) -> None:
        """Begin to connect and to fill the inbox. Returns at once, whatever is plugged in or reachable."""

    def stop(self) -> None:
        """Let go of everything; nothing arrives after it has returned."""

    def send(self, board: str, line: HostLine) -> bool:
        """Write a line to this board; whether this link can reach it and wrote it."""

    def troubles(self) -> tuple[str, ...]:
        """What keeps this link from working now, each a sentence with its remedy; empty when all is well."""


def at(clock: Clock) -> float:
    """The time of a record made now: seconds, 6 decimals."""
    return round(clock(), 6)
