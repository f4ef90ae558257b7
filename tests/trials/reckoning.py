"""What a store must hold after a trial of kills, and what the services must have said: nothing lost, nothing twice.

Rule: everything is read back from the store by the project's own commands and readers, none of which took part in the trial.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from endtoend.commands import printed

from bridge.dashboard.frames import TOLD
from bridge.journal import Reader, gaps
from bridge.wire.encode import encode
from bridge.wire.lines import Report, State
from bridge.wire.numbering import Numbering
from bridge.wire.records import HostStarted, HostStopped, Received, Said

Number = tuple[str, int, int]


@dataclass
class Kept:
    """What a store holds of the numbered lines that were sent."""

    lost: list[Number] = field(default_factory=list)
    twice: list[Number] = field(default_factory=list)
    changed: list[Number] = field(default_factory=list)
    gaps: int = 0
    rows: int = 0
    repeated: int = 0
    """Rows that stand in it once more, as they were sent again: they count once."""
    words: int = 0
    """What operators told, each time it was journalled."""
    starts: int = 0
    stops: int = 0


def kept(store: Path, sent: Mapping[Number, Sequence[str]]) -> Kept:
    """Hold a store against what was sent and acknowledged."""
    found, counted = Kept(), Counter[Number]()
    with Reader.open(store) as reader:
        for session in reader.sessions():
            rows = list(reader.records(session.id))
            found.gaps += len(gaps(rows))
            boards: dict[str, Numbering] = {}
            for row in rows:
                found.starts += isinstance(row.record, HostStarted)
                found.stops += isinstance(row.record, HostStopped)
                found.words += isinstance(row.record, Said)
                if not isinstance(row.record, Received) or not isinstance(row.record.line, (Report, State)):
                    continue
                found.rows += 1
                line, t = row.record.line, row.record.t
                number = (line.board, line.boot, line.seq)
                if encode(line)[:-1].decode() not in sent.get(number, ()):
                    found.changed.append(number)
                kind = "report" if isinstance(line, Report) else "state"
                fresh = boards.setdefault(line.board, Numbering()).take(kind, line.boot, line.seq, t, line.ms).fresh
                counted[number] += fresh
                found.repeated += not fresh
    found.lost = [number for number in sent if not counted[number]]
    found.twice = [number for number, times in counted.items() if times > 1]
    return found


def said_again(folder: Path, store: Path) -> list[str]:
    """What `numbertaker replay --json` says of what `numbertaker capture` prints of all sessions of a store."""
    capture = store.with_suffix(".capture")
    capture.write_text(printed("capture", str(store), "all"), encoding="utf-8")
    return printed("replay", str(folder), str(capture), "--json").splitlines()


def sessions(lines: Iterable[str]) -> list[list[dict[str, Any]]]:
    """The outcomes of each session that was begun."""
    found: list[list[dict[str, Any]]] = []
    for line in lines:
        row = json.loads(line)
        if row["n"] == 1 or not found:
            found.append([])
        found[-1].append(row)
    return [rows for rows in found if any(row["says"] == "session" for row in rows)]


class Slices:
    """Finds what one service said, or showed, in what the replay says: a stretch without a gap, in the same order."""

    def __init__(self, again: Sequence[str]) -> None:
        self._again = again
        self._places = {line: place for place, line in enumerate(again)}
        told = [line for line in again if json.loads(line)["says"] in TOLD]
        self._told, self._told_places = told, {line: place for place, line in enumerate(told)}

    def said(self, lines: Sequence[str]) -> bool:
        """Whether these lines are such a stretch."""
        return _is_in(lines, self._again, self._places)

    def shown(self, rows: Sequence[Mapping[str, Any]]) -> bool:
        """Whether the register on a page is such a stretch of what pages show."""
        return _is_in([json.dumps(row, ensure_ascii=False) for row in rows], self._told, self._told_places)


def _is_in(lines: Sequence[str], whole: Sequence[str], places: Mapping[str, int]) -> bool:
    if not lines:
        return True
    start = places.get(lines[0], -1)
    return start >= 0 and list(whole[start : start + len(lines)]) == list(lines)
