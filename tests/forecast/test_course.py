"""The order of the evening: own order, times, waits, one engine after the other; any plan at all has every step once."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.plan import Call, Railway, Working
from bridge.core.plant import Plant
from bridge.forecast.course import Step, course

NO_PLANT = Plant("p", "P", 76, 1, {}, {}, {}, {}, {}, {})


def railway(*workings: Working) -> Railway:
    return Railway(NO_PLANT, {}, (), {w.id: w for w in workings}, ())


def working(name: str, *calls: str, engine: str = "") -> Working:
    """Each call "station arrive depart" in seconds, "-" where not given, and behind them for whom it waits."""
    rows = []
    for n, call in enumerate(calls):
        station, arrive, depart, *waits = call.split()
        times = [None if word == "-" else float(word) for word in (arrive, depart)]
        rows.append(Call(n, station, f"{station}.main", times[0], times[1], tuple(waits)))
    return Working(name, "goods", engine or f"e-{name}", tuple(rows))


def told(*workings: Working) -> str:
    return " ".join(f"{s.working}{s.call}{'>' if s.leaves else '<'}" for s in course(railway(*workings)))


def test_by_the_times() -> None:
    assert told(working("g", "a - 10", "b 20 40", "c 50 -"), working("p", "c - 15", "b 25 30", "a 45 -")) == (
        "g0< g0> p0< p0> g1< p1< p1> g1> p2< p2> g2< g2>"
    )


def test_without_times_as_they_stand_in_the_file_and_as_they_wait() -> None:
    assert told(working("g", "a - -", "b - -"), working("p", "b - -", "a - -")) == "g0< g0> g1< g1> p0< p0> p1< p1>"
    assert told(working("g", "a - -", "b - - p", "c - -"), working("p", "c - -", "b - -")) == (
        "g0< g0> g1< p0< p0> p1< g1> g2< g2> p1>"
    )


def test_an_engine_works_one_after_the_other() -> None:
    late = working("h", "b - 15", "a 30 -", engine="e-g")
    assert told(working("g", "a - 10", "b 20 -"), late) == "g0< g0> g1< g1> h0< h0> h1< h1>"


def test_in_a_circle_of_waits_the_earliest_goes() -> None:
    circle = working("k", "a - 10 m", "b 20 -"), working("m", "b - 11 k", "a 21 -")
    assert told(*circle) == "k0< m0< k0> k1< m0> k1> m1< m1>"


times = st.none() | st.integers(0, 60).map(float)
waits = st.lists(st.sampled_from("0123"), max_size=2)
calls = st.lists(st.tuples(st.sampled_from("abc"), times, times, waits), max_size=4)
Row = tuple[str, float | None, float | None, list[str]]


def drawn(name: str, engine: str, rows: list[Row]) -> Working:
    own = (
        Call(n, station, f"{station}.main", arrive_s, depart_s, tuple(other for other in waits if other != name))
        for n, (station, arrive_s, depart_s, waits) in enumerate(rows)
    )
    return Working(name, "goods", engine, tuple(own))


@settings(deadline=None)
@given(st.lists(st.tuples(st.sampled_from("xyz"), calls), max_size=4))
def test_every_step_once_and_each_working_in_its_own_order(plan: list[tuple[str, list[Row]]]) -> None:
    workings = [drawn(str(n), engine, rows) for n, (engine, rows) in enumerate(plan)]
    found = course(railway(*workings))
    steps = [Step(w.id, call.index, leaves) for w in workings for call in w.calls for leaves in (False, True)]
    assert sorted(found) == sorted(steps)
    for w in workings:
        own = [step for step in found if step.working == w.id]
        assert own == sorted(own)
