"""Axles and repeated reads that are one passing."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from bridge.core.conditioning.passings import ABSENCE_S, AXLES_S, Passings

moments = st.lists(st.integers(0, 200).map(lambda tenths: tenths / 10), min_size=1, max_size=8)


def spans(times: list[float], within_s: float) -> int:
    """How many passings these moments are, plainly counted in the order of time."""
    rows = sorted(times)
    return 1 + sum(round(later - one, 6) >= within_s for one, later in pairwise(rows))


@given(moments)
def test_in_the_order_of_time_there_are_as_many_axles_as_gaps_of_2_s(times: list[float]) -> None:
    passings = Passings()
    assert sum(passings.is_new_axle(t) for t in sorted(times)) == spans(times, AXLES_S)


@given(moments)
def test_in_the_order_of_time_there_are_as_many_reads_as_absences(times: list[float]) -> None:
    passings = Passings()
    assert sum(passings.is_new_read("04A1", t) for t in sorted(times)) == spans(times, ABSENCE_S)


@given(moments, st.randoms(use_true_random=False))
def test_in_any_order_none_is_lost(times: list[float], chance: object) -> None:
    """Late ones may come as passings of their own that later prove to be joined, never the other way round."""
    shuffled = [*times]
    chance.shuffle(shuffled)  # type: ignore[attr-defined]
    passings = Passings()
    assert sum(passings.is_new_axle(t) for t in shuffled) >= spans(times, AXLES_S)


def test_memory_is_bounded() -> None:
    passings = Passings()
    for n in range(1000):
        passings.is_new_axle(10.0 * n)
        passings.is_new_read(f"{n:04X}", float(n))
    assert (len(passings.axles), len(passings.reads)) == (8, 8)
