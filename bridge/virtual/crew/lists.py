"""The guards' lists: which working takes which move, what of it is to do at a call, and what became of it.

Rule: a vehicle's rows are worked one after another, each only by its own working. What is done is what stands where it was
booked; why something is not done is kept in the words of whoever tried last.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.core.plan import Call, Move, Railway, Working


@dataclass(frozen=True, slots=True)
class Job:
    """One vehicle to be brought to a road at a call; `to_road` None: into the train. `from_road` None: out of the train."""

    vehicle: str
    from_road: str | None
    to_road: str | None
    row: int | None = None


class Lists:
    """All moves of an evening, by the working that takes each."""

    def __init__(self, railway: Railway) -> None:
        self._railway = railway
        self.working_of = _assigned(railway)
        self.done: set[int] = set()
        self.why: dict[int, str] = {}
        self._of_vehicle: dict[str, list[Move]] = {}
        for move in railway.moves:
            self._of_vehicle.setdefault(move.vehicle, []).append(move)

    def open_row(self, vehicle: str) -> Move | None:
        """The row that a vehicle is waiting for."""
        return next((move for move in self._of_vehicle.get(vehicle, ()) if move.index not in self.done), None)

    def row(self, index: int) -> Move:
        """A row by its index."""
        return self._railway.moves[index]

    def jobs(self, working: Working, call: Call, train: frozenset[str], stands: Mapping[str, str]) -> list[Job]:
        """What is to be done at a call: `train` is coupled to the engine, `stands` says where all others there are."""
        found = []
        for move in self._railway.moves:
            if self.working_of.get(move.index) != working.id or self.open_row(move.vehicle) is not move:
                continue
            here = self._station(move.to_road) == call.station
            if move.vehicle in train:
                if here and self._is_its_call(working, call, move):
                    found.append(Job(move.vehicle, None, move.to_road, move.index))
            elif move.vehicle in stands and self._station(move.from_road) == call.station:
                if here and self._is_its_call(working, call, move):
                    found.append(Job(move.vehicle, stands[move.vehicle], move.to_road, move.index))
                elif not here and self._is_its_call(working, call, move) and self.sets_out_later(working, call, move):
                    found.append(Job(move.vehicle, stands[move.vehicle], None, move.index))
        return [job for job in found if job.from_road != job.to_road]

    def sets_out_later(self, working: Working, call: Call, move: Move) -> bool:
        """Whether a working still comes to a call at which it could set out what a row books."""
        station = self._station(move.to_road)
        return any(
            later.station == station and self._is_its_call(working, later, move) for later in working.calls[call.index + 1 :]
        )

    def sets_out_at(self, working: Working, call: Call, vehicle: str) -> int | None:
        """The later call at which a working is to set out a vehicle; None where it is to keep it."""
        move = self.open_row(vehicle)
        if move is None or self.working_of.get(move.index) != working.id:
            return None
        station = self._station(move.to_road)
        later = (c for c in working.calls[call.index + 1 :] if c.station == station and self._is_its_call(working, c, move))
        return next((c.index for c in later), None)

    def can_wait_for(self, working: Working, later: Call, job: Job) -> bool:
        """Whether a job could be done at a later call at its station just as well."""
        if job.row is None:
            return False
        move = self._railway.moves[job.row]
        return self._is_its_call(working, later, move) and (
            job.to_road is not None or self.sets_out_later(working, later, move)
        )

    def _is_its_call(self, working: Working, call: Call, move: Move) -> bool:
        calls = [other.index for other in working.calls if other.station == call.station]
        if move.call is None or move.call > len(calls):
            return True
        return calls[move.call - 1] == call.index

    def _station(self, road: str) -> str:
        return self._railway.plant.roads[road].station

    def note_done(self, vehicle: str, road: str) -> None:
        """A vehicle has been left on a road: a row that booked it there is done."""
        row = self.open_row(vehicle)
        if row is not None and row.to_road == road:
            self.done.add(row.index)
            self.why.pop(row.index, None)

    def undone(self) -> list[Move]:
        """The rows that are not done."""
        return [move for move in self._railway.moves if move.index not in self.done]


def first_time_s(working: Working) -> float | None:
    """The first booked time of a working, seconds of the session clock."""
    return next((t for call in working.calls for t in (call.depart_s, call.arrive_s) if t is not None), None)


def in_order(railway: Railway) -> list[Working]:
    """Workings by their first time; one without any keeps its place behind the one before it in the file."""
    keyed: list[tuple[float, Working]] = []
    before = float("-inf")
    for working in railway.workings.values():
        time_s = first_time_s(working)
        before = before if time_s is None else time_s
        keyed.append((before, working))
    return [working for _, working in sorted(keyed, key=lambda pair: pair[0])]


def _assigned(railway: Railway) -> dict[int, str]:
    """The working of each row: the one it names, else the first that passes both stations, not before the row before it."""
    order = in_order(railway)
    places = {working.id: n for n, working in enumerate(order)}
    reached: dict[str, int] = {}
    found: dict[int, str] = {}
    for move in railway.moves:
        first = reached.get(move.vehicle, 0)
        named = move.working
        if named is None:
            named = next((w.id for w in order[first:] if _passes_both(railway, w, move)), None)
        if named is not None and named in places:
            reached[move.vehicle] = max(first, places[named])
            found[move.index] = named
    return found


def _passes_both(railway: Railway, working: Working, move: Move) -> bool:
    roads = railway.plant.roads
    start, end = roads[move.from_road].station, roads[move.to_road].station
    first = next((call.index for call in working.calls if call.station == start), None)
    return first is not None and any(call.station == end for call in working.calls[first:])
