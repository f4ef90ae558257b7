"""A session begins and ends: what is said then, in which order, and nothing behind its end."""

from __future__ import annotations

from collections.abc import Callable
from itertools import groupby

from bridge.core import fold, state
from bridge.core.events import FolderTaken, Journalled
from bridge.wire.records import Said

from .conftest import ENDS, RESTS, TRACKS, Session, line

MOVES = "vehicle,from,to,working,call\nw1,ash.main,birch.dock,g1,\nw4,ash.dock,birch.dock,g1,\n"
CROWDED = (
    "vehicle,road,order\nv1,ash.main,1\nw1,ash.main,2\ne1,ash.main,3\nw4,ash.dock,1\nw3,birch.dock,1\nw2,birch.dock,2\n"
)


def since(s: Session, n: int) -> list[str]:
    """What was said from number `n` on, each kind once where it stands in a row."""
    return [says for says, _ in groupby(row["says"] for row in s.said if row["n"] >= n)]


def test_what_begin_says_in_which_order() -> None:
    railway = line(rule="token", detectors=(*TRACKS, *ENDS, *RESTS), moves=MOVES, whereabouts=CROWDED)
    s = Session(railway, begin=None)
    assert {row["says"] for row in s.said} == {"observed"}
    assert {row["clock"] for row in s.said} == {None}
    n = len(s.said) + 1
    assert s.say("begin 19:01", 0.0) == "The session has begun at 19:01:00."
    assert since(s, n) == ["session", "whereabouts", "move", "authority", "irregularity", "may-go"]
    assert [row["vehicle"] for row in s.rows("whereabouts")] == list(railway.stock)
    assert {row["clock"] for row in s.said if row["n"] >= n} == {"19:01:00"}
    assert s.rows("session")[0]["evidence"] == [s.n]


def test_begin_is_refused_while_a_session_runs(session: Callable[..., Session]) -> None:
    s = session()
    before = list(s.said)
    assert s.say("begin 20:00") == "A session runs already: end it first."
    assert s.said == before
    s.on("line")
    assert s.said[-1]["clock"].startswith("19:01")


def test_what_the_end_says_in_which_order() -> None:
    s = Session(line(moves=MOVES))
    n = len(s.said) + 1
    assert s.say("end") == "The session has ended."
    assert since(s, n) == ["move", "whereabouts", "session"]
    assert [row["vehicle"] for row in s.said if row["n"] >= n and row["says"] == "whereabouts"] == list(s.railway.stock)
    assert (s.said[-1]["state"], s.said[-1]["counts"]) == ("ended", {})


def test_counts_are_of_ids_by_kind(session: Callable[..., Session]) -> None:
    s = session(rule="token", detectors=(*TRACKS, *ENDS, *RESTS))
    s.goods_leaves()
    s.say("end")
    assert s.rows("session")[-1]["counts"] == {"no-authority": 1}
    assert all(row["counts"] is None for row in s.rows("session")[:-1])


def test_nothing_is_said_behind_the_end(session: Callable[..., Session]) -> None:
    s = session()
    s.say("end")
    before = list(s.said)
    s.goods_leaves()
    s.say("begin 20:00")
    s.wait(60.0)
    assert s.said == before
    assert fold.due(s.state) is None


def test_words_that_need_a_session_change_nothing_without_one() -> None:
    s = Session(line(), begin=None)
    before = list(s.said)
    for words in (
        "end",
        "depart g1",
        "give ash-birch g1",
        "stop-clock",
        "stands w1 birch.dock",
        "mute line",
        "explain i1 x",
    ):
        assert s.say(words) == "No session runs: begin one first."
    assert s.said == before


def test_behind_an_end_nothing_is_said_before_the_next_begin() -> None:
    s = Session(line(), begin=None)
    s.state = state.fresh(strict=True, after_end=True)
    s.said.clear()
    s._fold(FolderTaken(0.0, s.railway))
    s.on("line").wait(10.0)
    assert s.said == []
    s.say("begin 20:00")
    assert (s.said[0]["says"], s.said[0]["n"], s.said[0]["clock"]) == ("session", 1, "20:00:00")


def test_a_session_that_is_closed_without_an_end_says_the_same(session: Callable[..., Session]) -> None:
    s, other = session(), session()
    s.say("end", 3.0)
    other.wait(3.0)
    other.state, closing = fold.close(other.state, other.t)
    last = [outcome.as_dict() for outcome in closing]
    told = s.said[-len(last) :]
    assert [{**row, "evidence": []} for row in told] == last
    assert fold.close(other.state, other.t) == (other.state, ())


def test_without_a_folder_nothing_can_begin() -> None:
    made, said = fold.fold(state.fresh(strict=True), Journalled(1, Said(0.0, None, "begin 19:00")))
    assert said == ()
    assert not made.running
