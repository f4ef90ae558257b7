"""Overfull roads call by call: in the order of the calls, and judged when those at work there are done; worked by hand."""

from __future__ import annotations

from bridge.core.plan import Call, Move, Railway, Standing, Vehicle, Working
from bridge.core.plant import Plant, Road, RoadKind, Section, SectionRule, Station, Throat
from bridge.forecast.course import course
from bridge.forecast.crowding import crowded
from bridge.forecast.overfull import from_the_start
from bridge.forecast.rows import handled

OPEN = {"main": ("up", "down"), "coal": ("down",), "mill": ("up",)}
ROADS = {
    f"{s}.{name}": Road(f"{s}.{name}", s, name, RoadKind.SIDING, 1000 if name == "main" else 250, open_)
    for s in "abc"
    for name, open_ in OPEN.items()
}
STATIONS = {s: Station(s, s, tuple(road for road in ROADS if road[0] == s)) for s in "abc"}
THROATS = {f"{s}.{e}": Throat(f"{s}.{e}", s, e) for s in "abc" for e in ("up", "down")}
LINE = {f"{a}-{b}": Section(f"{a}-{b}", f"{a}.down", f"{b}.up", 3000, SectionRule.ONE_TRAIN) for a, b in ("ab", "bc")}
PLANT = Plant("p", "P", 76, 1, STATIONS, ROADS, THROATS, LINE, {}, {})
STOCK = {v: Vehicle(v, "engine" if v[0] == "e" else "wagon", 100) for v in ("e1", "e2", *(f"w{n}" for n in range(1, 7)))}


def working(name: str, engine: str, *calls: str) -> Working:
    rows = []
    for n, call in enumerate(calls):
        station, arrive, depart = call.split()
        times = [None if word == "-" else float(word) for word in (arrive, depart)]
        rows.append(Call(n, station, f"{station}.main", times[0], times[1]))
    return Working(name, "goods", engine, tuple(rows))


def plan(stands: dict[str, str], workings: list[Working], *moves: str) -> Railway:
    """Each move "vehicle from to working" and its call where one is chosen."""
    standing = [Standing(v, place, n) for place, row in stands.items() for n, v in enumerate(row.split(), 1)]
    booked = []
    for n, move in enumerate(moves):
        vehicle, start, end, name, *call = move.split()
        booked.append(Move(n, vehicle, start, end, name, int(call[0]) if call else None))
    return Railway(PLANT, STOCK, tuple(standing), {w.id: w for w in workings}, tuple(booked))


def told(railway: Railway) -> list[tuple[str, str, int]]:
    """(road, working, call) of each."""
    found = crowded(railway, course(railway), handled(railway))
    return [(c.road, c.at.working if c.at else "", c.at.call if c.at else -1) for c in found]


def test_between_two_calls_of_one_working() -> None:
    """b.coal takes a third wagon at the first call and loses one at the second: too full in between."""
    twice = working("g", "e1", "a - 10", "b 20 30", "c 40 50", "b 60 70", "a 80 -")
    railway = plan({"a.coal": "w1", "b.coal": "w2 w3"}, [twice], "w1 a.coal b.coal g 1", "w2 b.coal a.mill g 2")
    assert told(railway) == [("b.coal", "g", 1)]
    assert from_the_start(railway) == ()


def test_one_taken_and_one_brought_at_one_call() -> None:
    once = working("g", "e1", "a - 10", "b 20 30", "c 40 -")
    assert told(plan({"a.coal": "w1", "b.coal": "w2 w3"}, [once], "w1 a.coal b.coal g", "w2 b.coal c.mill g")) == []


def test_calls_count_in_their_order_not_workings() -> None:
    """g begins first, but comes to b only when h has made room there."""
    early, late = working("g", "e1", "a - 10", "b 60 70"), working("h", "e2", "c - 20", "b 30 40", "a 80 -")
    moves = "w1 a.coal b.coal g", "w2 b.coal a.mill h"
    assert told(plan({"a.coal": "w1", "b.coal": "w2 w3"}, [early, late], *moves)) == []
    sooner = working("h", "e2", "c - 20", "b 65 90", "a 99 -")
    assert told(plan({"a.coal": "w1", "b.coal": "w2 w3"}, [early, sooner], *moves)) == []
    after = working("h", "e2", "c - 20", "b 75 90", "a 99 -")
    assert told(plan({"a.coal": "w1", "b.coal": "w2 w3"}, [early, after], *moves)) == [("b.coal", "g", 1)]


def test_as_things_stand_and_just_full() -> None:
    assert told(plan({"a.coal": "w1 w2 w3"}, [])) == [("a.coal", "", -1)]
    assert told(plan({"a.coal": "w1 w2"}, [])) == []


def test_a_move_within_a_station() -> None:
    once = working("g", "e1", "a - 10", "b 20 30", "c 40 -")
    assert told(plan({"b.mill": "w1", "b.coal": "w2 w3"}, [once], "w1 b.mill b.coal g")) == [("b.coal", "g", 1)]
    assert told(plan({"b.mill": "w1", "b.coal": "w2 w3"}, [once], "w1 b.mill b.coal g", "w2 b.coal c.coal g")) == []
