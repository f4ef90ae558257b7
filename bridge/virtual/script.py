"""The script of movements: a text that a person writes, read into orders crew by crew.

Rule: a line is one order, told in plain words (`GRAMMAR`); every fault is told with file, line and what would be right, all
at once.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field

from bridge.core.plan import Railway
from bridge.virtual import orders as o
from bridge.virtual.script_verbs import order_of
from bridge.virtual.script_words import UnreadableError, Words, clock_s, likeness

GRAMMAR = """\
begin 19:00 [after 4 s]             the session begins, so long after the boards are first heard
speed 150, shunting 80              millimetres a second, from station to station and within one
mistake wrong-road: g1 comes in on the platform road         names a mistake and says what it is
crew e1                             engine e1 does what follows, in this order; without an engine: crew signalman
  works g1                          the train is on this working now
  at 19:08                          waits for the session clock
  waits 4 s | waits until CONDITION
  runs to ROAD [by ROAD] | runs 300 mm into PLACE | runs towards PLACE until VEHICLE is at BOUNDARY
  draws clear into THROAT-OR-SECTION [by ROAD]
  departs 3000 mm into SECTION      stops on its way to the next station
  couples to VEHICLE [by ROAD]      and to what is coupled to it
  leaves VEHICLE ... | leaves all | keeps VEHICLE ...   (keeps: leaves all others; those not coupled do not matter)
  takes token SECTION at STATION | lays token SECTION at STATION
  says WORDS                        to the bridge, as an operator
  proves DETECTOR | unproves DETECTOR | power DETECTOR on | power DETECTOR off
  board BOARD silent for 40 s | board BOARD loses 3 reports | board BOARD loses 3 reports and sends them again
  marks NAME | carries TAG on VEHICLE | ends
  expects KIND key=value ... from MOMENT due MOMENT [may follow KIND ...]
CONDITION: VEHICLE in PLACE | VEHICLE within PLACE | VEHICLE off PLACE | PLACE clear | NAME marked | now
           TAG read 2 times | token SECTION at STATION
MOMENT:    [N s after] CONDITION
Before an order may stand "if MISTAKE:" or "unless MISTAKE:" (several with commas), behind a run "at 60 mm/s".
"""


@dataclass(frozen=True, slots=True)
class ScriptFault:
    """One thing wrong with a script, for people; `line_no` counts from 1."""

    file: str
    line_no: int
    text: str
    message: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line_no}: {self.message} It stands there: {self.text!r}."


class ScriptError(Exception):
    """A script that cannot be used, with everything that is wrong with it."""

    def __init__(self, faults: Iterable[ScriptFault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(map(str, self.faults)))


@dataclass
class ScriptCrew:
    """A crew that does what a script says, line by line."""

    name: str
    engine: str | None
    lines: list[tuple[o.Order, str]] = field(default_factory=list)
    done: int = 0

    def next_order(self) -> tuple[o.Order, str] | None:
        """The next line's order."""
        if self.done >= len(self.lines):
            return None
        self.done += 1
        return self.lines[self.done - 1]


@dataclass
class Script:
    """A script that has been read, for the mistakes that were chosen."""

    begin_s: float = 19 * 3600.0
    after_s: float = 3.0
    speed_mm_s: float = 150.0
    shunting_mm_s: float = 80.0
    mistakes: dict[str, str] = field(default_factory=dict)
    crews: list[ScriptCrew] = field(default_factory=list)


def mistakes_of(text: str) -> dict[str, str]:
    """The mistakes that a script offers: name to what it is."""
    found = (re.fullmatch(r"\s*mistake\s+([a-z0-9-]+)\s*:\s*(.+?)\s*", line) for line in text.splitlines())
    return {match[1]: match[2] for match in found if match}


def read_script(text: str, file: str, railway: Railway, chosen: Iterable[str] = ()) -> Script:
    """Read a script; raises `ScriptError` with all its faults."""
    return _Reader(text, file, railway, frozenset(chosen)).read()


class _Reader:
    def __init__(self, text: str, file: str, railway: Railway, chosen: frozenset[str]) -> None:
        self.lines, self.file, self.railway, self.chosen = text.splitlines(), file, railway, chosen
        self.script = Script(mistakes=mistakes_of(text))
        self.crew: ScriptCrew | None = None
        self.words = Words(railway)

    def read(self) -> Script:
        faults = []
        for line_no, raw in enumerate(self.lines, 1):
            line = raw.split("#", 1)[0].strip()
            if line:
                try:
                    self._line(line, line_no)
                except UnreadableError as fault:
                    faults.append(ScriptFault(self.file, line_no, line, str(fault)))
        if faults:
            raise ScriptError(faults)
        return self.script

    def _line(self, line: str, line_no: int) -> None:
        head = re.match(r"(if|unless)\s+([a-z0-9, -]+?)\s*:\s*(.*)", line)
        applies = True
        if head:
            names = [name.strip() for name in head[2].split(",")]
            for name in names:
                if name not in self.script.mistakes:
                    raise UnreadableError(
                        f"No mistake {name!r} is named in this script; {likeness(name, self.script.mistakes)}"
                    )
            applies = any(name in self.chosen for name in names) == (head[1] == "if")
            line = head[3]
        if self._heading(line):
            return
        order = order_of(line, self.words)
        if self.crew is None:
            raise UnreadableError("An order stands before the first crew; write a line `crew ENGINE` above it.")
        if isinstance(order, (o.RunsTo, o.DrawsClear, o.RunsUntil, o.Couples, o.Leaves)) and self.crew.engine is None:
            raise UnreadableError(f"The crew {self.crew.name!r} has no engine, so it moves nothing.")
        if applies:
            self.crew.lines.append((order, f"{self.file}:{line_no}"))

    def _heading(self, line: str) -> bool:
        if line.startswith("mistake "):
            if not mistakes_of(line):
                raise UnreadableError("A mistake is named so: `mistake wrong-road: what happens`.")
            return True
        if match := re.fullmatch(r"begin (\S+)(?: after (\d+) s)?", line):
            self.script.begin_s = clock_s(match[1])
            self.script.after_s = float(match[2] or self.script.after_s)
            return True
        if match := re.fullmatch(r"speed (\d+), shunting (\d+)", line):
            self.script.speed_mm_s, self.script.shunting_mm_s = float(match[1]), float(match[2])
            return True
        if match := re.fullmatch(r"crew (\S+)", line):
            vehicle = self.railway.stock.get(match[1])
            engine = match[1] if vehicle is not None and vehicle.kind == "engine" else None
            self.crew = next((crew for crew in self.script.crews if crew.name == match[1]), None)
            if self.crew is None:
                self.crew = ScriptCrew(match[1], engine)
                self.script.crews.append(self.crew)
            return True
        return False
