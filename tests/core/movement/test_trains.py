"""The trains: which engine works what, in which order."""

from __future__ import annotations

from bridge.core.movement.trains import Phase, Roster, calls_at, first_section, section_after

from ..conftest import line

TIMETABLE = """working,kind,engine,station,road,arrive,depart
g2,goods,e1,birch,main,,19:40
g2,goods,e1,ash,main,19:44,
g1,goods,e1,ash,main,,19:02
g1,goods,e1,birch,main,19:06,
p2,passenger,e2,ash,loop,,19:10
p2,passenger,e2,birch,loop,19:14,19:16
p2,passenger,e2,ash,loop,19:20,
"""


def roster() -> tuple[Roster, object]:
    railway, made = line(timetable=TIMETABLE), Roster()
    made.prepare(railway)
    return made, railway


def test_an_engine_works_its_trains_in_the_order_of_their_times() -> None:
    made, _ = roster()
    assert made.queue == {"e1": ["g1", "g2"], "e2": ["p2"]}
    assert all(train.phase is Phase.TO_COME for train in made.trains.values())
    assert made.current("e1") is None
    following = made.following("e1")
    assert following is not None and following.id == "g1"
    made.take_over(following, "ash", "ash.main")
    assert made.current("e1") is following
    assert (following.phase, following.station, following.road, following.call) == (Phase.AT_STATION, "ash", "ash.main", 0)
    then = made.following("e1")
    assert then is not None and then.id == "g2"


def test_calls_follow_each_other() -> None:
    made, railway = roster()
    train = made.trains["p2"]
    here, then = train.this_call(), train.next_call()
    assert here is not None and then is not None and (here.station, then.station) == ("ash", "birch")
    train.call = 2
    assert train.next_call() is None
    assert section_after(railway, train) is None  # type: ignore[arg-type]
    assert train.working is not None
    assert [call.index for call in calls_at(train.working, "ash")] == [0, 2]
    first = first_section(railway, train.working)  # type: ignore[arg-type]
    assert first is not None and first.id == "ash-birch"


def test_a_train_in_no_timetable_is_named_by_its_engine() -> None:
    made, _ = roster()
    train = made.unbooked("e3")
    assert (train.id, train.working, train.phase, made.current("e3")) == ("e3", None, Phase.AT_STATION, train)
    assert train.this_call() is None and train.next_call() is None
    assert made.unbooked("e3") is train


def test_another_engine_works_a_train() -> None:
    made, _ = roster()
    train = made.trains["g1"]
    made.take_over(train, "ash", "ash.main")
    made.change_engine(train, "e3")
    assert train.engine == "e3"
    assert (made.current("e3"), made.current("e1")) == (train, None)
    then = made.following("e1")
    assert then is not None and then.id == "g2"
