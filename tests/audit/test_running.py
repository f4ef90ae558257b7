"""What trains did, what became of moves, what went wrong."""

from __future__ import annotations

from typing import Any

from bridge.audit.irregularities import every, irregularities
from bridge.audit.moves import moves
from bridge.audit.workings import behind_s, trains

KEYS = {"road": "alder.platform", "booked_road": None, "late": None}


def test_a_booked_train_is_told_call_by_call(told: Any) -> None:
    (train,) = trains(told.account())
    first, last = train.stops
    assert (first.departed, first.departed_late_s, first.arrived) == ("19:11:06", 66, None)
    assert (last.arrived, last.arrived_late_s, last.road) == ("19:16:36", -204, "birch.platform")
    assert behind_s(last) == -204


def test_a_train_that_nobody_booked_has_calls_of_its_own(told: Any) -> None:
    told.say(430.0, "19:28:00", "departed", train="e9", station="alder", **KEYS)
    assert [train.id for train in trains(told.account())] == ["g1", "e9"]
    (stop,) = trains(told.account())[1].stops
    assert (stop.booked, stop.departed) == (None, "19:28:00")


def test_a_call_that_nobody_booked_stands_between(evening: Any) -> None:
    evening.say(1.0, "19:10:00", "departed", train="g1", station="alder", **KEYS)
    evening.say(2.0, "19:12:00", "arrived", train="g1", station="cedar", **KEYS)
    evening.say(3.0, "19:13:00", "departed", train="g1", station="cedar", **KEYS)
    evening.say(4.0, "19:20:00", "arrived", train="g1", station="birch", **KEYS)
    (train,) = trains(evening.account())
    assert [(stop.station, stop.booked is None) for stop in train.stops] == [
        ("alder", False),
        ("cedar", True),
        ("birch", False),
    ]
    assert [(stop.arrived, stop.departed) for stop in train.stops] == [
        (None, "19:10:00"),
        ("19:12:00", "19:13:00"),
        ("19:20:00", None),
    ]


def test_a_train_that_comes_back_gets_a_second_call(evening: Any) -> None:
    evening.say(1.0, "19:10:00", "departed", train="g1", station="alder", **KEYS)
    evening.say(2.0, "19:12:00", "arrived", train="g1", station="alder", **KEYS)
    (train,) = trains(evening.account())
    assert [stop.station for stop in train.stops] == ["alder", "alder", "birch"]


def test_every_move_has_its_end(told: Any) -> None:
    ends = [(move.move.vehicle, move.state, move.words) for move in moves(told.account())]
    assert ends == [("w1", "done", "done"), ("w2", "done", "probably done"), ("w2", "carried-over", "carried over")]


def test_a_move_of_which_nothing_was_said_is_told_too(evening: Any) -> None:
    assert [move.words for move in moves(evening.account())] == ["nothing is known of it"] * 3


def test_a_move_below_probability_asks_to_look(evening: Any) -> None:
    keys = {"from": "alder.dock", "to": "birch.platform", "train": "g1", "sure": 0.4}
    evening.say(1.0, None, "move", vehicle="w1", **keys, state="done")
    assert "please look" in moves(evening.account())[0].words


def test_what_was_corrected_is_not_the_end_of_a_move(evening: Any) -> None:
    keys = {"from": "alder.dock", "to": "birch.platform", "train": "g1", "sure": 1.0}
    evening.say(1.0, None, "move", vehicle="w1", **keys, state="in-train")
    done = evening.say(2.0, None, "move", vehicle="w1", **keys, state="done")
    evening.say(3.0, None, "corrected", of=done, why="")
    assert moves(evening.account())[0].state == "in-train"


def test_irregularities_stand_under_their_cause_dangers_first(told: Any) -> None:
    items = irregularities(told.account())
    assert [(item.id, item.level) for item in items] == [("i3", "danger"), ("i1", "caution"), ("i4", "note")]
    assert [item.id for item in items[1].followed] == ["i2"]
    assert [item.id for item in every(items)] == ["i3", "i1", "i2", "i4"]


def test_an_irregularity_knows_its_end_its_evidence_and_its_withdrawal(told: Any) -> None:
    clash, missed, overdue = irregularities(told.account())
    assert clash.ended is not None
    assert (missed.ended, missed.evidence, missed.withdrawn) == (None, {6, 8}, None)
    assert overdue.withdrawn is not None


def test_one_raised_again_after_its_correction_stands(told: Any) -> None:
    told.wrong(300.0, "19:20:00", "i4", "overdue", level="note", train="g1")
    assert irregularities(told.account())[2].withdrawn is None
