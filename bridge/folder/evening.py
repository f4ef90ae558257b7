"""The evening run ahead on paper: is every engine, rake and wagon where the plan says it is when the plan needs it?

Rule: calls are run in the order in which they are booked (`bridge.forecast.course`): what a train brings is there from its
coming, what it lifts until its going. A vehicle in doubt (told once, or with a row that could not be read) is followed no
further, so that one slip is one conflict.
"""

from __future__ import annotations

import math

from bridge.core.plan import Call, Move, Working
from bridge.folder.clock import clock
from bridge.folder.compositions import Compositions
from bridge.folder.finding import Spot, listed
from bridge.folder.places import Places
from bridge.forecast.rows import Handled


def tell_impossible(trains: Compositions, places: Places) -> None:
    """Conflicts between whereabouts, workings and moves along the evening."""
    _Evening(trains, places).run()


class _Evening:
    """Where everything is by now."""

    def __init__(self, trains: Compositions, places: Places) -> None:
        self.railway = trains.railway
        self.trains = trains
        self.places = places
        self.findings = places.findings
        self.at = {standing.vehicle: standing.place for standing in self.railway.standing}
        self.train: dict[str, str] = {}
        self.free_s: dict[str, tuple[float, str]] = {}
        self.moved: set[str] = set()
        self.doubted = {str(key[1]) for key in places.doubtful if key[0] == "vehicle"}

    def run(self) -> None:
        for move in self.railway.moves:
            self._passes(move)
        for working in self.railway.workings.values():
            if not working.calls or ("working", working.id) in self.places.doubtful:
                rows = self.trains.handled(working)
                self.doubted.update((working.engine, *working.rake, *(row.move.vehicle for row in rows)))
        for step in self.trains.course:
            if ("working", step.working) not in self.places.doubtful:
                working = self.railway.workings[step.working]
                (self._goes if step.leaves else self._comes)(working, working.calls[step.call])

    def _passes(self, move: Move) -> None:
        """Whether its working, or any, calls where the move begins and ends."""
        if move.working is None:
            if self.places.timetable_read and not self.railway.may_do(move):
                message = f"No working passes {move.from_road} and then {move.to_road}."
                self._doubt(
                    move.vehicle, self.places.spots["move.vehicle", move.index], message, "Book a working that does."
                )
            return
        working = self.railway.workings.get(move.working)
        if working is None or ("working", working.id) in self.places.doubtful:
            self.doubted.add(move.vehicle)
            return
        stations = [call.station for call in working.calls]
        roads = self.railway.plant.roads
        for column, road in (("from", move.from_road), ("to", move.to_road)):
            if roads[road].station not in stations:
                message = f"Working {working.id} does not call at {roads[road].station}: it cannot work {road}."
                remedy = f"It calls at {listed(dict.fromkeys(stations))}: name another working, or another road."
                self._doubt(move.vehicle, self.places.spots[f"move.{column}", move.index], message, remedy)
                return
        start, end = roads[move.from_road].station, roads[move.to_road].station
        if not self.railway.passes_both(working, move):
            message = f"Working {working.id} calls at {end} before it calls at {start}."
            self._doubt(
                move.vehicle, self.places.spots["move.to", move.index], message, "Name a working that runs the other way."
            )
        most = max(stations.count(start), stations.count(end))
        if move.call is not None and move.call > most:
            message = f"Working {working.id} calls there {most} times, not {move.call}."
            self.findings.conflict(
                self.places.spots["move.call", move.index], message, "Count its calls at that station from 1."
            )

    def _doubt(self, vehicle: str, spot: Spot, message: str, remedy: str) -> None:
        if vehicle not in self.doubted:
            self.findings.conflict(spot, message, remedy)
        self.doubted.add(vehicle)

    def _goes(self, working: Working, call: Call) -> None:
        """It leaves a call: what it begins with must be there, then what it lifts."""
        rows = self.trains.handled(working)
        if call.index == 0:
            for vehicle in (working.engine, *working.rake):
                self._free(vehicle, _out_s(call), self._spot_in(working, vehicle), working.id)
            self._engine_ready(working, call)
            self._rake_ready(working, call)
            for vehicle in (working.engine, *working.rake):
                self._joins(
                    vehicle, working, next((r.set_out for r in rows if r.move.vehicle == vehicle), len(working.calls))
                )
        for row in rows:
            if row.lifted == call.index or (row.lifted is None and call.index == 0):
                self._lift(working, row)
            if row.set_out == call.index and row.is_local:
                self._set_out(row)

    def _comes(self, working: Working, call: Call) -> None:
        """It comes to a call: what it sets out is there, and at its last all that it has."""
        for row in self.trains.handled(working):
            if row.set_out == call.index and not row.is_local:
                self._set_out(row)
        if call is working.calls[-1]:
            for vehicle in [v for v, train in self.train.items() if train == working.id]:
                self._leaves(vehicle, call.road)

    def _joins(self, vehicle: str, working: Working, until_call: int) -> None:
        """A vehicle is in a train from now on, up to a call of it."""
        self.train[vehicle] = working.id
        last = working.calls[min(until_call, len(working.calls) - 1)]
        before = self.free_s.get(vehicle, (-math.inf, ""))
        self.free_s[vehicle] = max(before, (_in_s(last), working.id))

    def _leaves(self, vehicle: str, road: str) -> None:
        self.at[vehicle] = road
        self.train.pop(vehicle, None)
        self.moved.add(vehicle)

    def _spot_in(self, working: Working, vehicle: str) -> Spot:
        column = "engine" if vehicle == working.engine else "rake"
        return self.places.spots.get(("rake", working.id, vehicle)) or self.places.spots[f"call.{column}", working.id, 0]

    def _engine_ready(self, working: Working, first: Call) -> None:
        engine, spot = working.engine, self.places.spots["call.engine", working.id, 0]
        place = self.at.get(engine)
        if engine in self.doubted or place == first.road:
            return
        if place is None:
            if self.places.whereabouts_read:
                message = f"Engine {engine} of working {working.id} stands nowhere: whereabouts.csv does not have it."
                self._doubt(engine, spot, message, f"Give it a row there, on {first.road}.")
        elif self.railway.plant.station_of(place) == first.station:
            message = f"Engine {engine} is on {place} when working {working.id} begins on {first.road}."
            self.findings.advice(spot, message, "It has to run there first; nothing is wrong with that.")
        else:
            message = f"Engine {engine} is on {place} when working {working.id} begins at {first.station}."
            self._doubt(
                engine, spot, message, "Correct where it stands, name another engine, or book a working that takes it there."
            )

    def _rake_ready(self, working: Working, first: Call) -> None:
        wrong = False
        for vehicle in working.rake:
            place = self.at.get(vehicle)
            wrong |= vehicle in self.doubted or place != first.road
            if vehicle in self.doubted or place == first.road or (place is None and not self.places.whereabouts_read):
                continue
            stands = "stands nowhere" if place is None else f"is on {place}"
            message = f"{vehicle} {stands} when working {working.id} begins on {first.road} with it in its rake."
            self._doubt(vehicle, self._spot_in(working, vehicle), message, "Correct the rake, or where the vehicle stands.")
        if not wrong and working.rake and self.moved.isdisjoint((working.engine, *working.rake)):
            self._rake_in_order(working, first)

    def _rake_in_order(self, working: Working, first: Call) -> None:
        """As nothing of it has moved yet, the rake stands as it is written: together, its first vehicle at the engine."""
        row = [s.vehicle for s in sorted(self.railway.standing, key=lambda s: s.order) if s.place == first.road]
        with_engine = working.engine in row
        written = [working.engine, *working.rake] if with_engine else list(working.rake)
        places = sorted(row.index(vehicle) for vehicle in written)
        together = places[-1] - places[0] == len(places) - 1
        stands = [row[n] for n in places]
        if together and stands in (written, written[::-1]):
            return
        shown = " ".join(row if not together else stands)
        message = f"The rake of working {working.id} does not stand so on {first.road}: there stand {shown}, up end first."
        remedy = "Write the rake engine end first, or correct the order in whereabouts.csv."
        self.findings.conflict(self.places.spots["call.rake", working.id, 0], message, remedy)

    def _lift(self, working: Working, row: Handled) -> None:
        move, spots = row.move, self.places.spots
        vehicle = move.vehicle
        place, train = self.at.get(vehicle), self.train.get(vehicle)
        if vehicle in self.doubted:
            return
        if train == working.id:
            with_it = row.lifted is None and move.from_road in (place, *(call.road for call in working.calls))
            if not with_it:
                self._doubt(vehicle, spots["move.from", move.index], *self._elsewhere(move, place))
            return
        if row.lifted is not None:
            self._free(vehicle, _out_s(working.calls[row.lifted]), spots["move.working", move.index], working.id)
        if place is None and not self.places.whereabouts_read:
            self.doubted.add(vehicle)
        elif place != move.from_road or train is not None:
            self._doubt(vehicle, spots["move.from", move.index], *self._elsewhere(move, place))
        self._joins(vehicle, working, row.set_out)

    def _set_out(self, row: Handled) -> None:
        if row.move.vehicle not in self.doubted:
            self._leaves(row.move.vehicle, row.move.to_road)

    def _elsewhere(self, move: Move, place: str | None) -> tuple[str, str]:
        twin = next((m for m in self.railway.moves[: move.index] if _same(m, move)), None)
        if twin is not None:
            line = self.places.spots["move.vehicle", twin.index].line
            return f"The same move of {move.vehicle} stands already in line {line}.", "Take one of the two rows out."
        if place is None:
            message = f"{move.vehicle} stands nowhere: whereabouts.csv does not have it."
            return message, f"Give it a row there, on {move.from_road}."
        train = self.train.get(move.vehicle)
        if train is not None:
            message = f"{move.vehicle} is booked from {move.from_road}, and is in the train of working {train} then."
            return message, "Take the row out, or correct one of the two; several rows of one vehicle follow each other."
        message = f"{move.vehicle} is booked from {move.from_road}, and is on {place} by then."
        return message, f"Write {place}, or correct where it stands; several rows of one vehicle follow each other."

    def _free(self, vehicle: str, needed_s: float, spot: Spot, working: str) -> None:
        """A vehicle is needed at a time: another working may not have it then."""
        until_s, other = self.free_s.get(vehicle, (-math.inf, ""))
        if vehicle in self.doubted or other == working or until_s <= needed_s:
            return
        kind = self.railway.stock[vehicle].kind if vehicle in self.railway.stock else "vehicle"
        message = f"{kind.capitalize()} {vehicle} is with working {other} until {clock(until_s)}, and needed by {working}"
        message += f" at {clock(needed_s)}: it cannot be in two places."
        self._doubt(vehicle, spot, message, "Change one of the times, or name another vehicle.")


def _same(one: Move, other: Move) -> bool:
    return (one.vehicle, one.from_road, one.to_road) == (other.vehicle, other.from_road, other.to_road)


def _out_s(call: Call) -> float:
    """When a working leaves a call; never too early for what is unknown."""
    return next((t for t in (call.depart_s, call.arrive_s) if t is not None), math.inf)


def _in_s(call: Call) -> float:
    """When a working has come to a call; never too late for what is unknown."""
    return next((t for t in (call.arrive_s, call.depart_s) if t is not None), -math.inf)
