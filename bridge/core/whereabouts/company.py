"""Who goes with whom: what moves with an engine joins it, what an engine is seen elsewhere without has been left.

Rule: vehicles that an engine set down are its train's while they stand on a running road or loop and are not booked to stay
there; in a siding, or where they are booked to, they have been left.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from bridge.core.plant import Boundary, RoadKind
from bridge.core.whereabouts import OFF, Joined, Left, Prior
from bridge.core.whereabouts.held import Held, Moved
from bridge.core.whereabouts.weighing.proof import Proof

STRING_S = 10.0  # who leaves a road so shortly behind an engine runs in its train: common practice, no source


class Company:
    """The engine that each vehicle goes with."""

    def __init__(self, held: Held) -> None:
        self._held = held
        self.engines = frozenset(v.id for v in held.stock.values() if v.kind == "engine")
        self.leads: dict[str, str] = {}
        self.led: dict[str, dict[str, None]] = {}
        self.drawn_from: dict[str, str] = {}
        """Vehicle to the road off which the engine that it goes with drew it."""
        self.joined_t: dict[str, float] = {}
        """Vehicle to when it began to go with its engine; none where it always has."""
        self.stirred: dict[str, float] = {}
        """When an engine last moved, or was read."""
        self.moved_at: dict[str, float] = {}
        """When an engine, or what goes with it, last moved."""
        self.read_at: dict[str, tuple[str, bool]] = {}
        """The boundary at which an engine was last read, and whether it went outward there."""
        self.came_off: dict[str, tuple[str, float]] = {}
        """The road that a vehicle was on last, and when it left it."""

    def leader(self, vehicle: str) -> str | None:
        """The engine that a vehicle goes with; an engine by itself is its own."""
        return self.leads.get(vehicle, vehicle if vehicle in self.engines else None)

    def company(self, engine: str) -> list[str]:
        """The vehicles that go with an engine, itself first, then as they stand from it."""
        held = self._held
        here = held.place(engine)
        row = held.line(here)
        at = row.index(engine) if engine in row else 0
        rank = {v: abs(i - at) for i, v in enumerate(row)}
        mine = sorted(self.led.get(engine, ()), key=lambda v: (held.place(v) != here, rank.get(v, 999), v))
        return [engine, *mine]

    # --- after a piece of evidence

    def regroup(self, moved: Iterable[Moved], proof: Proof, boundary: Boundary | None, prior: Prior) -> None:
        """Something has moved, or was seen: tell the crossings, who moves with whom now, and who was left. `boundary`:
        where the vehicle that was seen was read."""
        held, concerned, seen = self._held, dict[str, None](), proof.seen
        if seen in self.engines and seen is not None and boundary is not None:
            self.read_at[seen] = (boundary.id, held.place(seen) == boundary.outer)
            concerned[seen] = None
        for row in moved:
            held.changes.extend(row.steps)
            self._note_road(row, proof)
            if row.vehicle not in self.engines and proof.by != "told":
                self._take_along(row, proof, prior)
            lead = self.leader(row.vehicle)
            if lead is not None:
                self.moved_at[lead] = proof.t
            if row.vehicle in self.engines:
                self.stirred[row.vehicle] = proof.t
                concerned[row.vehicle] = None
            elif lead is not None and (row.is_afar or self._is_pushed_off(row, lead)):
                concerned[lead] = None
        if seen is not None and boundary is not None and boundary.outer in held.plant.roads:
            self._come_in_behind(seen, boundary.outer, proof)
        for engine in concerned:
            self._forsake(engine, proof, prior)
        if proof.by == "told" and seen is not None:
            self._told_apart(seen, proof)

    def _come_in_behind(self, vehicle: str, road: str, proof: Proof) -> None:
        """A vehicle is read coming on to a road: what its engine set down there before it went off to fetch it was left."""
        held, mine = self._held, self.leads.get(vehicle)
        for other in held.line(road) if held.place(vehicle) == road else ():
            lead = self.leads.get(other)
            if other == vehicle or lead is None or mine not in (None, lead) or held.place(lead) == road:
                continue
            if held.changed.get(other, -1e9) < held.changed.get(lead, -1e9):
                self.leave(other, lead, proof.t, proof.n)

    def _is_pushed_off(self, moved: Moved, lead: str) -> bool:
        """True for what goes from a throat on to a road while its engine stays in the throat."""
        last, plant = moved.steps[-1], self._held.plant
        return last.start in plant.throats and last.goal in plant.roads and self._held.place(lead) == last.start

    def _note_road(self, moved: Moved, proof: Proof) -> None:
        for step in moved.steps:
            if step.start in self._held.plant.roads:
                self.came_off[moved.vehicle] = (step.start, proof.t)

    def _taken_over(self, vehicle: str, section: str) -> str | None:
        """The engine behind which a vehicle runs out into a section, off the road that both have just left, while its own
        stays there: another has taken over its train."""
        lead, other = self.leads.get(vehicle), self._coupled_to(vehicle)
        if lead is None or other in (None, lead) or self._held.place(lead) == section:
            return None
        road, t = self.came_off.get(vehicle, ("", 0.0))
        before, earlier_t = self.came_off.get(other or "", ("", 0.0))
        same = road == before == self._held.place(lead) and t - earlier_t <= STRING_S
        return other if same else None

    def _take_along(self, moved: Moved, proof: Proof, prior: Prior) -> None:
        plant, start, goal = self._held.plant, moved.steps[0].start, moved.steps[-1].goal
        stretches = (goal, *(step.start for step in reversed(moved.steps)))
        engine = None if self._follows(moved.vehicle, start, proof.t) else self._engine_for(moved.vehicle, stretches, prior)
        if engine is not None and (len(moved.steps) > 1 or moved.is_afar or goal not in plant.roads):
            self.join(moved.vehicle, engine, start if start in plant.roads else goal, proof.t, proof.n)

    def _engine_for(self, vehicle: str, stretches: Sequence[str], prior: Prior) -> str | None:
        """The engine that moves a vehicle over some stretches, the last first: its own, one that is there, the one booked to
        lift it, else the last that moved at the station."""
        held, plant = self._held, self._held.plant
        lead = self.leads.get(vehicle)
        near = [v for stretch in stretches for v in held.line(stretch) if v in self.engines]
        if near and stretches[0] not in plant.sections and (lead is None or lead in near):
            return lead or near[0]
        station = next((s for s in map(plant.station_of, stretches) if s is not None), None)
        here = lead is not None and plant.station_of(held.place(lead)) == station
        if lead is not None and lead not in near and near and stretches[0] in plant.sections:
            runs = [
                v for v in held.line(stretches[0]) if v in self.engines
            ]  # on the line it is in the train in which it runs
            return runs[0] if runs else lead if self._is_beyond(lead, stretches[0], station) else near[0]
        other = self._taken_over(vehicle, stretches[0]) if stretches[0] in plant.sections else None
        if other is not None:
            return other
        if lead is not None and (lead in near or here or not near):
            return lead
        beside = self._coupled_to(vehicle) if not near or stretches[0] in plant.sections else None
        if beside is not None:
            return beside
        if near:
            return near[0]
        ends = [b.outer for s in stretches if s in plant.throats for b in plant.at_stretch[s] if b.outer in plant.sections]
        out = [v for section in ends for v in held.line(section) if v in self.engines]  # drawn out over the limit to shunt
        around = [e for e in (*out, *self._engines_at(station)) if prior.awake(e)]
        wanted = prior.wanted(vehicle)
        if wanted in around:
            return wanted
        return max(around, key=lambda e: (self.stirred.get(e, -1.0), e), default=lead)

    def _is_beyond(self, engine: str, section: str, station: str | None) -> bool:
        """True for an engine that has come out of a section at its other end."""
        plant = self._held.plant
        there = plant.station_of(self._held.place(engine))
        return there != station and there in plant.sections[section].stations

    def _follows(self, vehicle: str, road: str, t: float) -> bool:
        """True for what leaves a road so shortly after its own engine has gone out into a section that it runs in the same
        string, whatever other engine is held to be near."""
        lead, held = self.leads.get(vehicle), self._held
        before, off_t = self.came_off.get(lead or "", ("", -1e9))
        return lead is not None and before == road and t - off_t <= STRING_S and held.place(lead) in held.plant.sections

    def _coupled_to(self, vehicle: str) -> str | None:
        """The engine of what stands next to a vehicle in a throat or on the line, where it runs in a string."""
        held, place = self._held, self._held.place(vehicle)
        if place in held.plant.roads or place == OFF:
            return None
        row = held.line(place)
        if vehicle not in row:
            return None  # it is taken to be there, and in no order yet
        index = row.index(vehicle)
        for other in (*row[max(0, index - 1) : index], *row[index + 1 : index + 2]):
            lead = self.leader(other)
            if lead is not None:
                return lead
        return None

    def _engines_at(self, station: str | None) -> list[str]:
        stretches = self._held.plant.stretches_of(station)
        return [v for stretch in stretches for v in self._held.line(stretch) if v in self.engines]

    def _forsake(self, engine: str, proof: Proof, prior: Prior) -> None:
        """An engine is seen where some of its vehicles are not: those that it set down to stay have stayed."""
        held, plant = self._held, self._held.plant
        here, home = held.place(engine), prior.call_road(engine)
        for vehicle in self.company(engine)[1:]:
            place = held.place(vehicle)
            if place == here or place not in plant.roads:
                continue
            if here in plant.throats and self._beside(engine, place) and not self._drawn_off(engine, place, proof):
                continue
            if (self._is_through(place) or place == home) and prior.keeps(vehicle, engine, place):
                continue
            self.leave(vehicle, engine, proof.t, proof.n)

    def part(self, engine: str, section: str, t: float, n: int | None) -> None:
        """A train has departed into a section: what is still held to stand on a road has been left there."""
        for vehicle in self.company(engine)[1:]:
            if self._held.place(vehicle) != section and self._held.place(vehicle) in self._held.plant.roads:
                self.leave(vehicle, engine, t, n)

    def _told_apart(self, vehicle: str, proof: Proof) -> None:
        """A vehicle was said to stand where its engine is not: it goes with it no longer."""
        lead, place = self.leads.get(vehicle), self._held.place(vehicle)
        if lead is not None and self._held.place(lead) != place and (place == OFF or place in self._held.plant.roads):
            self.leave(vehicle, lead, proof.t, proof.n)

    def _is_through(self, stretch: str) -> bool:
        """True for a running road or a loop: where a train may set vehicles down for a while."""
        road = self._held.plant.roads.get(stretch)
        return road is not None and road.kind in (RoadKind.RUNNING, RoadKind.LOOP)

    def _beside(self, engine: str, place: str) -> bool:
        """True where an engine in a throat may still be coupled to what stands on a road there: it has just come off it."""
        held = self._held
        mouth = {b.id for b in held.plant.at_stretch[held.place(engine)] if b.outer == place}
        last = self.read_at.get(engine)
        return bool(mouth) and (last is None or last[0] not in mouth or not last[1])

    def _drawn_off(self, engine: str, place: str, proof: Proof) -> bool:
        """True where more of a train goes from the throat to another road at this moment: what stands here was uncoupled."""
        held, t = self._held, proof.t
        if proof.seen == engine or held.changed.get(engine) == t:
            return False  # it comes off this road at this moment
        roads = {b.outer for b in held.plant.at_stretch[held.place(engine)] if b.outer in held.plant.roads} - {place}
        return any(held.changed.get(v) == t and held.place(v) in roads for v in self.led.get(engine, ()))

    # --- changes

    def couple(self, vehicle: str, engine: str) -> None:
        """A vehicle goes with an engine, without a word: it always did."""
        self.led.get(self.leads.get(vehicle, engine), {}).pop(vehicle, None)
        self.leads[vehicle] = engine
        self.led.setdefault(engine, {})[vehicle] = None
        self._held.touched[vehicle] = None

    def join(self, vehicle: str, engine: str, road: str, t: float, n: int | None) -> None:
        """A vehicle goes with an engine from now on."""
        old = self.leads.get(vehicle)
        if engine in (old, vehicle):
            return
        if old is not None:
            self.leave(vehicle, old, t, n)
        self.couple(vehicle, engine)
        self.drawn_from[vehicle], self.joined_t[vehicle] = road, t
        self._held.changes.append(Joined(t, n, vehicle, engine, road))

    def leave(self, vehicle: str, engine: str, t: float, n: int | None) -> None:
        """A vehicle no longer goes with its engine."""
        self.leads.pop(vehicle, None)
        self.drawn_from.pop(vehicle, None)
        self.joined_t.pop(vehicle, None)
        self.led.get(engine, {}).pop(vehicle, None)
        self._held.touched[vehicle] = None
        self._held.changes.append(Left(t, n, vehicle, engine, self._held.place(vehicle)))
