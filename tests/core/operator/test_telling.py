"""What operators tell, carried out; what cannot be carried out changes nothing and is answered."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from ..conftest import ENDS, Session, line


def saying(s: Session) -> list[dict[str, object]]:
    """What was said besides observations."""
    return [row for row in s.said if row["says"] != "observed"]


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        ("acknowledge i9", "There is no irregularity i9."),
        ("explain i9 it was the cat", "There is no irregularity i9."),
        ("verdict i9 mine", "There is no irregularity i9."),
        ("mute lime", "No detector is called “lime”"),
        ("unmute lime", "No detector is called “lime”"),
        ("stands w9 ash.main", "No vehicle is called “w9”"),
        ("stands w1 ash.mein", "No road, throat or section is called “ash.mein”"),
        ("sets-out g1 w9 ash.dock", "No vehicle is called “w9”"),
        ("sets-out g1 w1 ash.mein", "No road is called “ash.mein”"),
        ("lifts g1 w9", "No vehicle is called “w9”"),
        ("tag 04FF w9", "No vehicle is called “w9”"),
        ("engine g1 w1", "No engine is called “w1”"),
        ("extra w1 x9", "No engine is called “w1”"),
        ("extra e3 g1", "There is a train called “g1” already: give the extra one another name."),
        ("arrive g1 ash.moon", "There is no road ash.moon."),
        ("arrive g9 ash.main", "That train is not known."),
        ("depart e9", "No train is called “e9”"),
        ("cancel g9", "No working is called “g9”"),
        ("lifts g9 w1", "No train is called “g9”"),
        ("undo 3", "Number 3 cannot be undone: tell what stands instead."),
        ("dance g1", "“dance” is not a word known here."),
    ],
)
def test_what_cannot_be_carried_out_changes_nothing(session: Callable[..., Session], words: str, answer: str) -> None:
    s = session()
    before = saying(s)
    assert s.say(words).startswith(answer)
    assert saying(s) == before


def test_the_clock_is_stopped_and_goes_on(session: Callable[..., Session]) -> None:
    s = session()
    s.say("stop-clock", 10.0)
    s.wait(100.0)
    s.say("go-on", 0.0)
    assert [(row["state"], row["clock"], row["counts"]) for row in s.rows("session")[1:]] == [
        ("stopped", "19:01:40", None),
        ("going-on", "19:01:40", None),
    ]
    s.on("line", after=10.0)
    assert s.said[-1]["clock"] == "19:02:20"


def test_where_a_vehicle_stands_by_eye_is_taken_for_true(session: Callable[..., Session]) -> None:
    s = session()
    assert s.say("stands w2 birch.main") == "w2 stands on birch.main."
    row = s.rows("whereabouts", vehicle="w2")[-1]
    assert (row["place"], row["sure"], row["by"], row["evidence"]) == ("birch.main", 1.0, "told", [s.n])


@pytest.mark.parametrize(
    ("words", "line_after"),
    [
        ("stands w4 ash.main 1", ["w4", "v1", "w1", "e1"]),
        ("stands w4 ash.main 3", ["v1", "w1", "w4", "e1"]),
        ("stands w4 ash.main 99", ["v1", "w1", "e1", "w4"]),
        ("stands w2 ash.main", ["v1", "w1", "e1", "w2"]),  # at the end nearest its old place: both throats lie down
    ],
)
def test_in_which_order_it_stands(session: Callable[..., Session], words: str, line_after: list[str]) -> None:
    s = session()
    s.say(words)
    assert list(s.state.where.line("ash.main")) == line_after  # type: ignore[union-attr]


def test_a_tag_told_is_known_from_then_on(session: Callable[..., Session]) -> None:
    s = session()
    s.say("tag 04ffff01 w2")
    s.see("ash-dock-reader", "tag=04FFFF01").see("ash-dock-reader", "tag=04FFFF01", 5.0)
    assert s.open() == []
    assert s.rows("whereabouts", vehicle="w2")[-1]["by"] == "seen"


def test_a_muted_detector_counts_as_unknown_until_it_is_unmuted(session: Callable[..., Session]) -> None:
    s = session()
    s.say("mute line")
    assert s.rows("observed", detector="line")[-1]["state"] == "unknown"
    s.on("line").off("line").wait(5.0)
    assert s.rows("observed", detector="line")[-1]["state"] == "unknown"
    s.say("unmute line")
    s.wait(3.0)
    assert s.rows("observed", detector="line")[-1]["state"] == "clear"


def test_a_cancelled_working_is_over(session: Callable[..., Session]) -> None:
    s = session()
    assert s.say("cancel p2") == "p2 is cancelled."
    assert s.state.roster.trains["p2"].phase.value == "ended"


def test_another_engine_works_a_train() -> None:
    s = Session(line(detectors=ENDS))
    assert s.say("engine p2 e3") == "p2 is worked by e3."
    assert s.state.roster.trains["p2"].engine == "e3"


def test_an_extra_train_has_a_name_of_its_own() -> None:
    s = Session(line(detectors=ENDS))
    assert s.say("extra e2 x9") == "e2 runs as x9."
    s.read("ash-end", "e2").wait(25.0)
    assert [(row["train"], row["station"], row["late"]) for row in s.rows("departed")] == [("x9", "ash", None)]
    assert s.rows("whereabouts", vehicle="e2")[-1]["train"] == "x9"


def test_an_explanation_is_said_with_the_irregularity(session: Callable[..., Session]) -> None:
    s = session()
    s.see("ash-dock-reader", "tag=04FFFF01").see("ash-dock-reader", "tag=04FFFF01", 3.0)
    s.say("explain i1 a new wagon,  not entered yet")
    assert [row["explained"] for row in s.rows("irregularity", id="i1")] == [None, "a new wagon,  not entered yet"]
    before = len(s.said)
    s.say("acknowledge i1")
    s.say("verdict i1 false")
    assert len(s.said) == before


@pytest.mark.parametrize("words", ["stands w2 birch.main", "sets-out g1 w2 birch.main", "mute line", "stop-clock"])
def test_a_word_can_be_taken_back_once(session: Callable[..., Session], words: str) -> None:
    s = session()
    where, clock = s.state.where, s.state.clock
    assert where is not None
    s.say(words)
    told = s.n
    s.say(f"undo {told}")
    assert where.place("w2") == "ash.dock"
    assert not clock.stopped
    assert s.state.conditioning is not None and not s.state.conditioning.detectors["line"].muted
    assert s.say(f"undo {told}") == f"Number {told} cannot be undone: tell what stands instead."


def test_who_said_it_makes_no_difference_to_what_is_said(session: Callable[..., Session]) -> None:
    from bridge.wire.records import Said

    one, other = session(), session()
    one.say("stands w2 birch.main")
    other.wait(0.5).take(Said(other.t, "ann", "stands w2 birch.main"))
    assert one.said == other.said
