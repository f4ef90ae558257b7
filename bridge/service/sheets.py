"""What has come, laid out in sheets: records that can be journalled together, as they are of one session.

Rule: an operator's `end` is the last of its sheet, for what comes behind it may belong to the next session. Words that are
no words are not journalled, nor is what a broker brings once more and has been (`bridge.service.deliveries`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from bridge.service.deliveries import Deliveries
from bridge.service.inbox import Item, Telling
from bridge.wire.records import Record, Said


@dataclass(frozen=True, slots=True)
class Entry:
    """A record to be journalled, the telling that waits for it, and the packet identifier that is kept with it."""

    record: Record
    telling: Telling | None = None
    packet: int | None = None


Sheet = tuple[Entry, ...]


def sheets(
    items: Iterable[Item], misword: Callable[[str], str | None], log: Callable[[str], None], deliveries: Deliveries
) -> Iterator[Sheet]:
    """The records of these items in order. `misword` says why words are none, `log` is told of those."""
    sheet: list[Entry] = []
    for entry in _entries(items, deliveries):
        said = entry.record
        if isinstance(said, Said):
            why = misword(said.words)
            if why is not None:
                log(f"An operator told “{said.words}”, which was not taken. {why}")
                continue
        sheet.append(entry)
        if isinstance(said, Said) and said.words.lower().split()[:1] == ["end"]:
            yield tuple(sheet)
            sheet = []
    if sheet:
        yield tuple(sheet)


def _entries(items: Iterable[Item], deliveries: Deliveries) -> Iterator[Entry]:
    for item in items:
        if isinstance(item, Telling):
            yield Entry(item.said, item)
        else:
            yield from (Entry(record, packet=packet) for record, packet in deliveries.news(item))
