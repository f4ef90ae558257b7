"""Which call of its working lifts the vehicle of each freight move, and which sets it out.

Rule: only what is booked counts; a `call` of moves.csv chooses among the calls of its working at a station.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from bridge.core.plan import Move, Railway, Working
from bridge.forecast.overfull import assigned


@dataclass(frozen=True, slots=True)
class Handled:
    """A move of a working: the calls (from 0) at which it is lifted and set out. `lifted` is None for one of its rake, and
    `set_out` the number of calls where it never is."""

    move: Move
    lifted: int | None
    set_out: int

    @property
    def is_local(self) -> bool:
        """True for a move from one road of a station to another; one of the rake is there from the first call on."""
        return self.set_out == (self.lifted or 0)


def handled(railway: Railway) -> dict[str, tuple[Handled, ...]]:
    """The moves of each working that has any, in the order of the file."""
    found: dict[str, tuple[Handled, ...]] = {}
    for name, moves in assigned(railway, railway.moves).items():
        found[name] = _of(railway, railway.workings[name], moves)
    return found


def _of(railway: Railway, working: Working, moves: Iterable[Move]) -> tuple[Handled, ...]:
    roads = railway.plant.roads
    reached: dict[str, int] = {}
    found: list[Handled] = []
    for move in moves:
        starts = _calls(working, roads[move.from_road].station, move.call)
        ends = _calls(working, roads[move.to_road].station, move.call)
        since = reached.get(move.vehicle, 0)
        lifted: int | None = None
        if starts and (move.vehicle not in working.rake or move.vehicle in reached):
            lifted = next((n for n in starts if n >= since), starts[0])
        set_out = next((n for n in ends if n >= (since if lifted is None else lifted)), len(working.calls))
        reached[move.vehicle] = min(set_out, len(working.calls))
        found.append(Handled(move, lifted, set_out))
    return tuple(found)


def _calls(working: Working, station: str, chosen: int | None) -> list[int]:
    """The calls at a station at which a row may be worked."""
    found = [call.index for call in working.calls if call.station == station]
    return [found[chosen - 1]] if chosen is not None and 0 < chosen <= len(found) else found
