"""What the core is tested with: a line of two stations that a test shapes as it needs, and a session fed by hand.

Rule: what is fed are readings of inputs, words and the deadlines that the core names: nothing reaches into the state.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import pytest

from bridge.core import fold, state
from bridge.core.events import DeadlinePassed, FolderTaken, Journalled
from bridge.core.plan import Railway
from bridge.core.plant import DetectorKind
from bridge.folder import read
from bridge.wire.records import Reading, Record, Said

ROADS = """
[[station]]
id = "{id}"
name = "{name}"
[[station.road]]
id = "main"
kind = "running"
length = 2000
open = ["up", "down"]
[[station.road]]
id = "loop"
kind = "loop"
length = 2000
open = ["up", "down"]
[[station.road]]
id = "dock"
kind = "siding"
length = 300
open = ["down"]
"""
STOCK = """vehicle,kind,length,tags,tail,detected
e1,engine,150,04A1,no,yes
e2,engine,150,04A2,no,yes
e3,engine,150,04A3,no,yes
w1,wagon,100,04B1,no,yes
w2,wagon,100,04B2,no,yes
w3,wagon,100,04B3,no,yes
w4,wagon,100,04B4,no,yes
c1,coach,250,04C1,no,no
v1,brake,120,04D1,yes,yes
"""
STANDING = """vehicle,road,order
v1,ash.main,1
w1,ash.main,2
e1,ash.main,3
e2,ash.loop,1
e3,birch.loop,1
w2,ash.dock,1
w3,birch.dock,1
"""
TIMETABLE = """working,kind,engine,station,road,arrive,depart,rake
g1,goods,e1,ash,main,,19:02,w1 v1
g1,goods,e1,birch,main,19:06,,
p2,passenger,e2,ash,loop,,19:02:20,
p2,passenger,e2,birch,loop,,,
r3,goods,e3,birch,loop,,19:02:40,
r3,goods,e3,ash,loop,19:24,,
"""
EVERY = {
    "ash-main": 'kind = "track"\ncovers = "ash.main"',
    "ash-loop": 'kind = "track"\ncovers = "ash.loop"',
    "ash-throat": 'kind = "track"\ncovers = "ash.down"',
    "birch-main": 'kind = "track"\ncovers = "birch.main"',
    "birch-loop": 'kind = "track"\ncovers = "birch.loop"',
    "birch-throat": 'kind = "track"\ncovers = "birch.up"',
    "birch-neck": 'kind = "track"\ncovers = "birch.down"',
    "line": 'kind = "track"\ncovers = "ash-birch"',
    "ash-end": 'kind = "reader"\nat = "ash-birch@ash"',
    "birch-end": 'kind = "reader"\nat = "ash-birch@birch"',
    "ash-dock-reader": 'kind = "reader"\nat = "ash.dock@down"',
    "birch-dock-reader": 'kind = "reader"\nat = "birch.dock@down"',
    "ash-rest": 'kind = "token-rest"\ntoken = "ash-birch"\nstation = "ash"',
    "birch-rest": 'kind = "token-rest"\ntoken = "ash-birch"\nstation = "birch"',
    "bridge": 'kind = "proof"\nguards = "ash-birch"',
    "ash-gates": 'kind = "proof"\nguards = "ash.down"',
    "dock-gates": 'kind = "proof"\nguards = "birch.dock"',
    "birch-points": 'kind = "points"\nat = "birch.up"\non = ["birch.main"]\noff = ["birch.loop"]',
    "ash-out": 'kind = "treadle"\nat = "ash-birch@ash"\nsees = "engine"',
    "birch-tail": 'kind = "treadle"\nat = "ash-birch@birch"\nsees = "tail"',
}
"""Every detector that a test may ask for, and what its table says."""
TRACKS = tuple(name for name, table in EVERY.items() if "track" in table)
ENDS = ("ash-end", "birch-end")
DOCKS = ("ash-dock-reader", "birch-dock-reader")
RESTS = ("ash-rest", "birch-rest")
TOKEN = "04FF01"


def line(
    rule: str = "one-train",
    detectors: tuple[str, ...] = (*TRACKS, *ENDS, *DOCKS),
    limits: Mapping[str, float] | None = None,
    section: str = "",
    **files: str,
) -> Railway:
    """The line from Ash down to Birch. `section`: further keys of its table; `files`: what stands in stock, whereabouts,
    timetable, moves."""
    toml = '[railway]\nid = "line"\nname = "A line"\nscale = 76.2\nclock = 4\n'
    toml += ROADS.format(id="ash", name="Ash") + ROADS.format(id="birch", name="Birch")
    tags = f'token_tags = ["{TOKEN}"]\n' if rule in ("token", "staff-and-ticket") else ""
    toml += f'[[section]]\nid = "ash-birch"\nfrom = "ash.down"\nto = "birch.up"\nlength = 5000\nrule = "{rule}"\n{tags}'
    toml += section
    toml += '[[board]]\nid = "one"\nlink = "mqtt"\n'
    for number, name in enumerate(detectors, 1):
        toml += f'[[detector]]\nid = "{name}"\n{EVERY[name]}\nboard = "one"\ninput = {number}\n'
    if limits:
        toml += "[limits]\n" + "".join(f"{key} = {value}\n" for key, value in limits.items())
    return railway_of(toml, **files)


def railway_of(toml: str, **files: str) -> Railway:
    """The railway of such a railway.toml; `files`: what stands in stock, whereabouts, timetable, moves, where it is not what
    stands there on the line."""
    texts = {
        "railway.toml": toml,
        "stock.csv": files.get("stock", STOCK),
        "whereabouts.csv": files.get("whereabouts", STANDING),
        "timetable.csv": files.get("timetable", TIMETABLE),
        "moves.csv": files.get("moves", "vehicle,from,to,working,call\n"),
    }
    found = read({name: text.encode() for name, text in texts.items()})
    assert found.railway is not None, found.findings
    return found.railway


Row = dict[str, Any]


class Session:
    """One session fed by hand. `said`: every outcome as its JSON object; `t`: host seconds of the last event."""

    def __init__(self, railway: Railway, begin: str | None = "19:01", strict: bool = True) -> None:
        self.railway = railway
        self.state = state.fresh(strict=strict)
        self.said: list[Row] = []
        self.t, self.n = 0.0, 0
        self._fold(FolderTaken(0.0, railway))
        standing = {row.place for row in railway.standing}
        for detector in railway.plant.detectors.values():
            if detector.kind is DetectorKind.TRACK:
                self.see(detector.id, "on" if detector.covers in standing else "off", 0.0)
            elif detector.kind is DetectorKind.TOKEN_REST:
                self.see(detector.id, f"tag={TOKEN}" if detector.id == "ash-rest" else "off", 0.0)
        self.wait(2.0)
        if begin is not None:
            self.say(f"begin {begin}", 0.0)

    def _fold(self, event: Any) -> None:
        self.state, said = fold.fold(self.state, event)
        self.said += [outcome.as_dict() for outcome in said]

    def wait(self, seconds: float) -> Session:
        """Let time pass: every deadline that the core names in it."""
        until = round(self.t + seconds, 6)
        while (due := fold.due(self.state)) is not None and due <= until:
            self._fold(DeadlinePassed(due))
        self.t = until
        return self

    def take(self, record: Record) -> Session:
        """One record, as it stands."""
        self.n += 1
        self._fold(Journalled(self.n, record))
        return self

    def see(self, detector: str, value: str, after: float = 0.5) -> Session:
        """One reading of a detector."""
        self.wait(after)
        found = self.railway.plant.detectors[detector]
        return self.take(Reading(self.t, "mqtt", found.board, found.input, value))

    def on(self, *detectors: str, after: float = 0.5) -> Session:
        """Detectors come on, one after the other."""
        for detector in detectors:
            self.see(detector, "on", after)
        return self

    def off(self, *detectors: str, after: float = 0.5) -> Session:
        """Detectors go off, one after the other."""
        for detector in detectors:
            self.see(detector, "off", after)
        return self

    def read(self, reader: str, *vehicles: str, after: float = 1.0) -> Session:
        """A reader reads vehicles one after the other."""
        for vehicle in vehicles:
            self.see(reader, f"tag={self.railway.stock[vehicle].tags[0]}", after)
        return self

    def say(self, words: str, after: float = 0.5) -> str:
        """An operator tells something; the answer."""
        self.wait(after)
        self.take(Said(self.t, None, words))
        return self.state.reply

    def rows(self, says: str, **keys: Any) -> list[Row]:
        """What was said of one kind, with these keys."""
        return [row for row in self.said if row["says"] == says and all(row.get(key) == keys[key] for key in keys)]

    def open(self, kind: str | None = None) -> list[Row]:
        """The irregularities open now (of one kind), each as it was said last."""
        withdrawn = {row["of"] for row in self.rows("corrected")}
        last = {row["id"]: row for row in self.rows("irregularity")}
        return [
            row
            for row in last.values()
            if row["status"] == "open" and row["n"] not in withdrawn and kind in (None, row["kind"])
        ]

    def standing(self) -> list[Row]:
        """What was said and has not been corrected."""
        withdrawn = {row["of"] for row in self.rows("corrected")}
        return [row for row in self.said if row["n"] not in withdrawn]

    # --- what trains do on this line

    def goods_leaves(self, road: str = "main") -> Session:
        """g1 (e1 w1 v1) goes out of Ash and is complete in the section."""
        self.on("ash-throat", after=2.0).on("line", after=2.0).read("ash-end", "e1", after=0.2).read("ash-end", "w1")
        return self.off(f"ash-{road}", after=0.2).read("ash-end", "v1").off("ash-throat", after=1.0)

    def goods_comes(self, road: str = "main", last: bool = True) -> Session:
        """g1 comes in at Birch; `last`: its last vehicle is read as it should."""
        self.on("birch-throat", after=8.0).read("birch-end", "e1", after=0.2).read("birch-end", "w1")
        self.on(f"birch-{road}", after=0.3).read("birch-end", *(["v1"] if last else []), after=0.7)
        return self.off("line", after=0.7).off("birch-throat", after=2.0)


@pytest.fixture
def session() -> Callable[..., Session]:
    """`session(rule=..., detectors=..., begin=..., ...)`: a session on the line, begun unless `begin` is None."""

    def make(begin: str | None = "19:01", strict: bool = True, **how: Any) -> Session:
        return Session(line(**how), begin, strict)

    return make
