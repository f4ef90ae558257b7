"""The script of movements: a text that a person writes, read into orders crew by crew.

Rule: a line is one order, told in plain words (`GRAMMAR`); every fault is told with file, line and
what would be right, all at once.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from bridge.core.plan import Railway
from bridge.virtual import orders as o

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


_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?")


class _UnreadableError(Exception):
    """A line that makes no order; becomes a `ScriptFault` before it leaves this module."""


class _Reader:
    def __init__(self, text: str, file: str, railway: Railway, chosen: frozenset[str]) -> None:
        self.lines, self.file, self.railway, self.chosen = text.splitlines(), file, railway, chosen
        self.script = Script(mistakes=mistakes_of(text))
        self.crew: ScriptCrew | None = None
        plant = railway.plant
        self.known = {
            "V": (set(railway.stock), "vehicle"),
            "P": (set(plant.at_stretch), "road, throat or section"),
            "R": (set(plant.roads), "road"),
            "B": (set(plant.boundaries), "boundary"),
            "S": (set(plant.sections), "section"),
            "T": (set(plant.stations), "station"),
            "D": (set(plant.detectors), "detector"),
            "C": (set(plant.boards), "board"),
            "W": (set(railway.workings), "working"),
        }

    def read(self) -> Script:
        faults = []
        for line_no, raw in enumerate(self.lines, 1):
            line = raw.split("#", 1)[0].strip()
            if line:
                try:
                    self._line(line, line_no)
                except _UnreadableError as fault:
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
                    raise _UnreadableError(
                        f"No mistake {name!r} is named in this script; {_nearest(name, self.script.mistakes)}"
                    )
            applies = any(name in self.chosen for name in names) == (head[1] == "if")
            line = head[3]
        if self._heading(line):
            return
        order = self._order(line)
        if self.crew is None:
            raise _UnreadableError("An order stands before the first crew; write a line `crew ENGINE` above it.")
        if isinstance(order, (o.RunsTo, o.DrawsClear, o.RunsUntil, o.Couples, o.Leaves)) and self.crew.engine is None:
            raise _UnreadableError(f"The crew {self.crew.name!r} has no engine, so it moves nothing.")
        if applies:
            self.crew.lines.append((order, f"{self.file}:{line_no}"))

    def _heading(self, line: str) -> bool:
        if line.startswith("mistake "):
            if not mistakes_of(line):
                raise _UnreadableError("A mistake is named so: `mistake wrong-road: what happens`.")
            return True
        if match := re.fullmatch(r"begin (\S+)(?: after (\d+) s)?", line):
            self.script.begin_s = _clock_s(match[1])
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

    def _order(self, line: str) -> o.Order:
        for pattern, kinds, make in _VERBS:
            match = pattern.fullmatch(line)
            if match:
                for number, kind in enumerate(kinds, 1):
                    if match[number] is not None and kind in self.known:
                        for word in match[number].split():
                            self._check(kind, word)
                return make(self, match)
        verb = line.split(maxsplit=1)[0]
        close = difflib.get_close_matches(verb, _WORDS, 1)
        hint = (
            f"did you mean {close[0]!r}?"
            if close and close[0] != verb
            else "`numbertaker simulate --help` lists what a line may say."
        )
        raise _UnreadableError(f"I cannot follow this line; {hint}")

    def _check(self, kind: str, word: str) -> None:
        known, name = self.known[kind]
        if word not in known:
            raise _UnreadableError(f"There is no {name} {word!r} in the railway folder; {_nearest(word, known)}")

    def condition(self, text: str) -> o.Condition:
        if text == "now":
            return o.Condition("always")
        if match := re.fullmatch(r"(\S+) (in|within|off) (\S+)", text):
            self._check("V", match[1])
            self._check("P", match[3])
            return o.Condition(match[2], match[1], match[3])
        if match := re.fullmatch(r"(\S+) clear", text):
            self._check("P", match[1])
            return o.Condition("clear", place=match[1])
        if match := re.fullmatch(r"token (\S+) at (\S+)", text):
            self._check("S", match[1])
            self._check("T", match[2])
            return o.Condition("token", match[2], match[1])
        if match := re.fullmatch(r"(\S+) marked", text):
            return o.Condition("marked", match[1])
        if match := re.fullmatch(r"(\S+) read (\d+) times?", text):
            return o.Condition("read", match[1], count=int(match[2]))
        raise _UnreadableError("I do not know this condition; `numbertaker simulate --help` lists them.")

    def moment(self, text: str) -> o.Moment:
        match = re.fullmatch(r"(?:(\d+(?:\.\d+)?) s after )?(.+)", text.strip())
        assert match is not None
        return o.Moment(self.condition(match[2]), float(match[1] or 0))

    def expectation(self, match: re.Match[str]) -> o.Expects:
        subject = tuple((key, value) for key, _, value in (pair.partition("=") for pair in match[2].split()))
        may_follow = tuple((match[5] or "").split())
        return o.Expects(o.Expectation(match[1], subject, self.moment(match[3]), self.moment(match[4]), may_follow))


def _nearest(word: str, known: Iterable[str]) -> str:
    close = difflib.get_close_matches(word, sorted(known), 1)
    return f"the nearest is {close[0]!r}." if close else "nothing there is like it."


def _clock_s(text: str) -> float:
    match = _CLOCK.fullmatch(text)
    if match is None:
        raise _UnreadableError(f"{text!r} is no time; write it as 19:05 or 19:05:30.")
    return int(match[1]) * 3600.0 + int(match[2]) * 60.0 + int(match[3] or 0)


def _speed(text: str | None) -> float | None:
    return None if text is None else float(text)


_AT = r"(?: at (\d+) mm/s)?"
_BY = r"(?: by (\S+))?"
_MAKE = Callable[[_Reader, re.Match[str]], o.Order]
_TABLE: tuple[tuple[str, str, _MAKE], ...] = (
    (r"works (\S+)", "W", lambda r, m: o.Works(m[1])),
    (r"ends", "", lambda r, m: o.Ends()),
    (r"at (\d\S*)", "-", lambda r, m: o.UntilClock(_clock_s(m[1]))),
    (r"waits (\d+(?:\.\d+)?) s", "-", lambda r, m: o.Waits(float(m[1]))),
    (r"waits until (.+)", "-", lambda r, m: o.WaitsUntil(r.condition(m[1]))),
    (rf"runs to (\S+){_BY}{_AT}", "RR-", lambda r, m: o.RunsTo(m[1], None, m[2], _speed(m[3]))),
    (rf"runs (\d+) mm into (\S+){_BY}{_AT}", "-PR-", lambda r, m: o.RunsTo(m[2], float(m[1]), m[3], _speed(m[4]))),
    (
        rf"departs (\d+) mm into (\S+){_AT}",
        "-P-",
        lambda r, m: o.RunsTo(m[2], float(m[1]), None, _speed(m[3]), departs=True),
    ),
    (rf"runs towards (\S+) until (\S+) is at (\S+){_AT}", "PVB-", lambda r, m: o.RunsUntil(m[1], m[2], m[3], _speed(m[4]))),
    (rf"draws clear into (\S+){_BY}{_AT}", "PR-", lambda r, m: o.DrawsClear(m[1], m[2], _speed(m[3]))),
    (rf"couples to (\S+){_BY}{_AT}", "VR-", lambda r, m: o.Couples(m[1], m[2], _speed(m[3]))),
    (r"leaves all", "", lambda r, m: o.Leaves((), all_but=True)),
    (r"leaves (.+)", "V", lambda r, m: o.Leaves(tuple(m[1].split()))),
    (r"keeps (.+)", "V", lambda r, m: o.Leaves(tuple(m[1].split()), all_but=True)),
    (r"takes token (\S+) at (\S+)", "ST", lambda r, m: o.TakesToken(m[1], m[2])),
    (r"lays token (\S+) at (\S+)", "ST", lambda r, m: o.LaysToken(m[1], m[2])),
    (r"says (.+)", "-", lambda r, m: o.Says(m[1])),
    (r"proves (\S+)", "D", lambda r, m: o.Switches(m[1], True)),
    (r"unproves (\S+)", "D", lambda r, m: o.Switches(m[1], False)),
    (r"power (\S+) (on|off)", "D-", lambda r, m: o.Switches(m[1], m[2] == "on")),
    (r"board (\S+) silent for (\d+) s", "C-", lambda r, m: o.BoardFails(m[1], silent_s=float(m[2]))),
    (r"board (\S+) loses (\d+) reports?", "C-", lambda r, m: o.BoardFails(m[1], lost=int(m[2]))),
    (
        r"board (\S+) loses (\d+) reports? and sends (?:them|it) again",
        "C-",
        lambda r, m: o.BoardFails(m[1], lost=int(m[2]), kept=True),
    ),
    (r"marks (\S+)", "-", lambda r, m: o.Marks(m[1])),
    (r"carries ([0-9A-F]+) on (\S+)", "-V", lambda r, m: o.CarriesTag(m[2], m[1])),
    (
        r"expects ([a-z-]+)((?: [a-z]+=\S+)*) from (.+?) due (.+?)(?: may follow (.+))?",
        "-----",
        lambda r, m: r.expectation(m),
    ),
)
_VERBS = tuple((re.compile(pattern), kinds, make) for pattern, kinds, make in _TABLE)
_WORDS = sorted(
    {pattern.split()[0].rstrip("()") for pattern, _, _ in _TABLE} | {"crew", "begin", "speed", "mistake", "if", "unless"}
)
