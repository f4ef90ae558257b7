"""Trains that nothing saw come in, and that are seen going on."""

from __future__ import annotations

from bridge.core.movement import arriving
from bridge.core.trains import Phase
from bridge.core.whereabouts import Crossing

from ..conftest import ENDS, Session, line

TO_AND_FRO = """working,kind,engine,station,road,arrive,depart,rake
p2,passenger,e2,ash,loop,,19:02,
p2,passenger,e2,birch,loop,19:06,19:10,
p2,passenger,e2,ash,loop,19:14,19:18,
p2,passenger,e2,birch,loop,19:22,,
"""


def test_it_was_there_at_its_next_call_and_not_at_a_later_one_at_the_same_station() -> None:
    s = Session(line(detectors=ENDS, timetable=TO_AND_FRO)).read("ash-end", "e2").wait(20.0)
    train = s.state.roster.trains["p2"]
    arriving.arrive_unseen(s.state, train, "birch", Crossing(s.t, 7, "e2", "birch.loop", "birch.up", "seen"))
    assert (train.phase, train.station, train.road, train.call) == (Phase.AT_STATION, "birch", "birch.loop", 1)
    assert train.came.keys() == {1}
