"""No rule concludes anything from what is unknown: whatever made it so, and wherever a train is just then."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from bridge.core.view import view
from bridge.wire.lines import Hello
from bridge.wire.records import BoardDown, Closed, HostStarted, HostStopped, Received

from .conftest import DOCKS, ENDS, TRACKS, Session

Row = dict[str, Any]
Make = Callable[..., Session]


def silent(session: Session) -> None:
    session.take(
        Received(session.t, "mqtt", Hello("one", 1, 1000, 20))
    )  # a board of its own lines, from which no more comes
    session.wait(7.0)


def down(session: Session) -> None:
    session.take(BoardDown(session.t, "mqtt", "one"))


def closed(session: Session) -> None:
    session.take(Closed(session.t, "mqtt"))


def new_boot(session: Session) -> None:
    session.take(Received(session.t, "mqtt", Hello("one", 1, 1000, 20)))
    session.take(Received(session.t, "mqtt", Hello("one", 2, 10, 20)))


def asleep(session: Session) -> None:
    session.take(HostStopped(session.t))
    session.t += 3600.0
    session.take(HostStarted(session.t))


def muted(session: Session) -> None:
    for detector in session.railway.plant.detectors:
        session.say(f"mute {detector}", 0.0)


CAUSES = {
    "board silent": silent,
    "link down": down,
    "link closed": closed,
    "new boot": new_boot,
    "host asleep": asleep,
    "muted": muted,
}


def standing_ready(session: Session) -> None:
    session.wait(5.0)


def in_the_throat(session: Session) -> None:
    session.on("ash-throat", after=2.0)


def in_the_section(session: Session) -> None:
    session.goods_leaves()


def coming_in(session: Session) -> None:
    session.goods_leaves()
    session.on("birch-throat", after=8.0).read("birch-end", "e1", after=0.2).on("birch-main", after=0.5)


def come(session: Session) -> None:
    session.goods_leaves().goods_comes()
    session.wait(40.0)


MOMENTS = {
    "standing ready": standing_ready,
    "in the throat": in_the_throat,
    "in the section": in_the_section,
    "coming in": coming_in,
    "come": come,
}
SILENT = ("departed", "arrived", "entered", "cleared", "lifted", "set-out", "move")
"""What is said of trains and wagons: of these nothing may follow from not knowing."""


def said_since(session: Session, before: int) -> list[Row]:
    return [row for row in session.said[before:] if row["says"] in SILENT]


def dangers(session: Session) -> list[Row]:
    return [row for row in session.rows("irregularity") if row["level"] == "danger"]


@pytest.mark.parametrize("cause", CAUSES)
@pytest.mark.parametrize("moment", MOMENTS)
def test_nothing_is_concluded_from_it(session: Make, moment: str, cause: str) -> None:
    """Two minutes long: of trains nothing is said that was not due anyway, and no danger is raised."""
    told = session()
    MOMENTS[moment](told)
    before = len(told.said)
    CAUSES[cause](told)
    told.wait(120.0)
    drawn = view(told.state)
    assert {row["state"] for row in drawn["detectors"]} == {"unknown"}
    assert all(row["why"] for row in drawn["detectors"])
    assert [row for row in said_since(told, before) if row["says"] != "cleared" or row["complete"]] == []
    assert dangers(told) == []
    assert {row["kind"] for row in told.open()} <= {"board-lost", "overdue"}
    places = {v: (row["place"], row["train"]) for v, row in drawn["vehicles"].items()}
    again = session()
    MOMENTS[moment](again)
    assert places == {v: (row["place"], row["train"]) for v, row in view(again.state)["vehicles"].items()}


@pytest.mark.parametrize("cause", ["section silent", *CAUSES])
def test_a_train_that_enters_a_section_of_which_nothing_is_known_is_no_danger(session: Make, cause: str) -> None:
    """One train working, nothing believed there: authority is given, with the words that the evidence is weak."""
    told = session()
    if cause == "section silent":
        told.say("mute line", 0.0)
    else:
        CAUSES[cause](told)
        for name in told.railway.plant.detectors if cause == "muted" else ():
            if name != "line":
                told.say(f"unmute {name}", 0.0)
        if cause != "muted":
            for name in (*TRACKS,):
                if name != "line":
                    told.see(name, "on" if name in ("ash-main", "ash-loop", "birch-loop") else "off", 0.0)
            told.wait(2.0)
    told.on("ash-throat", after=2.0).read("ash-end", "e1", after=0.2).read("ash-end", "w1").read("ash-end", "v1")
    told.off("ash-main", after=0.2).off("ash-throat", after=1.0).wait(30.0)
    assert [row["train"] for row in told.rows("entered")] == ["g1"]
    assert dangers(told) == []
    (given,) = told.rows("authority", state="given")
    assert given["why"] == "evidence weak"
    assert told.rows("cleared") == []


def test_nor_is_it_where_track_circuits_give_the_authority(session: Make) -> None:
    told = session(rule="track-circuit")
    told.say("mute line", 0.0)
    told.on("ash-throat", after=2.0).read("ash-end", "e1", after=0.2).read("ash-end", "w1").read("ash-end", "v1")
    told.off("ash-main", after=0.2).off("ash-throat", after=1.0).wait(30.0)
    assert dangers(told) == []
    assert [row["why"] for row in told.rows("authority", state="given")] == ["evidence weak"]


def test_a_train_out_of_which_nothing_more_is_known_is_not_cleared_complete(session: Make) -> None:
    told = session()
    coming_in(told)
    closed(told)
    told.wait(600.0)
    assert [row["complete"] for row in told.rows("cleared") if row["complete"]] == []
    assert told.rows("set-out") == told.rows("lifted") == []


def test_with_no_detector_known_nothing_is_lifted_or_set_out(session: Make) -> None:
    moves = "vehicle,from,to,working,call\nw2,ash.dock,birch.dock,g1,\n"
    told = session(detectors=(*TRACKS, *ENDS, *DOCKS), moves=moves)
    down(told)
    told.wait(300.0)
    assert [row for row in told.said if row["says"] in ("lifted", "set-out")] == []
    assert {row["state"] for row in told.rows("move")} == {"booked"}
