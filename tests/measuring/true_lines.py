"""Where everything truly was at any instant of an evening, from the tables of a truth file (`bridge/virtual/truth.py`).

Rule: only the file's table of lines is read; no engine and no detector is asked.
"""

from __future__ import annotations

import bisect
from collections.abc import Mapping, Sequence
from typing import Any

OFF = frozenset({"off"})
"""The places of a vehicle that is nowhere on the railway."""

Lines = Mapping[str, tuple[str, ...]]
Places = frozenset[str]


class TrueLines:
    """The lines of one evening. A vehicle's places are all stretches that any part of it is on."""

    def __init__(self, rows: Sequence[Sequence[Any]]) -> None:
        self._times: list[float] = []
        self._lines: list[dict[str, tuple[str, ...]]] = []
        self._history: dict[str, tuple[list[float], list[Places]]] = {}
        self._left: dict[str, float] = {}  # vehicle -> when it was first off a stretch on which it stood at the start
        now: dict[str, tuple[str, ...]] = {}
        for n, (t, stretch, line) in enumerate(rows):
            now[stretch] = tuple(line)
            if n + 1 == len(rows) or rows[n + 1][0] != t:
                self._instant(t, dict(now))

    def _instant(self, t: float, lines: dict[str, tuple[str, ...]]) -> None:
        self._times.append(t)
        self._lines.append(lines)
        places: dict[str, set[str]] = {vehicle: set() for vehicle in self._history}
        for stretch, line in lines.items():
            for vehicle in line:
                places.setdefault(vehicle, set()).add(stretch)
        for vehicle, found in places.items():
            times, history = self._history.setdefault(vehicle, ([], []))
            there = frozenset(found) or OFF
            if not history or history[-1] != there:
                times.append(t)
                history.append(there)
            if history[0] - there:
                self._left.setdefault(vehicle, t)

    def lines_at(self, t: float) -> Lines:
        """Stretch to the vehicles with any part on it, from its end 0, at second `t`."""
        n = bisect.bisect_right(self._times, t)
        return self._lines[n - 1] if n else {}

    def places_at(self, t: float) -> dict[str, Places]:
        """Vehicle to its places at second `t`."""
        return {vehicle: self.been(vehicle, t, t) for vehicle in self._history}

    def been(self, vehicle: str, from_s: float, to_s: float) -> Places:
        """Every place where a vehicle was at some instant between two seconds, both included."""
        times, history = self._history.get(vehicle, ([], []))
        first = max(0, bisect.bisect_right(times, from_s) - 1)
        return frozenset().union(*history[first : bisect.bisect_right(times, to_s)]) or OFF

    def moved_by(self, t: float) -> set[str]:
        """The vehicles that have left a stretch on which they stood at the start, by second `t`, even if they came back."""
        return {vehicle for vehicle, left_s in self._left.items() if left_s <= t}
