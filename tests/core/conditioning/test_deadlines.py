"""Deadlines against a plain dictionary."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from bridge.core.conditioning.deadlines import Deadlines, Key

names = st.sampled_from("abcd")
steps = st.lists(st.tuples(st.sampled_from(["set", "set", "drop", "pop"]), names, st.integers(0, 50)), max_size=80)


@given(steps)
def test_they_wake_for_what_is_set_in_order_and_for_nothing_else(rows: list[tuple[str, str, int]]) -> None:
    deadlines, model = Deadlines(), {}
    for what, name, t in rows:
        key: Key = ("kind", name, 0, 0)
        if what == "set":
            deadlines.set("kind", name, float(t))
            model[key] = float(t)
        elif what == "drop":
            deadlines.drop("kind", name)
            model.pop(key, None)
        else:
            due = sorted((at, key) for key, at in model.items() if at <= t)
            assert deadlines.pop(float(t)) == (due[0] if due else None)
            if due:
                del model[due[0][1]]
        assert deadlines.first() == (min(model.values()) if model else None)


def test_one_that_is_put_off_again_and_again_takes_one_place() -> None:
    deadlines = Deadlines()
    for n in range(10_000):
        deadlines.set("silent", "alder", n + 6.0)
    assert len(deadlines._heap) == 1
    assert deadlines.first() == 10_005.0


def test_equal_moments_come_in_the_order_of_their_names() -> None:
    deadlines = Deadlines()
    for subject, one in (("b", 2), ("b", 1), ("a", 3)):
        deadlines.set("gap", subject, 1.0, one)
    deadlines.set("clear", "z", 1.0)
    keys = [woken[1][:3] for woken in iter(lambda: deadlines.pop(1.0), None)]
    assert keys == [("clear", "z", 0), ("gap", "a", 3), ("gap", "b", 1), ("gap", "b", 2)]


def test_what_is_put_off_comes_so_much_later_and_in_the_same_order() -> None:
    waiting = Deadlines()
    waiting.set("clear", "dock", 2.0)
    waiting.set("gap", "alder", 3.0, 17, 4)
    waiting.put_off(1.5)
    assert waiting.pop(3.4) is None
    assert [waiting.pop(9.0), waiting.pop(9.0)] == [(3.5, ("clear", "dock", 0, 0)), (4.5, ("gap", "alder", 17, 4))]
