"""A small evening, told by hand: two stations, one train, and everything that an account has to cope with."""

from __future__ import annotations

from typing import Any

import pytest

from bridge.audit.account import Account
from bridge.core.events import Journalled
from bridge.core.plan import Call, Move, Railway, Vehicle, Working
from bridge.core.plant import Board, Plant, Road, RoadKind, Section, SectionRule, Station, Throat
from bridge.wire.lines import Alive, Hello, Report, State
from bridge.wire.records import Closed, HostStarted, Opened, Reading, Received, Record, Rejected, Said

NASTY = '<script>alert("1")</script> & <b>Alder</b>'


class Evening:
    """Outcomes as they would be said: each `say` adds one with every key of its row."""

    def __init__(self, railway: Railway) -> None:
        self.railway = railway
        self.outcomes: list[dict[str, Any]] = []
        self.records: list[Record] = []

    def say(self, t: float, clock: str | None, says: str, **keys: Any) -> int:
        n = len(self.outcomes) + 1
        evidence = keys.pop("evidence", [])
        self.outcomes.append({"n": n, "t": t, "clock": clock, "says": says, **keys, "evidence": evidence})
        return n

    def wrong(self, t: float, clock: str | None, of: str, kind: str, **keys: Any) -> int:
        row = {"level": "caution", "status": "open", "text": f"{kind} of {of}", "do": "look", "because": [], "cause": None}
        return self.say(t, clock, "irregularity", id=of, kind=kind, **{**row, "explained": None, **keys})

    def account(self) -> Account:
        records = tuple(Journalled(n, record) for n, record in enumerate(self.records, 1))
        return Account(self.railway, tuple(self.outcomes), records)


@pytest.fixture
def railway() -> Railway:
    roads = [
        Road("alder.platform", "alder", "platform", RoadKind.RUNNING, 1400, ("up", "down")),
        Road("alder.dock", "alder", "dock", RoadKind.SIDING, 520, ("down",)),
        Road("birch.platform", "birch", "platform", RoadKind.RUNNING, 1200, ("up", "down")),
    ]
    stations = [Station("alder", NASTY, ("alder.platform", "alder.dock")), Station("birch", "Birch", ("birch.platform",))]
    throats = [Throat(f"{place}.{end}", place, end) for place in ("alder", "birch") for end in ("up", "down")]
    plant = Plant(
        "example",
        "The Example & Sons <Railway>",
        76.2,
        4.0,
        {station.id: station for station in stations},
        {road.id: road for road in roads},
        {throat.id: throat for throat in throats},
        {"alder-birch": Section("alder-birch", "alder.down", "birch.up", 5200, SectionRule.ONE_TRAIN)},
        {"alder": Board("alder", "serial"), "birch": Board("birch", "mqtt")},
        {},
    )
    calls = (
        Call(0, "alder", "alder.platform", None, 19 * 3600 + 600),
        Call(1, "birch", "birch.platform", 19 * 3600 + 1200, None),
    )
    stock = [
        Vehicle("e1", "engine", 145, painted="E 1007"),
        Vehicle("w1", "wagon", 116, painted='=HYPERLINK("x")', klass="+van"),
        Vehicle("w2", "wagon", 116, painted='"><img src=x>'),
    ]
    moves = (
        Move(0, "w1", "alder.dock", "birch.platform", "g1", load="coal, <b>best</b>"),
        Move(1, "w2", "alder.dock", "birch.platform", None),
        Move(2, "w2", "birch.platform", "alder.dock", None, load="-12"),
    )
    return Railway(plant, {v.id: v for v in stock}, (), {"g1": Working("g1", "goods", "e1", calls)}, moves)


@pytest.fixture
def evening(railway: Railway) -> Evening:
    return Evening(railway)


@pytest.fixture
def told(evening: Evening) -> Evening:
    """A whole evening: the train leaves, is said to have arrived too soon, that is corrected; a wagon is forgotten."""
    evening.records += [
        HostStarted(0.0),
        Opened(0.1, "serial-alder"),
        Received(0.2, "serial-alder", Hello("alder", 1, 10, 4)),
        Received(0.3, "serial-alder", State("alder", 1, 1, 20, 1, "off")),
        Said(1.0, "Pat <b>", "begin 19:00"),
        Received(160.0, "serial-alder", Report("alder", 1, 2, 160000, 1, "on")),
        Rejected(161.0, "serial-alder", "bad-sum", b"rep\xff"),
        Received(162.0, "serial-alder", Report("alder", 1, 4, 162000, 1, "off")),
        Received(163.0, "serial-alder", Alive("alder", 1, 5, 163000)),
        Received(164.0, "serial-alder", Report("alder", 1, 3, 161000, 2, "on")),
        Reading(165.0, "broker", "birch", 1, "on"),
        Closed(400.0, "serial-alder"),
        Said(410.0, None, "verdict i1 mine"),
        Said(420.0, None, "end"),
    ]
    say, wrong = evening.say, evening.wrong
    say(1.0, "19:00:00", "session", state="started", counts=None, evidence=[5])
    for vehicle, order in (("e1", 1), ("w1", 1), ("w2", 2)):
        place = "alder.platform" if vehicle == "e1" else "alder.dock"
        keys = {"place": place, "order": order, "fouls": [], "train": None, "sure": 1.0, "by": "assumed"}
        say(1.0, "19:00:00", "whereabouts", vehicle=vehicle, **keys)
    for vehicle, a, b in (("w1", "dock", "birch"), ("w2", "dock", "birch"), ("w2", "birch", "dock")):
        ends = {
            "from": "alder.dock" if a == "dock" else "birch.platform",
            "to": "birch.platform" if b == "birch" else "alder.dock",
        }
        say(1.0, "19:00:00", "move", vehicle=vehicle, **ends, train=None, state="booked", sure=1.0)
    say(160.0, "19:10:36", "observed", detector="d1", state="occupied", evidence=[6])
    place = {"train": "g1", "station": "alder", "road": "alder.platform", "booked_road": "alder.platform"}
    say(180.0, "19:11:56", "departed", **place, late=66, evidence=[6], happened=170.0)
    say(180.0, "19:11:56", "entered", train="g1", section="alder-birch", complete=None, evidence=[6], happened=170.0)
    say(180.0, "19:11:56", "may-go", train="g1", section="alder-birch", answer="yes", why="", seconds=0)
    to_birch = {"from": "alder.dock", "to": "birch.platform"}
    say(181.0, "19:12:00", "move", vehicle="w1", **to_birch, train="g1", state="in-train", sure=0.99, evidence=[8])
    there = {"train": "g1", "station": "birch", "road": "birch.platform", "booked_road": "birch.platform"}
    early = say(200.0, "19:13:16", "arrived", **there, late=-404, evidence=[8])
    say(250.0, "19:16:36", "corrected", of=early, why="a later line places it <still> in the section")
    say(250.0, "19:16:36", "arrived", **there, late=-204, evidence=[10])
    say(251.0, "19:16:40", "move", vehicle="w1", **to_birch, train="g1", state="done", sure=0.97, evidence=[10])
    say(252.0, "19:16:44", "move", vehicle="w2", **to_birch, train="g1", state="done", sure=0.7)
    wrong(
        260.0, "19:17:16", "i1", "lift-missed", text="<i>w2</i> was left behind", train="g1", vehicle="w2", evidence=[6, 8]
    )
    wrong(260.0, "19:17:16", "i2", "wagon-misplaced", level="caution", cause="i1", vehicle="w2", road="alder.dock")
    clash: dict[str, Any] = {"level": "danger", "section": "alder-birch", "happened": 269.0}
    wrong(270.0, "19:17:56", "i3", "section-clash", train="g1", trains=["g1"], **clash)
    wrong(280.0, "19:18:36", "i3", "section-clash", status="ended", text="clash over", **clash)
    gone = wrong(281.0, "19:18:40", "i4", "overdue", level="note", train="g1")
    say(282.0, "19:18:44", "corrected", of=gone, why="it had arrived")
    keys = {"place": "birch.platform", "order": 1, "fouls": [], "train": None, "by": "seen"}
    say(420.0, "19:27:56", "whereabouts", vehicle="e1", **keys, sure=0.999, evidence=[10])
    say(420.0, "19:27:56", "whereabouts", vehicle="w1", **{**keys, "order": 2, "by": "order"}, sure=0.62)
    to_alder = {"from": "birch.platform", "to": "alder.dock"}
    say(420.0, "19:27:56", "move", vehicle="w2", **to_alder, train=None, state="carried-over", sure=1.0)
    say(420.0, "19:27:56", "session", state="ended", counts={"lift-missed": 1})
    return evening
