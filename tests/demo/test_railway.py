"""The demonstration railway is what it promises to be: big enough to show everything, and in order."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.cli.demo import EVENING_MIN
from bridge.core.plan import Railway
from bridge.core.plant import DetectorKind, RoadKind, SectionRule
from bridge.folder import load
from bridge.virtual.staging import stage

DEMO = Path(__file__).parents[2] / "demo" / "railway"


@pytest.fixture(scope="module")
def railway() -> Railway:
    found = load(DEMO)
    assert [f for f in found.findings if f.level != "advice"] == []
    assert found.railway is not None
    return found.railway


def test_check_finds_it_in_order(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(DEMO)]) == 0
    assert "The folder is in order." in capsys.readouterr().out


def test_its_size(railway: Railway) -> None:
    kinds = Counter(road.kind for road in railway.plant.roads.values())
    assert len(railway.plant.stations) >= 5
    assert kinds[RoadKind.LOOP] >= 2
    assert kinds[RoadKind.SIDING] >= 7
    assert sum(vehicle.kind == "wagon" for vehicle in railway.stock.values()) == 40
    assert len(railway.workings) >= 3
    junctions = Counter(t for s in railway.plant.sections.values() for t in (s.from_throat, s.to_throat))
    assert max(junctions.values()) == 2  # where the branch leaves


def test_it_shows_every_rule_and_kind_of_detector(railway: Railway) -> None:
    assert {section.rule for section in railway.plant.sections.values()} == set(SectionRule)
    assert {detector.kind for detector in railway.plant.detectors.values()} == set(DetectorKind)
    assert {board.link for board in railway.plant.boards.values()} == {"serial", "mqtt"}
    without = set(railway.plant.roads) - set(railway.plant.covering)
    assert without  # some roads are known only by what went in and out
    assert sum(len(vehicle.tags) == 2 for vehicle in railway.stock.values()) == 2


def test_three_pairs_of_workings_cross(railway: Railway) -> None:
    pairs = {
        frozenset((working.id, other))
        for working in railway.workings.values()
        for call in working.calls
        for other in call.wait_for
    }
    assert pairs == {frozenset(p) for p in (("p1", "g1"), ("m1", "g1"), ("m1", "p2"))}


def test_an_evening_is_as_long_as_the_greeting_says_and_ends_with_words(railway: Railway) -> None:
    evening = stage(railway).evening(1, [])
    said: list[str] = []
    evening.on_words = said.append
    evening.run()
    assert evening.timeline.now_s / 60 == pytest.approx(EVENING_MIN, abs=1.0)
    assert said[0] == "begin 19:00"
    assert said[-1] == "end"
    assert {word.split()[0] for word in said} >= {"give", "return"}


def test_its_script_is_half_an_hour_at_most_and_has_tea(railway: Railway) -> None:
    evening = stage(railway, DEMO / "evening.script").evening(1, [])
    said: list[str] = []
    evening.on_words = said.append
    evening.run()
    assert 20 * 60 < evening.timeline.now_s < 30 * 60
    assert (said[0], said[-1]) == ("begin 19:00", "end")
    assert {"stop-clock", "go-on"} <= set(said)


@pytest.mark.parametrize("seed", range(1, 6))
def test_crews_keep_to_the_timetable_whatever_the_seed(railway: Railway, seed: int) -> None:
    """Nobody leaves before its time or is much late, but p2, which waits while the goods shunts at Saltgander."""
    evening = stage(railway).evening(seed, [])
    evening.run()
    begin_s, rate = evening.begin_s, railway.plant.clock
    booked = {(w.id, c.station): c for w in railway.workings.values() for c in w.calls}
    for event in evening.scene.truth.events:
        if event["says"] in ("departed", "arrived"):
            clock_s = 19 * 3600 + (event["t"] - begin_s) * rate
            call = booked[event["train"], event["station"]]
            if event["says"] == "departed":
                assert call.depart_s is not None
                assert 0 <= clock_s - call.depart_s < (600 if event["train"] == "p2" else 300)
            else:
                assert call.arrive_s is not None
                assert -300 < clock_s - call.arrive_s < (300 if event["train"] == "p2" else 60)
                assert event["road"] == call.road


def test_the_truth_tells_of_every_call_once(railway: Railway) -> None:
    """Departed from and arrived on the booked road, each call once; shunting beyond the section's end is neither."""
    evening = stage(railway).evening(2, [])
    evening.run()
    events = evening.scene.truth.events
    calls = [
        (w.id, c.station, c.road, c is not w.calls[0], c is not w.calls[-1])
        for w in railway.workings.values()
        for c in w.calls
    ]
    for says, place in (("arrived", 3), ("departed", 4)):
        told = sorted((e["train"], e["station"], e["road"]) for e in events if e["says"] == says)
        assert told == sorted(call[:3] for call in calls if call[place])
    entered = sorted((e["train"], e["section"]) for e in events if e["says"] == "entered")
    assert entered == sorted((e["train"], e["section"]) for e in events if e["says"] == "cleared")
    assert len(entered) == sum(call[4] for call in calls)
    booked = sorted((m.working, m.vehicle, m.to_road) for m in railway.moves)
    assert booked == sorted((e["train"], e["vehicle"], e["road"]) for e in events if e["says"] == "set-out")


def test_a_divided_train_clears_its_section_with_the_rest_of_it(railway: Railway) -> None:
    evening = stage(railway, DEMO / "evening.script").evening(2, ["divided"])
    evening.run()
    times = {(e["says"], e.get("road")): e["t"] for e in evening.scene.truth.events if e["train"] == "g1"}
    cleared = [
        e["t"] for e in evening.scene.truth.events if e["says"] == "cleared" and e["section"] == "featherlow-saltgander"
    ]
    assert times["arrived", "saltgander.loop"] < cleared[-1] < times["arrived", "saltgander.platform"]
    assert evening.scene.world.standing_on("saltgander.platform") == ["b1", "w06", "e1"]
