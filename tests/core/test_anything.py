"""Whatever boards and people say, in whatever order: nothing fails, no vehicle is lost or doubled, what is said is whole."""

from __future__ import annotations

from functools import cache

from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.plan import Railway
from bridge.core.view import view
from bridge.core.whereabouts import OFF

from .conftest import EVERY, TOKEN, Session, line
from .test_view import assert_whole

MOVES = "vehicle,from,to,working,call\nw2,ash.dock,birch.dock,g1,\nw1,ash.main,birch.dock,g1,\nw3,birch.dock,ash.dock,r3,\n"
RULES = ("one-train", "token", "staff-and-ticket", "track-circuit")
TAGS = ["04A1", "04A2", "04A3", "04B1", "04B2", "04B3", "04D1", "04FFFF", TOKEN]
WORDS = """
give ash-birch g1
give ash-birch p2
give ash-birch r3 ticket
give ash-birch p2 assisting
return ash-birch g1
return ash-birch r3
depart g1
depart p2
arrive g1 birch.main
arrive p2 birch.loop
arrive r3 ash.loop
lifts g1 w2
lifts r3 w3
sets-out g1 w1 birch.dock
sets-out g1 w1 ash.dock
stands w4 ash-birch
stands e1 ash.main
stands w2 off
stands v1 birch.up
tag 04FFFF w4
engine p2 e3
cancel g1
extra e2 x9
mute line
unmute line
stop-clock
go-on
acknowledge i1
explain i1 so it is
undo 12
begin 20:00
dance
""".strip().splitlines()
READINGS = st.tuples(st.sampled_from(sorted(EVERY)), st.sampled_from(["on", "off", *(f"tag={tag}" for tag in TAGS)]))
STEPS = st.lists(
    st.tuples(
        st.one_of(READINGS, READINGS, READINGS, st.sampled_from(WORDS)), st.sampled_from([0.0, 0.2, 1.0, 3.0, 12.0, 40.0])
    ),
    max_size=40,
)


@cache
def railway(rule: str) -> Railway:
    rests = rule in ("token", "staff-and-ticket")
    return line(rule=rule, detectors=tuple(name for name in EVERY if rests or "rest" not in name), moves=MOVES)


def assert_nobody_lost(s: Session) -> None:
    """Each vehicle stands once, in the line of its place, at its place in the order."""
    where = s.state.where
    assert where is not None
    for vehicle in s.railway.stock:
        place, order = where.place(vehicle), where.belief(vehicle).order
        if place == OFF:
            assert order is None
        else:
            assert order is not None
            assert list(where.line(place))[order - 1] == vehicle
    on = [vehicle for stretch in s.railway.plant.at_stretch for vehicle in where.line(stretch)]
    assert len(on) == len(set(on))


def take(s: Session, step: tuple[str, str] | str, after: float) -> None:
    """Words that are told, or a reading, where there is such a detector."""
    if isinstance(step, str):
        s.say(step, after)
    elif step[0] in s.railway.plant.detectors:
        s.see(*step, after)


@settings(max_examples=120, deadline=None)
@given(rule=st.sampled_from(RULES), steps=STEPS)
def test_nothing_fails_and_nobody_is_lost(rule: str, steps: list[tuple[tuple[str, str] | str, float]]) -> None:
    s = Session(railway(rule))
    for step, after in steps:
        take(s, step, after)
        assert_nobody_lost(s)
    s.wait(60.0)
    assert_whole(view(s.state))
    s.say("end")
    assert [row["n"] for row in s.said] == list(range(1, len(s.said) + 1))
    assert [row["t"] for row in s.said] == sorted(row["t"] for row in s.said)
    named = {row["n"] for row in s.said}
    assert all(row["of"] in named and row["of"] < row["n"] for row in s.rows("corrected"))
    _assert_items_end_once(s)


def _assert_items_end_once(s: Session) -> None:
    """An item is open until it has ended or was withdrawn, and never again (it may still be explained)."""
    withdrawn = {row["of"] for row in s.rows("corrected")}
    for item in {row["id"] for row in s.rows("irregularity")}:
        rows = s.rows("irregularity", id=item)
        told = [row["status"] for row in rows]
        assert told == sorted(told, reverse=True)  # open, open, ended
        assert len({row["n"] in withdrawn for row in rows}) == 1  # all that was said of it, or nothing
        assert {row["kind"] for row in rows} == {rows[0]["kind"]}
