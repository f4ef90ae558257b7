"""What is believed by the plan alone: of an evening on which all went as booked it is right at the end, whoever was late."""

from __future__ import annotations

import pytest

from bridge.core.plan import Railway
from bridge.wire.records import Said

from .nights import Night, Recorded, recorded
from .plan_only import PlanOnly
from .true_lines import TrueLines

SEED = 603


@pytest.fixture(scope="module")
def evening() -> Recorded:
    return recorded(Night(), SEED)


def at(railway: Railway, session_s: float) -> dict[str, str]:
    """Where it has everything at a session second, the clock having been set at host second 0 to midnight."""
    engine = PlanOnly(railway)
    engine.take(Said(0.0, None, "begin 00:00"))
    engine.until(session_s / railway.plant.clock)
    return {vehicle: held.place for vehicle, held in engine.beliefs().items()}


def test_where_all_went_as_booked_it_is_right_at_the_end(evening: Recorded) -> None:
    assert all(move["done"] for move in evening.truth["moves"])
    engine = PlanOnly(evening.railway)
    for record in evening.records:
        engine.take(record)
    where = TrueLines(evening.truth["lines"]).places_at(evening.truth["end_t"])
    assert {v for v, held in engine.beliefs().items() if held.place not in where[v]} == set()


def test_before_the_session_all_stands_as_the_file_says(evening: Recorded) -> None:
    railway = evening.railway
    engine = PlanOnly(railway)
    engine.until(1e6)
    assert {v: (held.place, held.order) for v, held in engine.beliefs().items()} == {
        row.vehicle: (row.place, row.order) for row in railway.standing
    }


def test_between_its_booked_times_a_train_is_in_its_section(evening: Recorded) -> None:
    railway = evening.railway
    for working in railway.workings.values():
        for call, then in zip(working.calls, working.calls[1:], strict=False):
            assert call.depart_s is not None
            assert then.arrive_s is not None
            section = at(railway, (call.depart_s + then.arrive_s) / 2)[working.engine]
            ends = railway.plant.sections[section]
            assert {ends.from_throat.partition(".")[0], ends.to_throat.partition(".")[0]} == {call.station, then.station}
            assert at(railway, then.arrive_s + 1.0)[working.engine] == then.road


def test_a_wagon_stays_until_it_is_booked_away_and_from_when_it_is_booked_in(evening: Recorded) -> None:
    railway = evening.railway
    for move in railway.moves:
        working = railway.workings[move.working or "g1"]
        stations = [call.station for call in working.calls]
        first, last = (stations.index(road.partition(".")[0]) for road in (move.from_road, move.to_road))
        departs_s, arrives_s = working.calls[first].depart_s, working.calls[last].arrive_s
        assert departs_s is not None
        assert arrives_s is not None
        if first < last:
            assert at(railway, departs_s - 1.0)[move.vehicle] == move.from_road
            assert at(railway, departs_s + 1.0)[move.vehicle] in railway.plant.sections
            assert at(railway, arrives_s + 1.0)[move.vehicle] == move.to_road
