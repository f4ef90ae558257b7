"""What is believed held beside what is true: snapshots made by hand, each wrong in one way, at instants of real evenings."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest

from bridge.core.plan import Railway
from bridge.virtual.beside import STANDS_S, Beside
from bridge.virtual.evening import Evening
from bridge.virtual.staging import Stage

Snapshot = dict[str, Any]


def as_it_is(evening: Evening) -> Snapshot:
    """A snapshot that believes the truth; a vehicle on two stretches is believed on the first of them alone."""
    railway, chronicle = evening.railway, evening.scene.chronicle
    place: dict[str, str] = {}
    for stretch, line in chronicle.lines.items():
        for vehicle in line:
            place.setdefault(vehicle, stretch)

    def told(stretch: str) -> Snapshot:
        line = chronicle.lines[stretch]
        state = "occupied" if any(railway.stock[v].detected for v in line) else "clear"
        return {"id": stretch, "state": state, "line": [v for v in line if place[v] == stretch]}

    stations = [
        {"roads": [told(r) for r in s.roads], "throats": [told(f"{s.id}.up"), told(f"{s.id}.down")]}
        for s in railway.plant.stations.values()
    ]
    trains = [
        {"id": working, "engine": engine, "rake": list(ids)}
        for engine, (working, ids) in chronicle.trains.items()
        if working
    ]
    within = {section: list(chronicle.sections.get(section, ((), ()))[0]) for section in railway.plant.sections}
    return {
        "stations": stations,
        "sections": [{**told(section), "trains": trains} for section, trains in within.items()],
        "vehicles": {vehicle: {"place": place[vehicle]} for vehicle in railway.stock},
        "trains": trains,
    }


def run_until(evening: Evening, is_so: Callable[[], bool], beside: Beside | None = None) -> None:
    evening.start()
    while not is_so():
        assert not evening.finished
        evening.timeline.step()
        if beside is not None:
            beside.look()


def held(beside: Beside, evening: Evening, snapshot: Snapshot) -> list[Snapshot]:
    """What is said to be wrong with a snapshot once that has stood long enough."""
    first = beside(snapshot)
    assert first["wrong"] == []  # nothing is said of the first moment, but that something changes
    fresh = {stretch for stretch, strip in first["strips"].items() if strip["fresh"]}
    until_s = evening.timeline.now_s + STANDS_S
    run_until(evening, lambda: evening.timeline.now_s >= until_s)
    wrong: list[Snapshot] = beside(snapshot)["wrong"]
    assert all(row["since_s"] >= STANDS_S for row in wrong)
    assert fresh == {strip for row in wrong for strip in row["strips"]}
    return wrong


@pytest.fixture
def standing(demo: Stage) -> tuple[Evening, Beside]:
    """Some seconds before anything moves."""
    evening = demo.evening(1, [])
    run_until(evening, lambda: evening.timeline.now_s >= 1.0)
    return evening, Beside(evening)


def road(snapshot: Snapshot, road_id: str) -> Snapshot:
    return next(r for s in snapshot["stations"] for r in s["roads"] if r["id"] == road_id)


def first_line(railway: Railway, evening: Evening) -> tuple[str, tuple[str, ...]]:
    lines = evening.scene.chronicle.lines
    return next((r, lines[r]) for r in railway.plant.roads if len(lines[r]) > 2)


def test_who_believes_the_truth_is_nowhere_wrong_all_evening(demo: Stage) -> None:
    evening = demo.evening(4, ["wrong-siding"])
    beside = Beside(evening)
    looked = 0

    def is_over() -> bool:
        nonlocal looked
        if evening.timeline.now_s > looked * 1.5:
            looked += 1
            told = beside(as_it_is(evening))
            assert told["wrong"] == []
            lines = evening.scene.chronicle.lines
            twice = {v for line in lines.values() for v in line if sum(v in other for other in lines.values()) > 1}
            assert told["strips"] == {
                stretch: {"line": line, "partly": [v for v in line if v in twice], "fresh": False}
                for stretch, line in lines.items()
            }
        return evening.finished

    run_until(evening, is_over, beside)
    assert looked > 500


def test_vehicles_that_are_elsewhere_are_told_together(standing: tuple[Evening, Beside]) -> None:
    evening, beside = standing
    where, (one, other, *_) = first_line(evening.railway, evening)
    there = next(r for r in evening.railway.plant.roads if r != where)
    snapshot = as_it_is(evening)
    for vehicle in (one, other):
        road(snapshot, where)["line"].remove(vehicle)
        snapshot["vehicles"][vehicle]["place"] = there
    road(snapshot, there)["line"] += [one, other]
    (row,) = held(beside, evening, snapshot)
    assert (row["what"], row["vehicles"], row["believed"], row["true"]) == ("elsewhere", [one, other], there, [where])
    assert row["strips"] == [there, where]
    assert row["runs"] is False


def test_an_order_that_is_another(standing: tuple[Evening, Beside]) -> None:
    evening, beside = standing
    where, line = first_line(evening.railway, evening)
    snapshot = as_it_is(evening)
    road(snapshot, where)["line"] = [*line[1:], line[0]]
    (row,) = held(beside, evening, snapshot)
    assert (row["what"], row["where"], row["true"]) == ("order", where, list(line))
    assert row["believed"] == [*line[1:], line[0]]


@pytest.mark.parametrize(("state", "what"), [("clear", "not-clear"), ("occupied", "not-occupied")])
def test_a_state_that_is_another(standing: tuple[Evening, Beside], state: str, what: str) -> None:
    evening, beside = standing
    lines = evening.scene.chronicle.lines
    where = next(r for r in evening.railway.plant.roads if bool(lines[r]) == (state == "clear"))
    snapshot = as_it_is(evening)
    road(snapshot, where)["state"] = state
    (row,) = held(beside, evening, snapshot)
    assert (row["what"], row["where"], row["true"]) == (what, where, list(lines[where]))
    for honest in ("unknown", "unwatched"):
        road(snapshot, where)["state"] = honest
        assert beside(snapshot)["wrong"] == []


def test_a_train_with_other_vehicles_and_a_section_with_another_train(demo: Stage) -> None:
    evening = demo.evening(1, [])
    beside = Beside(evening)
    chronicle = evening.scene.chronicle
    run_until(evening, lambda: any(trains for trains, _ in chronicle.sections.values()), beside)
    section, train = next((s, trains[0]) for s, (trains, _) in chronicle.sections.items() if trains)
    snapshot = as_it_is(evening)
    told = next(t for t in snapshot["trains"] if t["id"] == train)
    missing, stranger = told["rake"].pop(), next(v for v in evening.railway.stock if v not in told["rake"])
    told["rake"].append(stranger)
    next(s for s in snapshot["sections"] if s["id"] == section)["trains"] = ["x9"]
    rows = {row["what"]: row for row in held(beside, evening, snapshot)}
    assert (rows["rake"]["train"], rows["rake"]["believed"], rows["rake"]["true"]) == (train, [stranger], [missing])
    assert (rows["section"]["where"], rows["section"]["believed"], rows["section"]["true"]) == (section, ["x9"], [train])
    assert rows["rake"]["runs"]
    assert rows["section"]["runs"]


def test_how_long_it_has_been_so_counts_from_when_it_began(standing: tuple[Evening, Beside]) -> None:
    evening, beside = standing
    right = as_it_is(evening)
    wrong = copy.deepcopy(right)
    where, line = first_line(evening.railway, evening)
    road(wrong, where)["line"] = list(line[::-1])
    assert len(held(beside, evening, wrong)) == 1
    assert beside(right)["wrong"] == []
    assert beside(wrong)["wrong"] == []  # it has begun anew


def test_tokens_and_trains_are_told_by_their_names(demo: Stage) -> None:
    evening = demo.evening(1, [])
    beside = Beside(evening)
    tokens = evening.scene.chronicle.tokens
    run_until(evening, lambda: any(engine for _, engine in tokens.values()), beside)
    section, engine = next((s, engine) for s, (_, engine) in tokens.items() if engine)
    told = beside(as_it_is(evening))
    working, ids = evening.scene.chronicle.trains[engine]
    assert told["tokens"][section] == {"station": None, "train": working}
    assert {told["trains"][vehicle] for vehicle in ids} == {working}
    assert None in told["trains"].values()
