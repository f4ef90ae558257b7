"""Random small lines with branches and random timetables on them, and in which section each train truly is when.

A time is left out only where what is left says the same: a station passed has one time in either column; an arrival, or a
departure, may be missing where the train runs exactly the booked minutes of the section.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from random import Random

RULES = ("one-train", "token", "staff-and-ticket", "track-circuit")


@dataclass(frozen=True)
class TrueRun:
    """A train in a section, session seconds; `row` is the line of the timetable that says when it enters or comes out."""

    section: str
    working: str
    enters_s: int
    leaves_s: int
    row: int


@dataclass
class Line:
    """Stations, and the sections that join them: from and to ends, and booked minutes where there are any."""

    stations: list[str]
    sections: dict[str, tuple[str, str, int | None]] = field(default_factory=dict)
    text: str = ""

    def neighbours(self, station: str) -> list[tuple[str, str]]:
        """(section, other station)."""
        ends = ((name, row[0].partition(".")[0], row[1].partition(".")[0]) for name, row in self.sections.items())
        return [(name, a if b == station else b) for name, a, b in ends if station in (a, b)]


def random_line(chance: Random) -> Line:
    """Two to five stations in a row, and now and then a branch from either end of any of them."""
    line = Line([f"s{n}" for n in range(chance.randint(2, 5))])
    for one, other in pairwise(list(line.stations)):
        line.sections[f"{one}-{other}"] = (f"{one}.down", f"{other}.up", chance.choice((None, 4, 5)))
    for n in range(chance.choice((0, 0, 1, 2))):
        start, end = chance.choice(line.stations[: len(line.stations) - n]), f"b{n}"
        line.stations.append(end)
        line.sections[f"{start}-{end}"] = (f"{start}.{chance.choice(('up', 'down'))}", f"{end}.up", chance.choice((None, 3)))
    text = '[railway]\nid = "random"\nname = "Random"\nscale = 76\nclock = 4\n'
    for station in line.stations:
        text += f'[[station]]\nid = "{station}"\nname = "{station}"\n[[station.road]]\nid = "main"\nkind = "running"\n'
        text += 'length = 9000\nopen = ["up", "down"]\n'
    text += '[[board]]\nid = "b"\nlink = "serial"\n'
    for n, (name, (start, end, minutes)) in enumerate(line.sections.items(), 1):
        text += (
            f'[[section]]\nid = "{name}"\nfrom = "{start}"\nto = "{end}"\nlength = 3000\nrule = "{chance.choice(RULES)}"\n'
        )
        text += f"minutes = {{ goods = {minutes} }}\n" if minutes else ""
        text += f'[[detector]]\nid = "d{n}"\nkind = "track"\ncovers = "{name}"\nboard = "b"\ninput = {n}\n'
    line.text = text
    return line


@dataclass
class Timetable:
    """The files of a folder, and when each train truly is where."""

    texts: dict[str, bytes]
    runs: list[TrueRun]


@dataclass
class Call:
    """A train at a station, come by a section; `shown`: which of its two times stand in the file."""

    section: str
    station: str
    arrive_s: int
    depart_s: int
    shown: set[str]
    row: int


def random_timetable(chance: Random, line: Line) -> Timetable:
    """Two to six trains at random, some past midnight, now and then one without any times."""
    rows, stock, stand = ["working,kind,engine,station,road,arrive,depart"], ["vehicle,kind,length"], ["vehicle,road,order"]
    runs: list[TrueRun] = []
    begins_s = chance.choice((18, 23)) * 3600
    for n in range(chance.randint(2, 6)):
        calls = _journey(chance, line, begins_s + 60 * chance.randint(0, 90), len(rows) + 1)
        _hide(chance, line, calls)
        if chance.random() < 0.05:
            calls = [Call(c.section, c.station, 0, 0, set(), c.row) for c in calls]
        for call in calls:
            times = [_clock(t_s) if name in call.shown else "" for name, t_s in _times(call)]
            rows.append(f"t{n},goods,e{n},{call.station},main,{times[0]},{times[1]}")
        for here, then in pairwise(calls):
            if here.shown or then.shown:
                row = here.row if "depart" in here.shown else then.row
                runs.append(TrueRun(then.section, f"t{n}", here.depart_s, then.arrive_s, row))
        stock.append(f"e{n},engine,100")
        stand.append(f"e{n},{calls[0].station}.main,{n + 1}")
    files = {"stock.csv": stock, "whereabouts.csv": stand, "timetable.csv": rows}
    texts = {name: ("\n".join(text) + "\n").encode() for name, text in files.items()}
    return Timetable({**texts, "railway.toml": line.text.encode()}, runs)


def _journey(chance: Random, line: Line, start_s: int, row: int) -> list[Call]:
    """A way along the line, turning back now and then, each station passed or called at."""
    calls = [Call("", chance.choice(line.stations), start_s, start_s, {"depart"}, row)]
    for n in range(chance.randint(1, 5)):
        here = calls[-1]
        ways = line.neighbours(here.station)
        onward = [way for way in ways if way[0] != here.section] or ways
        section, station = chance.choice(ways if chance.random() < 0.1 else onward)
        minutes = line.sections[section][2]
        takes_s = chance.choice((60 * minutes if minutes else 240, 60 * chance.randint(1, 8), chance.randint(30, 400)))
        arrive_s = here.depart_s + takes_s
        depart_s = arrive_s + chance.choice((0, 60 * chance.randint(1, 9)))
        calls.append(Call(section, station, arrive_s, depart_s, {"arrive", "depart"}, row + n + 1))
    calls[-1].shown.discard("depart")
    return calls


def _hide(chance: Random, line: Line, calls: list[Call]) -> None:
    """Leave out times that the others, and the booked minutes, say as well; never both of one run, or of one call."""
    for n, call in enumerate(calls):
        before, after = (calls[n - 1] if n else None), (calls[n + 1] if n + 1 < len(calls) else None)
        passed = call.arrive_s == call.depart_s and before is not None and after is not None
        can = []
        if before is not None and "depart" in before.shown:
            booked_s = _booked_s(line, call)
            said = booked_s is not None and before.depart_s + booked_s == call.arrive_s
            by_one = passed and (booked_s is None or before.depart_s + booked_s >= call.arrive_s)
            can += ["arrive"] if said or by_one else []
        if after is not None:
            booked_s = _booked_s(line, after)
            said = booked_s is not None and after.arrive_s - booked_s == call.depart_s
            by_one = passed and (booked_s is None or after.arrive_s - booked_s <= call.depart_s)
            can += ["depart"] if said or by_one else []
        hidden = chance.choice([*can, None]) if can else None
        if hidden == "depart" or (hidden == "arrive" and before is not None and "depart" in before.shown):
            call.shown.discard(hidden)


def _booked_s(line: Line, call: Call) -> int | None:
    minutes = line.sections[call.section][2]
    return None if minutes is None else minutes * 60


def _times(call: Call) -> tuple[tuple[str, int], tuple[str, int]]:
    return ("arrive", call.arrive_s), ("depart", call.depart_s)


def _clock(t_s: int) -> str:
    text = f"{t_s // 3600:02}:{t_s // 60 % 60:02}"
    return f"{text}:{t_s % 60:02}" if t_s % 60 else text
