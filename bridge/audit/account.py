"""One session's material, and what can be read straight off it: which statements still stand, and what the clock showed.

Rule: nothing is judged anew here. What was said, what it was corrected to, and when, all come from the outcomes; a
statement that was corrected stays in the account, marked, with what stands in its place. Outcomes are the JSON objects
that `numbertaker replay --json` prints.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any

from bridge.core.events import Journalled
from bridge.core.learned import Learned
from bridge.core.plan import Railway
from bridge.wire.capture import format_record
from bridge.wire.records import Said

Row = Mapping[str, Any]

SUBJECT = {
    "observed": ("detector",),
    "departed": ("train", "station"),
    "arrived": ("train",),
    "entered": ("train",),
    "cleared": ("train", "section"),
    "authority": ("section", "train"),
    "may-go": ("train", "section"),
    "lifted": ("vehicle",),
    "set-out": ("vehicle",),
    "move": ("vehicle",),
    "irregularity": ("id",),
    "whereabouts": ("vehicle",),
    "session": (),
}
"""By which keys two outcomes of a kind speak of the same thing: so is found what stands in a corrected one's place."""


@dataclass(frozen=True, slots=True)
class Correction:
    """Why an outcome no longer stands, the number of the outcome that said so, and what stands instead (None: nothing)."""

    by: int
    why: str
    instead: int | None


@dataclass(frozen=True)
class Account:
    """One session: the railway in force, its outcomes in order, its journal, and the day on which it was held.

    `host`: what befell the computer's clock, each a host second and a sentence. `known`: what the session began with of what
    earlier ones have learned.
    """

    railway: Railway
    outcomes: Sequence[Row]
    records: Sequence[Journalled] = ()
    day: date | None = None
    host: Sequence[tuple[float, str]] = ()
    known: Learned | None = None

    @cached_property
    def by_number(self) -> dict[int, Row]:
        """The outcomes by their number."""
        return {row["n"]: row for row in self.outcomes}

    @cached_property
    def corrections(self) -> dict[int, Correction]:
        """The corrected outcomes by their number."""
        found: dict[int, Correction] = {}
        for place, row in enumerate(self.outcomes):
            if row["says"] == "corrected" and row["of"] in self.by_number:
                instead = self._instead(self.by_number[row["of"]], place)
                found[row["of"]] = Correction(row["n"], str(row["why"] or ""), instead)
        return found

    def _instead(self, old: Row, place: int) -> int | None:
        keys = SUBJECT.get(old["says"], ())
        for row in self.outcomes[place + 1 :]:
            if row["t"] != self.outcomes[place]["t"]:
                return None
            if row["says"] == old["says"] and all(row.get(key) == old.get(key) for key in keys):
                return int(row["n"])
        return None

    @cached_property
    def standing(self) -> tuple[Row, ...]:
        """The outcomes that still hold, in the order in which they were said, the corrections themselves left out."""
        return tuple(row for row in self.outcomes if row["says"] != "corrected" and row["n"] not in self.corrections)

    @cached_property
    def lines(self) -> dict[int, str]:
        """The journal by number, each record as the line of a capture."""
        return {journalled.n: format_record(journalled.record) for journalled in self.records}

    @cached_property
    def verdicts(self) -> dict[str, str]:
        """By id of an irregularity what an operator last judged it to be (real, false, mine), words undone left out."""
        words = {j.n: j.record.words.split() for j in self.records if isinstance(j.record, Said)}
        undone = {said[1] for said in words.values() if len(said) == 2 and said[0] == "undo"}
        return {s[1]: s[2] for n, s in words.items() if len(s) == 3 and s[0] == "verdict" and str(n) not in undone}

    @cached_property
    def _anchors(self) -> tuple[list[float], list[int]]:
        rows = [row for row in self.outcomes if row["clock"] is not None]
        times, shown = [float(row["t"]) for row in rows], [clock_s(row["clock"]) for row in rows]
        for place in range(1, len(shown)):
            while shown[place] < shown[place - 1]:
                shown[place] += 86400
        return times, shown

    def clock_at(self, t: float) -> str | None:
        """What the session clock showed at host second `t`, by the outcomes around it; None where none had a clock."""
        times, shown = self._anchors
        if not times:
            return None
        place = bisect_right(times, t) - 1
        if place < 0:
            return hms(shown[0])
        run_s = int((t - times[place]) * self.railway.plant.clock)
        latest = shown[place + 1] if place + 1 < len(shown) else shown[place] + run_s
        return hms(min(shown[place] + run_s, latest))

    def happened_clock(self, row: Row) -> str | None:
        """What the session clock showed when that happened which `row` tells; an end happened when it was said."""
        happened = None if row.get("status") == "ended" else row.get("happened")
        said: str | None = row["clock"]
        return said if happened is None else self.clock_at(float(happened))


def clock_s(clock: str) -> int:
    """Seconds of a clock reading HH:MM or HH:MM:SS; hours may pass 23."""
    parts = [int(part) for part in clock.split(":")]
    return parts[0] * 3600 + parts[1] * 60 + (parts[2] if len(parts) > 2 else 0)


def hms(clock_seconds: float) -> str:
    """Clock seconds as HH:MM:SS; hours may pass 23."""
    whole = int(clock_seconds)
    return f"{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}"
