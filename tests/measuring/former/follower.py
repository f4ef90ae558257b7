"""The first engine of inference: one ordered picture of the layout, moved on by each observation.

Rule: the picture is always physically possible. What a reader missed is inferred from who stands before whom; what no reader
sees, from track detectors. Where more than one reading of the evidence is possible the likeliest is taken, and a later read
puts it right. How: `reading`, `treadles`, `tracks`, `leaving`; this module is the door.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bridge.core.conditioning import Observation
from bridge.core.plan import Vehicle
from bridge.core.plant import DetectorKind, Plant
from bridge.core.whereabouts import OFF, Belief, Change, Learned, Prior

from . import leaving, reading, tracks, treadles
from .picture import Picture
from .sureness import ASSUMED, Mark, ground, sureness


class Follower:
    """One ordered picture, moved on by evidence (see `bridge.core.whereabouts.Inference`)."""

    def __init__(self, plant: Plant, stock: Mapping[str, Vehicle]) -> None:
        self._picture = Picture(plant, stock)

    # --- what others read

    def place(self, vehicle: str) -> str:
        """The stretch of a vehicle, or `off`."""
        return self._picture.place(vehicle)

    def since(self, vehicle: str) -> float:
        """Host seconds when a vehicle came to its stretch."""
        return self._picture.changed.get(vehicle, -1e9)

    def line(self, stretch: str) -> Sequence[str]:
        """The vehicles believed on a stretch, from its end 0."""
        return self._picture.line(stretch)

    def leader(self, vehicle: str) -> str | None:
        """The engine that a vehicle goes with."""
        return self._picture.leader(vehicle)

    def read_since(self, boundary: str, t: float) -> bool:
        """True where a reader at a boundary has read a vehicle since host second `t`."""
        last = self._picture.read_at.get(boundary)
        return last is not None and last.t >= t

    def company(self, engine: str) -> Sequence[str]:
        """The vehicles that go with an engine, itself first, then as they stand from it."""
        return self._picture.company(engine)

    def belief(self, vehicle: str) -> Belief:
        """What is believed of one vehicle."""
        picture, mark = self._picture, self.mark(vehicle)
        place, fouls = picture.place(vehicle), picture.overhang(vehicle)
        sure = sureness(mark, ground(picture.plant, place))
        return Belief(place, picture.lines.index(vehicle), fouls, sure, mark.by, mark.evidence)

    def mark(self, vehicle: str) -> Mark:
        """How the belief in a vehicle's place came about."""
        return self._picture.marks.get(vehicle, ASSUMED)

    def vehicle_of(self, tag: str) -> str | None:
        """The vehicle that carries a tag."""
        return self._picture.tags.get(tag)

    def knows_tag(self, tag: str) -> bool:
        """True where a vehicle carries this tag."""
        return tag in self._picture.tags

    def drain_touched(self) -> list[str]:
        """The vehicles whose belief may have changed since last asked."""
        found = list(self._picture.touched)
        self._picture.touched.clear()
        return found

    def due(self) -> float | None:
        """When something is to be looked at again."""
        return self._picture.deadlines.first()

    def put_off(self, by_s: float) -> None:
        """What is to be looked at again is looked at so many seconds later."""
        self._picture.deadlines.put_off(by_s)

    # --- what happens

    def begin(self, standing: Sequence[tuple[str, str]], t: float) -> None:
        """Set everything down as the file says."""
        for vehicle, place in standing:
            self._picture.lines.put(vehicle, place)
        for vehicle in self._picture.stock:
            self._picture.lines.at.setdefault(vehicle, OFF)
            self._picture.mark(vehicle, "assumed", "file", None)

    def couple(self, engine: str, rake: Sequence[str]) -> None:
        """The vehicles of a rake that stand where the engine stands go with it from now on."""
        for vehicle in rake:
            if vehicle != engine and vehicle not in self._picture.leads and self.place(vehicle) == self.place(engine):
                self._picture.couple(vehicle, engine)

    def learn_tag(self, tag: str, vehicle: str) -> None:
        """A tag belongs to a vehicle from now on."""
        self._picture.tags[tag] = vehicle

    def take(self, seen: Observation, prior: Prior) -> list[Change]:
        """Take one observation; what changed."""
        picture = self._picture
        detector = picture.plant.detectors[seen.detector]
        boundary = picture.plant.boundaries.get(detector.at or "")
        if detector.kind is DetectorKind.READER and seen.tag is not None and seen.moves and boundary is not None:
            reading.read(picture, seen, boundary, prior)
        elif detector.kind is DetectorKind.TREADLE and seen.moves and boundary is not None:
            treadles.passed(picture, seen, boundary, detector, prior)
        elif detector.kind is DetectorKind.TRACK and detector.covers is not None:
            if seen.state == "occupied":
                tracks.occupied(picture, detector.covers, seen, prior)
            elif seen.state == "clear" and prior.stretch_state(detector.covers) == "clear":
                tracks.cleared(picture, detector.covers, seen.t, seen.n, prior)
        return picture.drain()

    def pass_deadline(self, t: float, prior: Prior) -> list[Change]:
        """Look again at what was set aside for this moment."""
        while (found := self._picture.deadlines.pop(t)) is not None:
            _, (kind, subject, _, _) = found
            tracks.look_again(self._picture, kind, subject, t, prior)
        return self._picture.drain()

    def follow(self, engine: str, section: str, t: float, n: int | None, prior: Prior) -> list[Change]:
        """The engine's train has departed into a section."""
        leaving.follow(self._picture, engine, section, t, n, prior)
        return self._picture.drain()

    def gather(self, engine: str, section: str, t: float, n: int | None, prior: Prior) -> list[Change]:
        """The section is clear behind the engine's train."""
        leaving.gather(self._picture, engine, section, t, n)
        return self._picture.drain()

    def know(self, learned: Learned) -> None:
        """It learns nothing of readers."""

    def rest(self, engine: str, t: float, prior: Prior) -> list[Change]:
        """The session ends: nothing is concluded from that."""
        return []

    # --- what operators tell

    def given_back(
        self, engine: str, section: str, station: str | None, t: float, n: int | None, prior: Prior
    ) -> list[Change]:
        """Authority tells it nothing."""
        return []

    def told_arrived(self, engine: str, road: str, t: float, n: int, prior: Prior) -> list[Change]:
        """The train stands on a road, all that ran with it in the order in which it ran."""
        picture, start = self._picture, self.place(engine)
        if start == road:
            return []
        way = picture.lines.path(start, road)
        if not way:
            picture.move(engine, road, None, t, n, "told", "told")
            return picture.drain()
        from_road = start in picture.plant.roads
        toward = way[0].end if way[0].outer == start else way[0].throat_end
        row = list(self.line(start)) if toward == 0 else list(self.line(start))[::-1]
        ahead = [engine] if from_road else [v for v in picture.company(engine) if self.place(v) not in picture.plant.roads]
        index = 0 if way[-1].end == 0 and way[-1].outer == road else None
        for vehicle in sorted(ahead, key=lambda v: (self.place(v) == start, row.index(v) if v in row else -1, v != engine)):
            by = "told" if vehicle == engine else "carried"
            picture.move(vehicle, road, index, t, n, by, "told")
        return picture.drain()

    def told_stands(self, vehicle: str, place: str, order: int | None, t: float, n: int, prior: Prior) -> list[Change]:
        """An operator has looked: that stands."""
        picture = self._picture
        index = None if order is None else order - 1
        if order is None and place != OFF:
            way = picture.lines.path(self.place(vehicle), place) if self.place(vehicle) != OFF else []
            if way:
                end = way[-1].end if way[-1].outer == place else way[-1].throat_end
                index = 0 if end == 0 else None
            elif place in picture.plant.roads:
                index = 0 if picture.plant.roads[place].open[0] == "up" else None
        picture.move(vehicle, place, index, t, n, "told", "told")
        lead = picture.leads.get(vehicle)
        if lead is not None and self.place(lead) != place and place in (*picture.plant.roads, OFF):
            picture.leave(vehicle, lead, t, n)
        return picture.drain()

    def told_with(self, vehicle: str, engine: str | None, t: float, n: int) -> list[Change]:
        """An operator said whom a vehicle goes with."""
        old = self._picture.leads.get(vehicle)
        if engine is None and old is not None:
            self._picture.leave(vehicle, old, t, n)
        elif engine is not None and old != engine:
            self._picture.join(vehicle, engine, self.place(vehicle), t, n)
        self._picture.mark(vehicle, "told", "told", n)
        return self._picture.drain()
