"""What a store's journal holds of boards' numbers, read along while the bridge writes, and held against what was used.

Rule: a number is there, or it is named missing, or it is overlooked; the last must never be.
"""

from __future__ import annotations

import re
import sqlite3
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from bridge.journal import Reader, StoreError
from bridge.journal.gaps import gaps
from bridge.service.recounting import recount
from bridge.wire.lines import Report, State
from bridge.wire.records import Received

Number = tuple[str, int]
"""A board, and one of its numbers."""


class Books:
    """Reads a store along. `used` is told each time: how many numbers each board has used up to now."""

    def __init__(self, store: Path) -> None:
        self._store = store
        self._last = 0
        self.there: Counter[Number] = Counter()
        """How often each number has come."""
        self.boards: set[str] = set()

    def missing(self, used: Mapping[str, int]) -> set[Number]:
        """The numbers that are not in the journal now."""
        self._read_on()
        return {(board, n) for board, last in used.items() for n in range(1, last + 1)} - self.there.keys()

    def named(self) -> set[Number]:
        """The numbers that the journal names missing now."""
        with Reader.open(self._store) as reader:
            found = gaps(reader.records(1))
        return {(gap.board, n) for gap in found for n in range(gap.first, gap.last + 1)}

    def _read_on(self) -> None:
        try:
            with Reader.open(self._store) as reader:
                if not reader.sessions():
                    return
                rows = reader._db.conn.execute(
                    "SELECT n, line FROM records WHERE session = 1 AND n > ? ORDER BY n", (self._last,)
                ).fetchall()
        except (StoreError, sqlite3.Error):
            return  # it is only being made
        for n, line in rows:
            self._last = n
            match line.split():
                case ["mqtt", "report" | "state", board, _, seq, *_]:
                    self.there[board, int(seq)] += 1
                    self.boards.add(board)


@dataclass(frozen=True)
class Account:
    """What came of a session: numbers lost, named by the journal, said as `reports-lost` (ended by stated inputs)."""

    lost: set[Number]
    named: set[Number]
    said: set[Number]
    there: int
    repeated: int
    items: int


def account(store: Path, used: Mapping[str, int]) -> Account:
    """Held against what boards used, from the journal as it is at the end."""
    with Reader.open(store) as reader:
        told = recount(reader, reader.sessions()[0])
    lines = [row.record.line for row in told.records if isinstance(row.record, Received)]
    there = Counter((line.board, line.seq) for line in lines if isinstance(line, (Report, State)))
    found = gaps(told.records)
    rows = (outcome.as_dict() for outcome in told.outcomes)
    items = [row for row in rows if row["says"] == "irregularity" and row["kind"] == "reports-lost"]
    told_lost = {(row["board"], row["text"]) for row in items}
    return Account(
        {(board, n) for board, last in used.items() for n in range(1, last + 1)} - there.keys(),
        {(gap.board, n) for gap in found for n in range(gap.first, gap.last + 1)},
        {(board, n) for board, text in told_lost for n in _numbers(text)},
        len(there),
        sum(there.values()) - len(there),
        len({row["id"] for row in items}),
    )


def _numbers(text: str) -> range:
    found = re.search(r"numbers? (\d+)(?: to (\d+))?", text)
    assert found is not None, text
    return range(int(found[1]), int(found[2] or found[1]) + 1)
