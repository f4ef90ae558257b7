"""Which call lifts and which sets out: by the contract of moves.csv, worked by hand."""

from __future__ import annotations

import pytest

from bridge.core.plan import Call, Move, Railway, Working
from bridge.core.plant import Plant, Road, RoadKind
from bridge.forecast.rows import handled

ROADS = {
    f"{s}.{r}": Road(f"{s}.{r}", s, r, RoadKind.SIDING, 500, ("down",)) for s in "abc" for r in ("main", "coal", "mill")
}
PLANT = Plant("p", "P", 76, 1, {}, ROADS, {}, {}, {}, {})


def booked(way: str, rake: str, *moves: str) -> list[tuple[int | None, int]]:
    """(lifted, set out) of each move "vehicle from to call" of a working that calls at these stations."""
    calls = tuple(Call(n, station, f"{station}.main", None, None) for n, station in enumerate(way))
    working = Working("g", "goods", "e", calls, tuple(rake.split()))
    rows = []
    for n, (vehicle, start, end, *call) in enumerate(move.split() for move in moves):
        rows.append(Move(n, vehicle, start, end, "g", int(call[0]) if call else None))
    railway = Railway(PLANT, {}, (), {"g": working}, tuple(rows))
    return [(row.lifted, row.set_out) for row in handled(railway)["g"]]


@pytest.mark.parametrize(
    ("way", "rake", "moves", "expected"),
    [
        ("abc", "", ["w a.coal c.coal"], [(0, 2)]),
        ("abc", "w", ["w a.main c.coal"], [(None, 2)]),
        ("abcb", "", ["w a.coal b.coal"], [(0, 1)]),
        ("abcb", "", ["w a.coal b.coal 2"], [(0, 3)]),
        ("abcb", "w", ["w a.main b.coal 2"], [(None, 3)]),
        ("abcba", "", ["w b.coal a.coal"], [(1, 4)]),
        ("abcba", "", ["w b.coal a.coal 2"], [(3, 4)]),
        ("abcba", "", ["w b.coal a.coal 5"], [(1, 4)]),
        ("abc", "", ["w b.coal b.mill"], [(1, 1)]),
        ("abcb", "", ["w b.coal b.mill 2"], [(3, 3)]),
        ("abc", "", ["w a.coal b.coal", "w b.coal c.coal"], [(0, 1), (1, 2)]),
        ("abcba", "w", ["w a.main c.coal", "w c.coal a.coal"], [(None, 2), (2, 4)]),
        ("ab", "", ["w b.coal a.coal"], [(1, 2)]),
        ("ab", "", ["w c.coal a.coal"], [(None, 0)]),
    ],
)
def test_by_hand(way: str, rake: str, moves: list[str], expected: list[tuple[int | None, int]]) -> None:
    """`set_out` is the number of calls where it never is, `lifted` None for one of the rake and where it never is."""
    assert booked(way, rake, *moves) == expected
