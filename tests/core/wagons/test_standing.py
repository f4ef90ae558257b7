"""How full roads are: foretold, due, come true, and over again. Lengths over buffers, nothing between."""

from __future__ import annotations

from ..conftest import Session, line

HEAD = "vehicle,from,to,working,call\n"
MOVES = HEAD + "w1,ash.main,birch.dock,g1,\nw4,ash.dock,birch.dock,g1,\n"
STANDING = """vehicle,road,order
v1,ash.main,1
w1,ash.main,2
e1,ash.main,3
w4,ash.dock,1
w3,birch.dock,1
w2,birch.dock,2
"""


def test_a_road_that_moves_will_overfill_is_a_note_as_the_session_begins() -> None:
    """Four wagons of 100 mm are booked to stand on 300 mm."""
    s = Session(line(moves=MOVES, whereabouts=STANDING))
    (row,) = s.open()
    assert (row["kind"], row["level"], row["road"], row["fouls"]) == ("overfull-road", "note", "birch.dock", FOULS)
    assert row["because"] == ["w3", "w2", "w1", "w4"]
    assert "will be too full by 100 mm" in row["text"]


FOULS = ["birch.main", "birch.loop", "birch.down"]


def test_exactly_full_is_not_too_full() -> None:
    s = Session(line(moves=HEAD + "w1,ash.main,birch.dock,g1,\n", whereabouts=STANDING))
    assert s.open() == []


def test_it_is_a_caution_once_its_train_is_on_the_way() -> None:
    s = Session(line(moves=MOVES, whereabouts=STANDING), begin="18:40")
    s.wait(300.0).say("lifts g1 w4")
    s.goods_leaves()
    s.say("depart g1")
    (row,) = s.open("overfull-road")
    assert (row["id"], row["level"]) == ("i1", "caution")
    assert "will be too full" in row["text"]  # it is not yet: nothing more stands there than before


def test_it_comes_true_under_the_same_id() -> None:
    s = Session(line(moves=MOVES, whereabouts=STANDING))
    s.say("stands w1 birch.dock")
    s.say("stands w4 birch.dock")
    s.wait(5.0)
    (row,) = s.open("overfull-road")
    assert (row["id"], row["level"]) == ("i1", "caution")
    assert "is too full by 100 mm" in row["text"]
    assert s.rows("whereabouts", vehicle="w4")[-1]["fouls"] == ["birch.down"]


def test_nobody_foretold_it_and_it_ends_when_one_is_taken_away() -> None:
    s = Session(line(whereabouts=STANDING))
    s.say("stands w1 birch.dock")
    s.wait(5.0)
    assert s.open() == []  # 300 mm on 300 mm
    s.say("stands w4 birch.dock")
    s.wait(5.0)
    (row,) = s.open("overfull-road")
    assert (row["level"], row["because"]) == ("caution", ["w3", "w2", "w1", "w4"])
    assert row["evidence"]
    s.say("stands w4 ash.dock")
    s.wait(5.0)
    assert s.open() == []
    assert [each["status"] for each in s.rows("irregularity", id=row["id"])] == ["open", "ended"]


def test_a_train_that_passes_through_fills_nothing() -> None:
    s = Session(line(whereabouts=STANDING))
    for vehicle in ("w1", "w4"):
        s.say(f"stands {vehicle} birch.dock")
        s.say(f"lifts g1 {vehicle}")
    s.wait(10.0)
    assert s.open() == []


def test_while_its_mouth_is_passed_it_is_not_judged() -> None:
    """Somebody is at work there: what has just been pushed in may be drawn out again at once."""
    s = Session(line(whereabouts=STANDING))
    s.say("stands w1 birch.dock")
    s.say("stands w4 birch.dock")
    for _ in range(4):
        s.read("birch-dock-reader", "w4", after=1.0)
        assert s.open("overfull-road") == []
    s.say("stands w4 birch.dock")
    s.wait(4.0)
    assert len(s.open("overfull-road")) == 1
