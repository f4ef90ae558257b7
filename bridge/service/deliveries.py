"""What a broker brings once more: taken once, also where it has no number of its own.

A message that is committed and not yet acknowledged when this program dies, or the connection does, is delivered again.
Board lines count once by their numbers; operators' words and an adapter's readings have none. But what is delivered again
has the flag DUP, and the packet identifier that it had (MQTT 5.0, sections 3.3.1.1 and 4.4).

Rule: a record without a number is left out where a message with DUP brings it under an identifier under which the journal
has it already. A message without DUP is news whatever it says, and so is one whose identifier has gone round since, or that
comes from a broker that has forgotten us. A board's line is left out where it is delivered again and stands in the session
before, and so is one that a board, asked for it when that session had not ended, sends once more into this one: soon after
a session's beginning or a start. What comes again within a session is journalled once more, and the core counts it once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator

from bridge.journal import Delivered, line_of
from bridge.links.link import ANEW, Arrival, Delivery
from bridge.wire.records import Reading, Received, Record, Said

SOON = 2_000
"""A board that was asked for lines has sent them so many records later: it holds 32 and sends 10 a second."""

MOST_BETWEEN = 50_000
"""So many records later an identifier counts as gone round: there are 65,535, and a message makes a record or more."""


class Deliveries:
    """What has been taken, by packet identifier. `former` are the lines of the session before, as the store keeps them."""

    def __init__(self, kept: Iterable[Delivered], former: Callable[[], Iterable[str]]) -> None:
        self._taken: dict[int, list[tuple[str, int]]] = {}
        self._records = 0
        self._former = former
        self._former_lines: frozenset[str] | None = None
        self._since = 0
        for row in kept:
            self._taken.setdefault(row.packet, []).append((row.line, -row.records_since))

    def turn_over(self) -> None:
        """The session has ended: what came in it is of the one before."""
        self._former_lines = None
        self._since = self._records

    def news(self, arrival: Arrival) -> Iterator[tuple[Record, int | None]]:
        """The records of an arrival that are to be journalled; each with the packet identifier to be kept with it, or None.

        They count as taken once they are given.
        """
        delivery = arrival.delivery
        known = Counter[str]() if delivery is None else self._known(delivery)
        for record in arrival.records:
            is_again = delivery is not None and delivery.is_again
            if (is_again or self._may_be_of_former(record)) and self._is_taken(record, known):
                continue
            self._records += 1
            yield record, self._keep(record, delivery)

    def _known(self, delivery: Delivery) -> Counter[str]:
        """How often each line has been taken of the message that has this identifier now."""
        if delivery.packet == ANEW:
            self._taken.clear()
        elif not delivery.is_again:
            self._taken.pop(delivery.packet, None)
        since = self._records - MOST_BETWEEN
        return Counter(line for line, at in self._taken.get(delivery.packet, ()) if at > since)

    def _may_be_of_former(self, record: Record) -> bool:
        return isinstance(record, Received) and self._records - self._since < SOON

    def _is_taken(self, record: Record, known: Counter[str]) -> bool:
        if isinstance(record, Said | Reading):
            line = line_of(record)
            known[line] -= 1
            return known[line] >= 0
        if not isinstance(record, Received):
            return False  # a link's word tells how things stand: it may be heard twice
        if self._former_lines is None:
            self._former_lines = frozenset(self._former())
        return line_of(record) in self._former_lines

    def _keep(self, record: Record, delivery: Delivery | None) -> int | None:
        if delivery is None or (delivery.packet != ANEW and not isinstance(record, Said | Reading)):
            return None
        self._taken.setdefault(delivery.packet, []).append((line_of(record), self._records))
        return delivery.packet
